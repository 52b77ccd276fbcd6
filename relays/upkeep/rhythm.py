"""When a task is due again: plain dates, no clock and no rows.

Decided, because calendars are uneven:

* An interval counts from the day the task was last done, not from the day it was due: what was done late is due
  late again.
* A month later is the same number of the day, or the last day of a shorter month: 31 January and one month is
  28 February, 29 in a leap year. From there it counts on from the day it was done.
* 29 February among fixed dates means the last day of February in every year.
* Fixed dates stand still. One that is done within the lead time before its date counts for that date; one done
  earlier does not.
"""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

from django.utils.dateformat import format as date_format
from django.utils.translation import gettext, ngettext, pgettext

MonthAndDay = tuple[int, int]
MONTHS = tuple(name.casefold() for name in calendar.month_name)
LEAP_YEAR = 2024
MOST_LEADS = 6
LONGEST_LEAD_DAYS = 730


class RhythmError(ValueError):
    """A rhythm nobody can follow; the message is a sentence for people."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How often something is done: the rhythm is "days", "months" or "dates".

    `every` counts days or months; `dates` are for fixed dates alone.

    `first_on` is when it is first due; fixed dates count from that day on. `lead_days` is how long before its date
    a fixed date may be done.
    """

    rhythm: str
    first_on: dt.date
    every: int = 0
    dates: tuple[MonthAndDay, ...] = ()
    lead_days: int = 0


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day of a later month, or that month's last."""
    year, month0 = divmod(day.year * 12 + day.month - 1 + months, 12)
    return dt.date(year, month0 + 1, min(day.day, calendar.monthrange(year, month0 + 1)[1]))


def on_in_year(date: MonthAndDay, year: int) -> dt.date:
    """The day of a fixed date in a year."""
    month, day = date
    return dt.date(year, month, min(day, calendar.monthrange(year, month)[1]))


def first_from(dates: tuple[MonthAndDay, ...], day: dt.date) -> dt.date:
    """The first of the fixed dates on `day` or later."""
    found = (on_in_year(date, year) for year in (day.year, day.year + 1) for date in dates)
    return min(each for each in found if each >= day)


def next_due(plan: Plan, last_done_on: dt.date | None) -> dt.date:
    """The day it is due next. `last_done_on` is None when it never was done."""
    if plan.rhythm == "dates":
        if last_done_on is None:
            return first_from(plan.dates, plan.first_on)
        settled_until = last_done_on + dt.timedelta(days=plan.lead_days)
        return first_from(plan.dates, max(settled_until + dt.timedelta(days=1), plan.first_on))
    if last_done_on is None:
        return plan.first_on
    if plan.rhythm == "days":
        return last_done_on + dt.timedelta(days=plan.every)
    return add_months(last_done_on, plan.every)


def shortest_gap_days(plan: Plan) -> int:
    """The fewest days from one time to the next."""
    if plan.rhythm == "days":
        return plan.every
    if plan.rhythm == "months":
        # 28 days for one month; from 29 January to the end of February.
        return min(
            (add_months(dt.date(2023, month, 28), plan.every) - dt.date(2023, month, 28)).days
            for month in range(1, 13)
        )
    days = sorted(on_in_year(date, year) for year in (2023, 2024, 2025) for date in plan.dates)
    return min((after - before).days for before, after in pairwise(days))


def parse_dates(text: str) -> tuple[MonthAndDay, ...]:
    """Fixed dates as people write them: `15 April, 15 October`. Raises `RhythmError` with what would be right."""
    found = []
    for part in filter(None, (each.strip() for each in text.split(","))):
        day, _, month = part.partition(" ")
        name = month.strip().casefold()
        number = next(
            (
                index
                for index, full in enumerate(MONTHS)
                if index and len(name) >= 3 and full.startswith(name)
            ),
            0,
        )
        if not (day.isdecimal() and number):
            raise RhythmError(f"“{part}” is not a day and a month; write them such as 15 April, 15 October.")
        last = calendar.monthrange(LEAP_YEAR, number)[1]
        if not 1 <= int(day) <= last:
            raise RhythmError(f"“{part}”: {calendar.month_name[number]} has the days 1 to {last}.")
        found.append((number, int(day)))
    if not found:
        raise RhythmError("No date was given; write at least one day and month, such as 15 April.")
    if len({on_in_year(date, 2023) for date in found}) < len(found):
        raise RhythmError("One of these dates is given twice; write each once.")
    return tuple(sorted(found))


def dates_in_words(dates: tuple[MonthAndDay, ...]) -> str:
    """15 April and 15 October."""
    form = pgettext("day and month", "j F")
    words = [date_format(dt.date(LEAP_YEAR, month, day), form) for month, day in dates]
    if len(words) == 1:
        return words[0]
    return gettext("%(dates)s and %(last)s") % {"dates": ", ".join(words[:-1]), "last": words[-1]}


def in_words(plan: Plan) -> str:
    """How often, as people say it: every 3 months, every day, on 15 April and 15 October."""
    if plan.rhythm == "dates":
        return gettext("on %(dates)s") % {"dates": dates_in_words(plan.dates)}
    if plan.rhythm == "days":
        words = ngettext("every day", "every %(count)s days", plan.every)
    else:
        words = ngettext("every month", "every %(count)s months", plan.every)
    return words % {"count": plan.every}


def parse_leads(text: str) -> tuple[int, ...]:
    """Days ahead, most first: `120, 90, 30`. Raises `RhythmError`."""
    parts = [each.strip() for each in text.split(",") if each.strip()]
    bad = next((each for each in parts if not (each.isdecimal() and len(each) < 5 and int(each) > 0)), None)
    if bad is not None:
        raise RhythmError(f"“{bad}” is not a number of days; write whole numbers such as 120, 90, 30.")
    days = sorted({int(each) for each in parts}, reverse=True)
    if not 1 <= len(days) <= MOST_LEADS or days[0] > LONGEST_LEAD_DAYS:
        raise RhythmError(
            f"Give one to {MOST_LEADS} numbers of days, none above {LONGEST_LEAD_DAYS}, such as 120, 90, 30."
        )
    return tuple(days)
