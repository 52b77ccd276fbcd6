"""A rule in the form that readers agree on, where it has one.

RFC 5545 lets a rule be said in several ways, and readers have trouble with different ones: npm ical.js
loses or doubles sessions of a monthly rule with BYMONTH, skips BYSETPOS in a weekly one, and reads no
negative BYMONTHDAY in a daily one; python-dateutil counts BYSETPOS of a first week from DTSTART. The forms
written here came out alike in both, and alike with our own expansion, for thousands of rules drawn at
random (tests/calendars/test_portable.py).
"""

from calendar import monthrange
from dataclasses import replace
from datetime import date

from nets.recurrence import Rule, Weekday

_MONTHS = range(1, 13)
# Days that every year's month of that number has.
_SHORTEST_DAYS = {month: monthrange(2023, month)[1] for month in _MONTHS}


def portable(rule: Rule, first: date) -> str | None:
    """RFC 5545 text with the same dates as `rule`, whose first session is on `first`; None where there is
    none.

    `rule` must be anchored (`Rule.anchored`). A rule without such a form is to be written session by session.
    """
    if rule.frequency == "WEEKLY":
        return _weekly(rule)
    if rule.frequency == "MONTHLY":
        return _monthly(rule, first)
    if not rule.by_month_day:
        return str(rule)
    # Every day that is the 15th is every month's 15th.
    return _monthly(replace(rule, frequency="MONTHLY"), first) if rule.interval == 1 else None


def _weekly(rule: Rule) -> str | None:
    if not rule.by_set_pos:
        return str(rule)
    if rule.by_month:
        # A week that straddles the edge of a season has fewer days to count.
        return None
    days = sorted(rule.by_weekday, key=lambda weekday: (weekday.day - rule.week_start) % 7)
    picked = tuple(
        day for place, day in enumerate(days) if {place + 1, place - len(days)} & set(rule.by_set_pos)
    )
    return str(replace(rule, by_weekday=picked, by_set_pos=()))


def _monthly(rule: Rule, first: date) -> str | None:
    if (
        len(rule.by_weekday) == 1
        and not rule.by_weekday[0].ordinal
        and not rule.by_month_day
        and rule.by_set_pos
    ):
        weekday = rule.by_weekday[0].day
        rule = replace(
            rule, by_weekday=tuple(Weekday(weekday, place) for place in rule.by_set_pos), by_set_pos=()
        )
    if rule.by_month_day and rule.by_weekday:
        return None
    ordinals = {abs(weekday.ordinal) for weekday in rule.by_weekday}
    if rule.by_set_pos and (rule.by_month or rule.by_month_day or ordinals != {0}):
        return None
    if len(rule.by_weekday) > 1 and 5 in ordinals:
        # Where the first month has no fifth, some readers start in the next month that has one.
        return None
    return _seasonal(rule, first) if rule.by_month else str(rule)


def _seasonal(rule: Rule, first: date) -> str | None:
    """A monthly rule with BYMONTH as a yearly one: the same days of the same months."""
    if 12 % rule.interval:
        return None
    months = [
        month for month in _MONTHS if month in rule.by_month and (month - first.month) % rule.interval == 0
    ]
    if any(not 0 < day <= _SHORTEST_DAYS[month] for month in months for day in rule.by_month_day):
        # In a yearly rule some readers carry 29 February over into March and count -1 by the wrong month.
        return None
    text = str(replace(rule, interval=1, by_month=tuple(months)))
    return text.replace("FREQ=MONTHLY", "FREQ=YEARLY", 1)
