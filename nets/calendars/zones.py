"""VTIMEZONE for an IANA zone, in the one shape that every client reads alike.

RFC 5545 section 3.6.5. A regular zone gets one DAYLIGHT and one STANDARD sub-component with a yearly
RRULE; changes that keep to no yearly rule get one sub-component each. RDATE is never written: a widely used
JavaScript parser reads only the first value of each RDATE line. Onsets are in the wall time before the
change.

A sub-component is called DAYLIGHT when its clock is the one ahead, also in the two zones (Europe/Dublin,
Africa/Casablanca) whose law calls the winter clock the exception: readers take DAYLIGHT to be ahead.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard, vRecur

from clubops.clock import zone_named

# RFC 5545 lets a zone begin anywhere; most writers begin here and nothing a club publishes is older.
BASELINE = datetime(1970, 1, 1, tzinfo=UTC)
_WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_LAST = -1
# Shorter runs of equal changes are written one by one.
_SHORTEST_RUN_YEARS = 3
# A date such as "first Sunday on or after the 2nd" is the first Sunday for up to 12 years in a row, so only a
# longer run may be promised for ever.
_YEARS_LOOKED_AHEAD = 15
_SHORTEST_OPEN_RUN_YEARS = 13


@dataclass(frozen=True, slots=True)
class Change:
    """The clocks of a zone move at the instant `at` (UTC)."""

    at: datetime
    offset_from: timedelta
    offset_to: timedelta
    name: str
    daylight: bool

    @property
    def onset(self) -> datetime:
        """The naive wall time before the change, as DTSTART of a sub-component wants it."""
        return (self.at + self.offset_from).replace(tzinfo=None)


@dataclass(frozen=True, slots=True)
class Observance:
    """One sub-component: its first change and, for a yearly rule, which week of the month and until when.

    `week` is 1 to 4, -1 for the last, None for a single change; `until` is UTC, None for a rule without end.
    """

    first: Change
    week: int | None = None
    until: datetime | None = None


@lru_cache(maxsize=64)
def changes(zone: str, last_year: int) -> tuple[Change, ...]:
    """Every change of offset or abbreviation from 1970 to the end of `last_year`, found from the tz database.

    Raises `clubops.clock.ZoneUnknown`.
    """
    tz = zone_named(zone)
    day = timedelta(days=1)
    found = []
    left = BASELINE
    state = _state(left, tz)
    while left.year <= last_year:
        right = left + day
        after = _state(right, tz)
        if after != state:
            at = _first_second_of(after, left, right, tz)
            found.append(_change(at, tz))
        left, state = right, after
    return tuple(found)


def _state(at: datetime, tz: ZoneInfo) -> tuple[timedelta, str]:
    local = at.astimezone(tz)
    return local.utcoffset() or timedelta(0), local.tzname() or ""


def _first_second_of(after: tuple[timedelta, str], left: datetime, right: datetime, tz: ZoneInfo) -> datetime:
    second = timedelta(seconds=1)
    while right - left > second:
        middle = left + (right - left) // 2
        middle = middle.replace(microsecond=0)
        if _state(middle, tz) == after:
            right = middle
        else:
            left = middle
    return right


def _change(at: datetime, tz: ZoneInfo) -> Change:
    before = (at - timedelta(seconds=1)).astimezone(tz)
    local = at.astimezone(tz)
    saving = local.dst() or timedelta(0)
    saved_before = before.dst() or timedelta(0)
    offset_from = before.utcoffset() or timedelta(0)
    offset_to, name = _state(at, tz)
    ahead = saving > timedelta(0) or (not saving and saved_before < timedelta(0))
    # Samoa went from summer time to summer time across the date line; a reader that takes the difference
    # for the daylight saving fails on 24 hours of it.
    skipped_a_day = abs(offset_to - offset_from) >= timedelta(hours=24)
    return Change(at, offset_from, offset_to, name, ahead and not skipped_a_day)


def observances(zone: str, start: datetime, end: datetime) -> tuple[Observance, ...]:
    """The sub-components that describe `zone` from `start` to the end of the year after `end` (aware times).

    Raises `ValueError` when `start` lies before 1971, `clubops.clock.ZoneUnknown` for a name that is in no
    database.
    """
    if start < BASELINE.replace(year=1971):
        raise ValueError(f"An entry starts on {start:%Y-%m-%d}; entries before 1971 cannot be published.")
    last_year = max(start, end).year + 1
    # In whole decades, so that calendars of different ends share one search of the database.
    known_to = (last_year + _YEARS_LOOKED_AHEAD) // 10 * 10 + 9
    known = changes(zone, known_to)
    in_force = [change for change in known if change.at <= start]
    found = [] if in_force else [Observance(_as_of_baseline(zone))]
    earliest = in_force[-1].at if in_force else start
    for run in _yearly_runs(known):
        found.extend(_observances_of_run(run, earliest, last_year, known_to))
    return tuple(sorted(found, key=lambda observance: observance.first.at))


def _as_of_baseline(zone: str) -> Change:
    offset, name = _state(BASELINE, zone_named(zone))
    return Change(BASELINE - offset, offset, offset, name, daylight=False)


def _observances_of_run(
    run: Sequence[Change], earliest: datetime, last_year: int, known_to: int
) -> Iterator[Observance]:
    wanted = [change for change in run if change.at >= earliest and change.onset.year <= last_year]
    if not wanted:
        return
    if run[-1].onset.year == known_to and len(run) >= _SHORTEST_OPEN_RUN_YEARS:
        yield Observance(run[0], _week_of(run))
    elif len(wanted) >= _SHORTEST_RUN_YEARS:
        # A day later than the last onset: the rule is yearly, and some readers drop the Z of UNTIL.
        yield Observance(wanted[0], _week_of(wanted), wanted[-1].at + timedelta(days=1))
    else:
        yield from (Observance(change) for change in wanted)


def _yearly_runs(known: Sequence[Change]) -> Iterator[list[Change]]:
    """Split the changes into runs that a single "nth weekday of the month, every year" describes."""
    alike: dict[tuple[object, ...], list[Change]] = defaultdict(list)
    for change in known:
        onset = change.onset
        key = (change.offset_from, change.offset_to, change.name, change.daylight)
        alike[(*key, onset.month, onset.weekday(), onset.time())].append(change)
    for group in alike.values():
        run = [group[0]]
        for change in group[1:]:
            next_year = change.onset.year == run[-1].onset.year + 1
            if next_year and _weeks([*run, change]):
                run.append(change)
            else:
                yield run
                run = [change]
        yield run


def _weeks(run: Sequence[Change]) -> set[int]:
    shared = {1, 2, 3, 4, _LAST}
    for change in run:
        onset = change.onset
        weeks = {(onset.day - 1) // 7 + 1}
        if (onset + timedelta(days=7)).month != onset.month:
            weeks.add(_LAST)
        shared &= weeks
    return shared


def _week_of(run: Sequence[Change]) -> int:
    weeks = _weeks(run)
    return _LAST if _LAST in weeks else min(weeks)


def vtimezone(zone: str, start: datetime, end: datetime) -> Timezone:
    """The VTIMEZONE of `zone`, right from `start` (aware) to at least the end of the year after `end`.

    Where the zone keeps to yearly rules it is right for ever. Raises as `observances` does.
    """
    timezone = Timezone()
    timezone.add("TZID", zone)
    for observance in observances(zone, start, end):
        timezone.add_component(_sub_component(observance))
    return timezone


def _sub_component(observance: Observance) -> TimezoneDaylight | TimezoneStandard:
    first = observance.first
    part = TimezoneDaylight() if first.daylight else TimezoneStandard()
    part.add("DTSTART", first.onset)
    part.add("TZOFFSETFROM", first.offset_from)
    part.add("TZOFFSETTO", first.offset_to)
    part.add("TZNAME", first.name)
    if observance.week is not None:
        weekday = _WEEKDAYS[first.onset.weekday()]
        rule = vRecur(freq="yearly", bymonth=first.onset.month, byday=f"{observance.week}{weekday}")
        if observance.until is not None:
            rule["UNTIL"] = observance.until
        part.add("RRULE", rule)
    return part
