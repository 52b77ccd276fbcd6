"""When a net meets: a rule, a first wall time and a zone give the occurrences in a half-open span of UTC.

Days are counted in wall time and only then read in the zone (`clubops.clock`), so a net keeps its clock
time across clock changes. The wall time that the rule gave is an occurrence's identity: it stays when the
zone's rules change and when the session is moved.

**The spring gap.** RFC 5545 (2009) section 3.3.10 says two things: instances at a nonexistent local time
"MUST be ignored and MUST NOT be counted"; and, at its end, an instance whose start does not exist is read as
section 3.3.5 reads an explicit time, by the offset before the gap. Calendar programs differ accordingly.
Decided here: the session **meets**, later by the new clock, is marked `shift="gap"`, and counts towards
COUNT, since a club does not cancel a net because the clocks change. For a feed to say the same to every
client, it should

* write `for_feed(...)`, which has UNTIL in place of COUNT, since clients count differently; and
* take each occurrence marked "gap" out of the rule (EXDATE with its wall time) and publish it as an event of
  its own that starts at its UTC time: clients that drop the instance and clients that move it then agree.

A repeated wall time is its first occurrence (section 3.3.5).

**A day that a zone skips** (Samoa, 30 December 2011) is a gap of 24 hours: a daily net has two occurrences
that start at the same instant. Both are returned, told apart by their wall times.

Expansion is our own, over the days of one period at a time, and is checked against python-dateutil: a general
library looks for the next date of a rule such as 30 February until the year 9999, which takes seconds, and
this must answer while a page is being made.
"""

from __future__ import annotations

from calendar import monthrange
from collections import deque
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from clubops import clock
from nets.recurrence.rules import NeverMeets, Rule

