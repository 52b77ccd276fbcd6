"""What a rule comes to, before it is saved: its words and its next dates."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from clubops import clock
from clubops.templatetags.measures import whole_date
from nets import recurrence, schedule
from nets.schedule import Given, Terms

DATES = 6
# Far enough for six sessions of a net that meets in one month of the year.
FAR = dt.timedelta(days=7 * 366)


@dataclass(frozen=True)
class NextDate:
    """One coming session; `note` says in a sentence what a clock change does to it, or nothing."""

    starts_at: dt.datetime
    zone: str
    note: str

    @property
    def date(self) -> dt.date:
        return clock.to_wall(self.starts_at, self.zone).date()


@dataclass(frozen=True)
class Preview:
    """The rule in words, the next six sessions, and what should be noticed about its start and end."""

    words: str
    dates: list[NextDate]
    notes: list[str]


def preview(terms: Terms, *, now: dt.datetime) -> Preview:
    """Of a net as typed, saved or not. Raises `recurrence.RuleError` and `clock.ClockError`."""
    since = max(now, clock.to_utc(terms.first_wall, terms.zone).at)
    # One that is beyond the years that can be counted simply has fewer dates to show.
    until = min(since + FAR, dt.datetime(clock.LAST_YEAR, 12, 30, tzinfo=dt.UTC))
    found = schedule.given([terms], clock.Span(since, until))[:DATES] if since < until else []
    words = recurrence.in_words(terms.anchored_rule, terms.start_time, terms.zone)
    return Preview(words, [_next_date(each) for each in found], list(_notes(terms, found, now)))


def _next_date(each: Given) -> NextDate:
    terms = each.terms
    note = clock.shift_note(dt.datetime.combine(each.date, terms.start_time), terms.zone)
    return NextDate(each.starts_at, terms.zone, note)


def _notes(terms: Terms, found: list[Given], now: dt.datetime) -> list[str]:
    notes = []
    first = recurrence.first_occurrence(
        terms.anchored_rule, first_wall=terms.first_wall, zone=terms.zone, ends_on=terms.last_date
    )
    if first is not None and first.wall.date() != terms.first_date and first.starts_at > now:
        notes.append(
            f"{whole_date(terms.first_date)} is a {terms.first_date:%A}, on which it does not meet: the first "
            f"session is on {first.wall:%A} {whole_date(first.wall.date())}."
        )
    if first is not None and not found:
        notes.append("Nothing is left to come: its last session is over.")
    elif len(found) < DATES and found:
        notes.append(f"The last session is on {found[-1].date:%A} {whole_date(found[-1].date)}.")
    return notes
