"""A run of readings as the numbers of a drawing; the template puts them into SVG.

Drawn here rather than by a plotting library so that it takes the page's ink in both themes and on paper.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from clubops import clock
from clubops.axes import Tick, round_steps
from relays.models import Reading, ReadingKind
from relays.upkeep import readings
from relays.upkeep.readings import Outlook

WIDTH, HEIGHT = 760.0, 280.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 16.0, 20.0, 34.0
ABOUT_VALUES, ABOUT_DATES = 5, 5
DAY_S = 86_400.0


@dataclass(frozen=True)
class Dot:
    """One reading; one that is outside its limits is drawn as a cross."""

    x: float
    y: float
    is_outside: bool


@dataclass(frozen=True)
class ReadingsPlot:
    """Dots over time, the limits as lines across, the trend where there is one (x1, y1, x2, y2)."""

    dots: tuple[Dot, ...]
    limits: tuple[Tick, ...]
    line: tuple[float, float, float, float] | None
    values: tuple[Tick, ...]
    dates: tuple[Tick, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    base: float = HEIGHT - BOTTOM


def readings_plot(
    kind: ReadingKind, rows: Sequence[Reading], outlook: Outlook, *, zone: str
) -> ReadingsPlot | None:
    """Lay out readings, in any order; dates are those of `zone`. None for fewer than two times."""
    ordered = sorted(rows, key=lambda row: row.at)
    if len(ordered) < 2 or ordered[0].at == ordered[-1].at:
        return None
    start, span_s = ordered[0].at, (ordered[-1].at - ordered[0].at).total_seconds()
    limits = [limit for limit in (kind.low, kind.high) if limit is not None]
    low, high = _padded([row.value for row in ordered] + limits)

    def x(at: dt.datetime) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (at - start).total_seconds() / span_s

    def y(value: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (high - value) / (high - low)

    return ReadingsPlot(
        dots=tuple(
            Dot(x(row.at), y(row.value), readings.judge(kind, row.value).is_outside) for row in ordered
        ),
        limits=tuple(Tick(y(limit), f"limit {readings.figure(limit, kind.unit)}") for limit in limits),
        line=_line(outlook, x, y),
        values=tuple(Tick(y(at), readings.figure(at)) for at in round_steps(low, high, ABOUT_VALUES)),
        dates=_dates(start, span_s, x, zone),
    )


def _padded(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    pad = 0.08 * (high - low) or max(abs(high), 1.0) * 0.05
    return low - pad, high + pad


def _line(
    outlook: Outlook, x: Callable[[dt.datetime], float], y: Callable[[float], float]
) -> tuple[float, float, float, float] | None:
    found = outlook.trend
    if found.standing not in ("rising", "falling") or found.last_at is None:
        return None
    first_at = found.last_at - dt.timedelta(days=found.span_days)
    return x(first_at), y(found.level - found.slope * found.span_days), x(found.last_at), y(found.level)


def _dates(
    start: dt.datetime, span_s: float, x: Callable[[dt.datetime], float], zone: str
) -> tuple[Tick, ...]:
    count = ABOUT_DATES if span_s > ABOUT_DATES * DAY_S else 2
    times = [start + dt.timedelta(seconds=span_s * index / (count - 1)) for index in range(count)]
    pattern = "%b %Y" if span_s > 150 * DAY_S else "%b"
    ticks = []
    for at in times:
        wall = clock.to_wall(at, zone)
        month = f"{wall:{pattern}}"
        ticks.append(Tick(x(at), month if span_s > 150 * DAY_S else f"{wall.day} {month}"))
    return tuple(ticks)