_ONE_DAY = timedelta(days=1)
_LAST_DAY = date(clock.LAST_YEAR, 12, 31)
_ALWAYS = datetime(clock.FIRST_YEAR, 1, 2, tzinfo=UTC), datetime(clock.LAST_YEAR, 12, 31, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One meeting: its wall time (its identity), its start in UTC, and how a clock change touched it."""

    wall: datetime
    starts_at: datetime
    shift: clock.Shift

    @property
    def key(self) -> str:
        """The identity as text, to the minute: 2026-12-01T19:30."""
        return self.wall.isoformat(timespec="minutes")


def occurrences(
    rule: Rule,
    *,
    first_wall: datetime,
    zone: str,
    from_utc: datetime,
    until_utc: datetime,
    excluded_walls: Collection[datetime] = frozenset(),
    extra_walls: Collection[datetime] = (),
    ends_on: date | None = None,
) -> list[Occurrence]:
    """Occurrences that start in [from_utc, until_utc), by start and then by wall time.

    `first_wall` (naive) is the start of the series: it gives the time of day and the phase of INTERVAL, and
    it occurs only if the rule gives it. `excluded_walls` take occurrences out without changing COUNT;
    `extra_walls` add some, each once and unless excluded (RFC 5545 sections 3.8.5.1 and 3.8.5.2). `ends_on`
    is the last local date that the rule may give; it does not touch extras.

    Takes time in proportion to the span, not to the age of the net, unless the rule has COUNT, which is
    counted from the start. Raises `clock.ZoneUnknown`, `clock.UnusableTime` and `clock.BackwardSpan`.
    """
    span = clock.Span(from_utc, until_utc)
    found = {
        occurrence.wall: occurrence
        for occurrence in _from_rule(rule, first_wall, zone, span, ends_on or _LAST_DAY)
    }
    for wall in extra_walls:
        found.setdefault(wall, _occurrence(wall, zone))
    kept = [
        item for item in found.values() if span.contains(item.starts_at) and item.wall not in excluded_walls
    ]
    return sorted(kept, key=lambda item: (item.starts_at, item.wall))


def first_occurrence(
    rule: Rule, *, first_wall: datetime, zone: str, ends_on: date | None = None
) -> Occurrence | None:
    """The first meeting that the rule gives on or after `first_wall`, or None. It is the DTSTART of a feed.

    RFC 5545 section 3.8.5.3 leaves a start that the rule does not give undefined. Taking this one instead
    keeps the phase of INTERVAL, since it lies in a period the rule already uses, and keeps COUNT.
    """
    return next(_from_rule(rule, first_wall, zone, clock.Span(*_ALWAYS), ends_on or _LAST_DAY), None)


def last_occurrence(
    rule: Rule, *, first_wall: datetime, zone: str, ends_on: date | None = None
) -> Occurrence | None:
    """The last meeting that the rule gives, or None where it goes on for ever or never meets."""
    if rule.count is None and rule.until is None and ends_on is None:
        return None
    meetings = _from_rule(rule, first_wall, zone, clock.Span(*_ALWAYS), ends_on or _LAST_DAY)
    last = deque(meetings, maxlen=1)
    return last[0] if last else None


def for_feed(rule: Rule, *, first_wall: datetime, zone: str, ends_on: date | None = None) -> Rule:
    """The rule as a feed should write it: COUNT and `ends_on` turned into UNTIL at the last start.

    Raises `NeverMeets` where the rule gives no occurrence at all.
    """
    if first_occurrence(rule, first_wall=first_wall, zone=zone, ends_on=ends_on) is None:
        raise NeverMeets("This rule never meets: no date on or after the first one fits it.")
    last = last_occurrence(rule, first_wall=first_wall, zone=zone, ends_on=ends_on)
    return rule if last is None else replace(rule, count=None, until=last.starts_at)


def _occurrence(wall: datetime, zone: str) -> Occurrence:
    instant = clock.to_utc(wall, zone)
    return Occurrence(wall, instant.at, instant.shift)


def _from_rule(
    rule: Rule, first_wall: datetime, zone: str, span: clock.Span, ends_on: date
) -> Iterator[Occurrence]:
    """The rule's own occurrences in the span, in order of wall time."""
    clock.to_utc(first_wall, zone)  # refuses a bad start or zone even where nothing will occur
    # An offset from UTC is less than a day, so a start in the span has its wall date within a day of it.
    until = min(span.end.astimezone(UTC).date() + _ONE_DAY, ends_on, _LAST_DAY)
    for wall in _walls(rule, first_wall, span.start.astimezone(UTC).date() - _ONE_DAY, until):
        occurrence = _occurrence(wall, zone)
        if rule.until is not None and occurrence.starts_at > rule.until:
            return
        if span.contains(occurrence.starts_at):
            yield occurrence


def _walls(rule: Rule, first_wall: datetime, since: date, until: date) -> Iterator[datetime]:
    """Wall times of the rule with dates from `since` to `until`, both included; COUNT is kept."""
    anchored = rule.anchored(first_wall)
    first_day = first_wall.date()
    left = rule.count
    number = 0 if left is not None else max(0, _period_holding(anchored, first_day, since))
    while (days := _period(anchored, first_day, number))[0] <= until:
        number += 1
        for day in _chosen(anchored, days):
            if day < first_day:
                continue
            if left is not None:
                if left == 0:
                    return
                left -= 1
            if since <= day <= until:
                yield datetime.combine(day, first_wall.time())


def _week_start(rule: Rule, day: date) -> date:
    return day - timedelta(days=(day.weekday() - rule.week_start) % 7)


def _period(rule: Rule, first_day: date, number: int) -> list[date]:
    """Every day of the rule's period of that number; period 0 holds the first day."""
    step = number * rule.interval
    if rule.frequency == "DAILY":
        return [first_day + timedelta(days=step)]
    if rule.frequency == "WEEKLY":
        start = _week_start(rule, first_day) + timedelta(weeks=step)
        return [start + timedelta(days=day) for day in range(7)]
    year, month = divmod(first_day.year * 12 + first_day.month - 1 + step, 12)
    return [date(year, month + 1, day) for day in range(1, monthrange(year, month + 1)[1] + 1)]


def _period_holding(rule: Rule, first_day: date, day: date) -> int:
    """Number of the last period that starts on or before `day`; negative before the first."""
    if rule.frequency == "DAILY":
        apart = (day - first_day).days
    elif rule.frequency == "WEEKLY":
        apart = (day - _week_start(rule, first_day)).days // 7
    else:
        apart = (day.year - first_day.year) * 12 + day.month - first_day.month
    return apart // rule.interval


def _chosen(rule: Rule, days: list[date]) -> list[date]:
    """The days of one period that the BY parts let through (the table in RFC 5545 section 3.3.10).

    Limiting a period and expanding it come to the same once every day of the period is a candidate.
    """
    fitting = [day for day in days if _fits(rule, day)]
    if not rule.by_set_pos:
        return fitting
    places = {place - 1 if place > 0 else len(fitting) + place for place in rule.by_set_pos}
    return [day for place, day in enumerate(fitting) if place in places]


def _fits(rule: Rule, day: date) -> bool:
    if rule.by_month and day.month not in rule.by_month:
        return False
    if not (rule.by_month_day or rule.by_weekday):
        return True
    length = monthrange(day.year, day.month)[1]
    if rule.by_month_day and not {day.day, day.day - length - 1} & set(rule.by_month_day):
        return False
    ordinals = (0, (day.day + 6) // 7, -((length - day.day + 7) // 7))
    return not rule.by_weekday or any(
        weekday.day == day.weekday() and weekday.ordinal in ordinals for weekday in rule.by_weekday
    )
