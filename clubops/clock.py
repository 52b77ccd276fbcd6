"""Local wall time and IANA zone to UTC and back: the gap and fold policy, once.

Schedules are kept as wall time and zone, instants are kept in UTC, and this is the only place that
turns one into the other. Two walls a year are awkward in a zone that changes its clocks:

* **gap**: the wall time is skipped when clocks go forward. It is read with the offset in force
  before the gap (RFC 5545, 2009, section 3.3.5, form 3), so the session still meets, later by the new
  clock by the length of the gap.
* **fold**: the wall time comes twice when clocks go back. It is the first of the two (same section).

Neither is silent: the `Instant` says which happened and `shift_note` says it in a sentence.

Zone rules come from the tz database that Python's `zoneinfo` finds: the operating system's where there
is one, else the `tzdata` package. Spans of time are half-open, [start, end), everywhere.
"""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Literal
from zoneinfo import ZoneInfo, available_timezones

Shift = Literal["none", "gap", "fold"]

# Wide enough for any club, narrow enough that no sum with an offset can leave what datetime holds.
FIRST_YEAR = 1900
LAST_YEAR = 2199

# Areas of the tz database that name places; the rest of its names are links kept for old programs.
_PLACE_AREAS = (
    "Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian",
    "Pacific",
)  # fmt: skip
# Present on some machines only, or meaning "whatever this machine is set to".
_NOT_ZONES = frozenset({"Factory", "localtime", "posixrules"})


class ClockError(ValueError):
    """Something about a time or a zone that this module refuses; the message is a sentence for people."""


class ZoneUnknown(ClockError):
    """The tz database has no zone of this name.

    Attributes: `name` as given, `near` a tuple of names that look like it.
    """

    def __init__(self, name: str, near: Iterable[str] = ()) -> None:
        self.name = name
        self.near = tuple(near)
        hint = (
            f"Did you mean {' or '.join(self.near)}?"
            if self.near
            else "A zone is named by area and city, such as Europe/London or America/New_York."
        )
        super().__init__(f"There is no time zone called “{name}”. {hint}")


class UnusableTime(ClockError):
    """A time of the wrong kind (naive or aware) or outside the years 1900 to 2199.

    Attribute: `value` as given.
    """

    def __init__(self, value: datetime, why: str) -> None:
        self.value = value
        super().__init__(f"{value.isoformat(sep=' ')} cannot be used: {why}")


class BackwardSpan(ClockError):
    """A span that ends before it starts. Attributes: `start`, `end`."""

    def __init__(self, start: datetime, end: datetime) -> None:
        self.start = start
        self.end = end
        super().__init__(
            f"The span ends ({end.isoformat(sep=' ')}) before it starts ({start.isoformat(sep=' ')}); "
            "the end must be the later of the two."
        )


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment in UTC, and whether its wall time was skipped ("gap"), repeated ("fold") or neither."""

    at: datetime
    shift: Shift


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """The half-open span [start, end) between two aware UTC times.

    Raises `UnusableTime` for a naive end and `BackwardSpan` where end is before start. A span of no length is
    allowed (a day that a zone skipped is one); it contains nothing and overlaps nothing.
    """

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        for edge in (self.start, self.end):
            require_aware(edge)
        if self.end < self.start:
            raise BackwardSpan(self.start, self.end)

    @property
    def length(self) -> timedelta:
        return self.end - self.start

    def contains(self, at: datetime) -> bool:
        """True from `start` on and before `end`."""
        return self.start <= at < self.end

    def overlaps(self, other: "Span") -> bool:
        """True where some moment lies in both; spans that only touch do not overlap."""
        return max(self.start, other.start) < min(self.end, other.end)


@cache
def _known_zones() -> frozenset[str]:
    return frozenset(available_timezones()) - _NOT_ZONES


def zone_named(name: str) -> ZoneInfo:
    """The zone of that IANA name, spelled as the tz database spells it. Raises `ZoneUnknown`."""
    if name in _known_zones():
        return ZoneInfo(name)
    spelled = {known.casefold(): known for known in _known_zones()}
    close = difflib.get_close_matches(name.strip().replace(" ", "_").casefold(), spelled, n=2, cutoff=0.75)
    raise ZoneUnknown(name, [spelled[match] for match in close])


@cache
def zone_names() -> tuple[str, ...]:
    """Names to offer in a form: UTC first, then every Area/City in alphabetical order.

    `zone_named` also takes the database's older names (such as Etc/GMT+5); they are not offered.
    """
    places = sorted(name for name in _known_zones() if name.split("/")[0] in _PLACE_AREAS and "/" in name)
    return ("UTC", *places)


def require_aware(at: datetime) -> None:
    """Raise `UnusableTime` unless `at` knows its offset from UTC and its year is 1900 to 2199."""
    if at.utcoffset() is None:
        raise UnusableTime(at, "it does not say its offset from UTC.")
    _require_year(at)


def _require_year(value: datetime) -> None:
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise UnusableTime(value, f"the year must lie between {FIRST_YEAR} and {LAST_YEAR}.")


def to_utc(wall: datetime, zone: str) -> Instant:
    """The instant at which the clocks of `zone` show the naive `wall` time, by the policy above.

    `wall.fold` is ignored: a repeated wall time always means its first occurrence.
    Raises `ZoneUnknown`, and `UnusableTime` for an aware `wall` or a year outside 1900 to 2199.
    """
    if wall.tzinfo is not None:
        raise UnusableTime(wall, "a wall time carries no offset; its zone is given beside it.")
    _require_year(wall)
    # PEP 495: in a gap and in a fold alike, fold=0 takes the offset in force before the change.
    before = wall.replace(tzinfo=zone_named(zone), fold=0)
    after = before.replace(fold=1)
    change = _offset(after) - _offset(before)
    shift: Shift = "gap" if change > timedelta(0) else "fold" if change else "none"
    return Instant(before.astimezone(UTC), shift)


def _offset(at: datetime) -> timedelta:
    return at.utcoffset() or timedelta(0)


def to_wall(at: datetime, zone: str) -> datetime:
    """What the clocks of `zone` show at the aware time `at`, as a naive datetime.

    In a repeated hour both passes give the same wall time: there, and only there, `to_utc` does not undo it.
    Raises `ZoneUnknown`, and `UnusableTime` for a naive `at` or a year outside 1900 to 2199.
    """
    require_aware(at)
    return at.astimezone(zone_named(zone)).replace(tzinfo=None, fold=0)


def shift_note(wall: datetime, zone: str) -> str:
    """A sentence for the page when `wall` is skipped or repeated in `zone`, else the empty string."""
    instant = to_utc(wall, zone)
    asked = f"{wall:%H:%M} on {wall.day} {wall:%B %Y}"
    if instant.shift == "gap":
        shown = to_wall(instant.at, zone)
        day = "" if shown.date() == wall.date() else f" on {shown.day} {shown:%B %Y}"
        return f"Clocks in {zone} go forward past {asked}; it starts at {shown:%H:%M}{day} by the new clock."
    if instant.shift == "fold":
        first = f"{instant.at:%H:%M} UTC"
        return f"Clocks in {zone} go back and show {asked} twice; it starts the first time, at {first}."
    return ""


def local_day(day: date, zone: str) -> Span:
    """The span of UTC in which the calendars of `zone` show `day`: 23, 24 or 25 hours as a rule.

    A day that the zone skipped (Samoa, 30 December 2011) gives a span of no length.
    """
    tomorrow = day + timedelta(days=1)
    return Span(
        to_utc(datetime.combine(day, time()), zone).at, to_utc(datetime.combine(tomorrow, time()), zone).at
    )
