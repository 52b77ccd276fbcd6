"""How a recurring net is laid out as calendar entries so that no reader can get an instant wrong.

Readers disagree about a rule's occurrence whose wall time is skipped or repeated when clocks change
(RFC 5545 sections 3.3.5 and 3.3.10), and about the end of one that runs across the change. Such an *awkward*
occurrence is taken out of the rule by EXDATE and stands alone, as an entry of its own in UTC. What stays
under the rule has a start and an end that exist once on the clock, a true duration apart. COUNT becomes
UNTIL, because readers that ignore a skipped time do not count it. A rule that has no form on which readers
agree (`portable`), or that meets on a day its zone skipped, is written session by session up to the horizon.
docs/decisions/calendar-clock-changes.md tells what was tried.
"""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from clubops import clock
from nets import recurrence
from nets.calendars.entries import ChangedSession, NetSeries
from nets.calendars.portable import portable

_DAY = timedelta(days=1)
# A net that begins after the horizon is laid out this far, so that its first sessions show.
_FIRST_YEAR_OF_A_NET = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class Alone:
    """A session that stands as its own entry: its local date, its start, what changed it (or None)."""

    occurrence_date: date
    starts_at: datetime
    change: ChangedSession | None


@dataclass(frozen=True, slots=True)
class Layout:
    """The entries of a series.

    `first_wall` is None and `rule` empty when nothing is left under a rule. `rule` is RFC 5545 text, with
    UNTIL where the net ends and never with COUNT. `excluded` are naive wall times for EXDATE; `overrides`
    pair the wall time that the rule gives with the change.
    """

    rule: str
    first_wall: datetime | None
    excluded: tuple[datetime, ...]
    overrides: tuple[tuple[datetime, ChangedSession], ...]
    alone: tuple[Alone, ...]


def lay_out(series: NetSeries, horizon: datetime) -> Layout:
    """Sort the occurrences of `series` into rule, exclusions, overrides and entries that stand alone.

    Looks as far as `horizon` (aware), and further where the net ends later or an exception lies later.
    Raises `nets.recurrence.RuleError` for a rule that cannot be read, `clubops.clock.ClockError` for a bad
    zone or time, `ValueError` for two changes on one date.
    """
    rule = recurrence.Rule.parse(series.rule).anchored(series.first_wall)
    found = _occurrences(series, rule, horizon)
    kept = [each for each in found if each.wall.date() not in series.excluded_dates]
    plain = [each for each in kept if not is_awkward(each.wall, series.zone, series.duration)]
    ends = rule.count is not None or rule.until is not None or series.last_date is not None
    lost = any(_on_a_lost_day(each, series.zone) for each in found)
    text = "" if lost else _rule_text(rule, plain, ends=ends)
    if not text:
        plain = []
    under_rule = {each.wall.date(): each.wall for each in plain}
    changes = _by_date(series)
    return Layout(
        rule=text,
        first_wall=plain[0].wall if plain else None,
        excluded=_excluded(found, plain, ends=ends),
        overrides=tuple((under_rule[day], changes[day]) for day in sorted(changes) if day in under_rule),
        alone=_alone(kept, under_rule, changes),
    )


def _rule_text(rule: recurrence.Rule, plain: list[recurrence.Occurrence], *, ends: bool) -> str:
    if not plain:
        return ""
    text = portable(replace(rule, count=None, until=None), plain[0].wall.date())
    if text is None:
        return ""
    return f"{text};UNTIL={plain[-1].starts_at:%Y%m%dT%H%M%SZ}" if ends else text


def _alone(
    kept: list[recurrence.Occurrence], under_rule: dict[date, datetime], changes: dict[date, ChangedSession]
) -> tuple[Alone, ...]:
    days = {each.wall.date(): each.starts_at for each in kept}
    days |= {day: change.starts_at for day, change in changes.items()}
    return tuple(Alone(day, days[day], changes.get(day)) for day in sorted(days) if day not in under_rule)


def is_awkward(wall: datetime, zone: str, duration: timedelta) -> bool:
    """Whether readers may disagree about the start or the end of a session at that naive wall time."""
    start, end = clock.to_utc(wall, zone), clock.to_utc(wall + duration, zone)
    return start.shift != "none" or end.shift != "none" or end.at - start.at != duration


def _on_a_lost_day(meeting: recurrence.Occurrence, zone: str) -> bool:
    """Whether the zone skipped that whole day, as Samoa skipped 30 December 2011.

    Its EXDATE would be the day before to one reader and the day after to another.
    """
    return meeting.shift == "gap" and clock.to_wall(meeting.starts_at, zone) - meeting.wall >= _DAY


def _occurrences(series: NetSeries, rule: recurrence.Rule, horizon: datetime) -> list[recurrence.Occurrence]:
    """All there are for a net that ends, else up to the horizon or the last exception."""
    first = recurrence.first_occurrence(
        rule, first_wall=series.first_wall, zone=series.zone, ends_on=series.last_date
    )
    if first is None:
        return []
    last = recurrence.last_occurrence(
        rule, first_wall=series.first_wall, zone=series.zone, ends_on=series.last_date
    )
    if last is not None:
        reach = last.starts_at
    else:
        named = [*series.excluded_dates, *(change.occurrence_date for change in series.changed)]
        # An offset from UTC is less than a day, so a local date is over two days after its start in UTC.
        over = (datetime(day.year, day.month, day.day, tzinfo=UTC) + 2 * _DAY for day in named)
        reach = max(horizon, first.starts_at + _FIRST_YEAR_OF_A_NET, *over)
    return recurrence.occurrences(
        rule,
        first_wall=series.first_wall,
        zone=series.zone,
        from_utc=first.starts_at,
        until_utc=reach + timedelta(seconds=1),
        ends_on=series.last_date,
    )


def _excluded(
    found: list[recurrence.Occurrence], plain: list[recurrence.Occurrence], *, ends: bool
) -> tuple[datetime, ...]:
    """Wall times that a reader of the rule would come to, from the first plain one on, and must leave out."""
    if not plain:
        return ()
    staying = {each.wall for each in plain}
    met = [each.wall for each in found if each.wall > plain[0].wall and each.wall not in staying]
    return tuple(wall for wall in met if wall < plain[-1].wall or not ends)


def _by_date(series: NetSeries) -> dict[date, ChangedSession]:
    changes = {change.occurrence_date: change for change in series.changed}
    if len(changes) < len(series.changed):
        raise ValueError(
            f"“{series.title}” has two changed sessions on one date; a net meets at most once a local date."
        )
    return changes
