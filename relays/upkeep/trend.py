"""A straight line through readings, and what it can honestly say about a limit.

The slope is the median of the slopes of all pairs and the line passes through the median of what is left (Theil 1950;
Sen 1968, "Estimates of the regression coefficient based on Kendall's tau", J. Am. Stat. Assoc. 63). One wild reading
in five moves it little. The interval of the slope is Sen's: ranks of the sorted slopes, from the normal quantile times
the standard deviation of Kendall's S, with ties in time counted out. Sen's own example is among the tests; the rest of
these papers is cited from memory.

What it does not know: seasons, and that something was repaired. So it says nothing from few readings or a short
time, nothing where the slope could as well be none, and nothing further ahead than the readings look back.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import median
from typing import Literal

# Common practice, no source.
FEWEST_READINGS = 6
SHORTEST_SPAN_DAYS = 28.0
# Readings beyond this are left out, oldest first: all pairs of a thousand are half a million slopes.
MOST_READINGS = 200
# Two-sided 90 %: one chance in twenty on each side. The quantile 0.95 of the standard normal distribution.
QUANTILE = 1.6448536269514722
DAY_S = 86_400.0

Standing = Literal["too few", "too short", "level", "rising", "falling"]


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: an aware time and a finite value."""

    at: dt.datetime
    value: float


@dataclass(frozen=True, slots=True)
class Trend:
    """The line and its doubt. Slopes are in the reading's unit a day; `level` is its value at `last_at`.

    `standing` is "level" when the interval of the slope holds nought: no trend can be told from the scatter.
    """

    standing: Standing
    count: int
    span_days: float
    last_at: dt.datetime | None = None
    level: float = 0.0
    slope: float = 0.0
    slope_low: float = 0.0
    slope_high: float = 0.0


@dataclass(frozen=True, slots=True)
class Crossing:
    """When the line meets a limit: about `on`, not before `earliest`, not after `latest`; None for "cannot be said"."""

    limit: float
    on: dt.date
    earliest: dt.date
    latest: dt.date | None


def trend(points: Sequence[Point]) -> Trend:
    """The trend of readings in any order."""
    kept = sorted(points, key=lambda point: point.at)[-MOST_READINGS:]
    days = [(point.at - kept[0].at).total_seconds() / DAY_S for point in kept]
    values = [point.value for point in kept]
    span_days = days[-1] if days else 0.0
    if len(kept) < FEWEST_READINGS:
        return Trend("too few", len(kept), span_days)
    if span_days < SHORTEST_SPAN_DAYS:
        return Trend("too short", len(kept), span_days)
    slopes = pair_slopes(days, values)
    slope = median(slopes)
    low, high = slope_interval(slopes, days)
    offset = median(value - slope * day for day, value in zip(days, values, strict=True))
    standing: Standing = "rising" if low > 0 else "falling" if high < 0 else "level"
    return Trend(standing, len(kept), span_days, kept[-1].at, offset + slope * span_days, slope, low, high)


def pair_slopes(days: Sequence[float], values: Sequence[float]) -> list[float]:
    """The slopes of all pairs of readings at different times, smallest first."""
    pairs = combinations(zip(days, values, strict=True), 2)
    return sorted((b - a) / (late - early) for (early, a), (late, b) in pairs if late != early)


def slope_interval(
    slopes: Sequence[float], days: Sequence[float], quantile: float = QUANTILE
) -> tuple[float, float]:
    """Sen's interval for sorted slopes of readings taken at `days`; at 90 % unless another quantile is given."""
    n = len(days)
    ties = [days.count(day) for day in sorted(set(days))]
    variance = (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
    half_width = quantile * math.sqrt(variance)
    # Ranks count from one, and are rounded outwards: a wider interval rather than a bolder one.
    first = max(0, math.floor((len(slopes) - half_width) / 2) - 1)
    return slopes[first], slopes[len(slopes) - 1 - first]


def crossing(found: Trend, low: float | None, high: float | None) -> Crossing | None:
    """When the line meets the limit it runs towards; None when it does not within the time it may speak for."""
    limit = {"rising": high, "falling": low}.get(found.standing)
    if limit is None or found.last_at is None:
        return None
    gap = limit - found.level
    if gap * found.slope <= 0 or gap / found.slope > found.span_days:
        return None
    steep, flat = sorted((found.slope_low, found.slope_high), key=abs, reverse=True)
    latest = gap / flat
    return Crossing(
        limit=limit,
        on=_day(found.last_at, gap / found.slope),
        earliest=_day(found.last_at, gap / steep),
        latest=_day(found.last_at, latest) if latest <= 2 * found.span_days else None,
    )


def _day(start: dt.datetime, days: float) -> dt.date:
    return (start + dt.timedelta(days=days)).date()
