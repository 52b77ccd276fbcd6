"""Readings: judged against their limits in words, and what the run of them tends to."""

from __future__ import annotations

import datetime as dt
import math
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.formats import number_format
from django.utils.translation import gettext, ngettext

from clubops.members.models import Member
from clubops.templatetags.measures import MINUS, TIE, whole_date
from relays.models import Reading, ReadingKind
from relays.upkeep import trend
from relays.upkeep.trend import Crossing, Trend

YEAR_DAYS = 365.25
# The longest run outside the limits that is looked back on.
LOOK_BACK = 100


class ReadingRefused(ValueError):
    """A value nobody can have read; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """A value against the limits: `side` is within, low, high, or open where there is no limit."""

    side: str
    sentence: str

    @property
    def is_outside(self) -> bool:
        return self.side in ("low", "high")

    @property
    def word(self) -> str:
        """too low, too high, within; nothing where there is no limit."""
        return {"low": "too low", "high": "too high", "within": "within"}.get(self.side, "")


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a run of readings tends to, with the sentence for people."""

    trend: Trend
    crossing: Crossing | None
    sentence: str


def figure(value: float, unit: str = "") -> str:
    """A value with its unit: 12.6 V, −3 dB, 1.4."""
    text = f"{value:.6g}" if abs(value) < 1e6 else f"{value:.0f}"
    if "e" not in text:
        text = number_format(text)
    return text.replace("-", MINUS) + (TIE + unit if unit else "")


def require_plain(value: float) -> None:
    """Raise `ReadingRefused` for a value that is no finite number."""
    if not math.isfinite(value) or abs(value) > 1e9:
        raise ReadingRefused(f"“{value:g}” is not a value of a meter; write a plain number, such as 12.6.")


def judge(kind: ReadingKind, value: float) -> Judgement:
    """The value against the limits of its kind. A value on a limit is within it."""
    said = figure(value, kind.unit)
    if kind.low is not None and value < kind.low:
        words = {"value": said, "limit": figure(kind.low, kind.unit)}
        return Judgement("low", gettext("%(value)s is below the low limit of %(limit)s") % words)
    if kind.high is not None and value > kind.high:
        words = {"value": said, "limit": figure(kind.high, kind.unit)}
        return Judgement("high", gettext("%(value)s is above the high limit of %(limit)s") % words)
    if kind.low is None and kind.high is None:
        return Judgement("open", f"{said}; no limit is set")
    return Judgement("within", f"{said} is within its limits")


def limits_in_words(kind: ReadingKind) -> str:
    """The limits as a person says them: 12.2 to 14.8 V."""
    if kind.low is not None and kind.high is not None:
        return _span(figure(kind.low), figure(kind.high, kind.unit))
    if kind.low is not None:
        return gettext("%(value)s or more") % {"value": figure(kind.low, kind.unit)}
    if kind.high is not None:
        return gettext("%(value)s or less") % {"value": figure(kind.high, kind.unit)}
    return gettext("no limit is set")


def _span(low: str, high: str) -> str:
    return gettext("%(low)s to %(high)s") % {"low": low, "high": high}


@transaction.atomic
def log(
    kind: ReadingKind, value: float, *, at: dt.datetime, by: Member | None, token: uuid.UUID
) -> tuple[Reading, bool]:
    """Write down one value; the row, and whether it is new. The same token again changes nothing.

    Raises `ReadingRefused`.
    """
    require_plain(value)
    row, made = Reading.objects.get_or_create(
        token=token, defaults={"kind": kind, "value": value, "at": at, "by": by}
    )
    if row.kind_id != kind.pk:
        raise ReadingRefused("This form belongs to another meter; open the page again.")
    return row, made


def run_outside(rows: Sequence[Reading]) -> list[Reading]:
    """The newest readings that are all outside on one side, newest first; none when the newest is within."""
    run: list[Reading] = []
    side = ""
    for row in rows:
        judged = judge(row.kind, row.value)
        side = side or judged.side
        if not judged.is_outside or judged.side != side:
            break
        run.append(row)
    return run


def newest(kind: ReadingKind, count: int = LOOK_BACK) -> list[Reading]:
    """The latest readings of a kind, newest first."""
    return list(kind.readings.select_related("kind__task", "by")[:count])


def outlook(kind: ReadingKind, rows: Iterable[Reading]) -> Outlook:
    """What the readings tend to, and when they would meet a limit."""
    found = trend.trend([trend.Point(row.at, row.value) for row in rows])
    meets = trend.crossing(found, kind.low, kind.high)
    return Outlook(found, meets, _sentence(kind, found, meets))


def _sentence(kind: ReadingKind, found: Trend, meets: Crossing | None) -> str:
    if found.standing == "too few":
        words = ngettext(
            "%(count)s reading so far; a trend needs at least %(least)s.",
            "%(count)s readings so far; a trend needs at least %(least)s.",
            found.count,
        )
        return words % {"count": found.count, "least": trend.FEWEST_READINGS}
    if found.standing == "too short":
        return gettext("The readings span %(days)s days; a trend needs at least %(least)s.") % {
            "days": f"{found.span_days:.0f}",
            "least": f"{trend.SHORTEST_SPAN_DAYS:.0f}",
        }
    if found.standing == "level":
        return gettext("No trend can be told from the scatter of the readings.")
    rate = _rate_in_words(kind, found)
    if meets is None:
        more = gettext("It meets no limit within the time these readings can speak for.")
    else:
        more = gettext(
            "At that rate it reaches the limit of %(limit)s about %(day)s%(between)s, if nothing is changed."
        ) % {
            "limit": figure(meets.limit, kind.unit),
            "day": whole_date(meets.on),
            "between": _between(meets),
        }
    return f"{rate} {more}"


def _rate_in_words(kind: ReadingKind, found: Trend) -> str:
    slow, fast = sorted((abs(found.slope_low), abs(found.slope_high)))
    sure = ""
    if _rate(slow) != _rate(fast):
        doubt = _span(_rate(slow), _rate(fast, kind.unit))
        sure = gettext(" (90\N{NO-BREAK SPACE}%% sure of %(doubt)s)") % {"doubt": doubt}
    if found.standing == "rising":
        words = gettext("Rising by about %(rate)s a year%(sure)s.")
    else:
        words = gettext("Falling by about %(rate)s a year%(sure)s.")
    return words % {"rate": _rate(found.slope, kind.unit), "sure": sure}


def _between(meets: Crossing) -> str:
    if meets.earliest == meets.latest:
        return ""
    until = whole_date(meets.latest) if meets.latest else gettext("a time these readings cannot tell")
    return gettext(", between %(first)s and %(last)s") % {"first": whole_date(meets.earliest), "last": until}


def _rate(slope_a_day: float, unit: str = "") -> str:
    return figure(float(f"{abs(slope_a_day) * YEAR_DAYS:.2g}"), unit)
