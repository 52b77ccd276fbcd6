"""A rule in plain words, and plain choices into a rule and back, for forms.

The words follow the rule part by part, so every rule that can be read can be said; the common ones come out
as people say them ("every Tuesday at 19:30", "first and third Thursday of the month at 20:00").
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, TypeVar

from clubops import clock
from nets.recurrence.rules import Rule, RuleError, Weekday

Pattern = Literal["daily", "weekly", "monthly_by_weekday", "monthly_by_day"]

_Value = TypeVar("_Value")

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
_PLACES = {
    1: "first",
    2: "second",
    3: "third",
    4: "fourth",
    5: "fifth",
    -1: "last",
    -2: "second from last",
    -3: "third from last",
    -4: "fourth from last",
    -5: "fifth from last",
}


@dataclass(frozen=True, slots=True)
class PlainChoices:
    """What a form asks for: the pattern, every how many, and the days, ordinals or days of the month.

    `days` are RFC 5545 codes ("TU"); `ordinals` are 1 to 5 and -1 for the last; `month_days` count from the
    end when negative; `months` is the season, empty for all year. `until` is aware UTC and inclusive.
    """

    pattern: Pattern
    every: int = 1
    days: tuple[str, ...] = ()
    ordinals: tuple[int, ...] = ()
    month_days: tuple[int, ...] = ()
    months: tuple[int, ...] = ()
    count: int | None = None
    until: datetime | None = None

    def rule(self) -> Rule:
        """The rule that these choices stand for. Raises `RuleError` where a needed choice is missing."""
        if self.pattern == "daily":
            needed: Sequence[object] = (self.every,)
        elif self.pattern == "monthly_by_day":
            needed = (self.every, self.month_days)
        elif self.pattern == "weekly":
            needed = (self.every, self.days)
        else:
            needed = (self.every, self.days, self.ordinals)
        if not all(needed):
            raise RuleError("Choose at least one day, and for a monthly net which one in the month.", "BYDAY")
        # Through the text, so that a choice out of range gets the same sentence as one in a rule.
        parts = {
            "FREQ": self.pattern.partition("_")[0].upper(),
            "INTERVAL": str(self.every),
            "BYMONTH": ",".join(map(str, self.months)),
            "BYMONTHDAY": ",".join(map(str, self.month_days)),
            "BYDAY": ",".join(f"{n or ''}{day}" for n in self.ordinals or (0,) for day in self.days),
            "COUNT": "" if self.count is None else str(self.count),
            "UNTIL": "" if self.until is None else f"{self.until.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        }
        return Rule.parse(";".join(f"{name}={value}" for name, value in parts.items() if value))


def weekly(days: Sequence[str], every: int = 1, *, months: Sequence[int] = ()) -> Rule:
    """Every week (or every so many) on those days: `weekly(["TU", "TH"], every=2)`. Raises `RuleError`."""
    return PlainChoices("weekly", every, days=tuple(days), months=tuple(months)).rule()


def monthly_by_weekday(
    ordinals: Sequence[int], day: str, every: int = 1, *, months: Sequence[int] = ()
) -> Rule:
    """Those of a weekday in the month: `monthly_by_weekday([1, 3], "TH")`, -1 last. Raises `RuleError`."""
    return PlainChoices(
        "monthly_by_weekday", every, days=(day,), ordinals=tuple(ordinals), months=tuple(months)
    ).rule()


def monthly_by_day(month_days: Sequence[int], every: int = 1, *, months: Sequence[int] = ()) -> Rule:
    """Those days of the month: `monthly_by_day([15])`, -1 the last day. Raises `RuleError`."""
    return PlainChoices("monthly_by_day", every, month_days=tuple(month_days), months=tuple(months)).rule()


def plain_choices(rule: Rule) -> PlainChoices | None:
    """The choices that give this rule, or None where it says more than a form can.

    A rule that leaves its day to the start has none until it is `anchored`.
    """
    rule = _settled(rule)
    pattern = _pattern(rule)
    by_weekday = pattern in ("weekly", "monthly_by_weekday")
    choices = PlainChoices(
        pattern=pattern,
        every=rule.interval,
        days=_distinct(weekday.code for weekday in rule.by_weekday if by_weekday),
        ordinals=_distinct(weekday.ordinal for weekday in rule.by_weekday if weekday.ordinal),
        month_days=rule.by_month_day if pattern == "monthly_by_day" else (),
        months=rule.by_month,
        count=rule.count,
        until=rule.until,
    )
    try:
        same = _settled(choices.rule()) == rule
    except RuleError:
        return None
    return choices if same else None


def _pattern(rule: Rule) -> Pattern:
    if rule.frequency == "DAILY":
        return "daily"
    if rule.frequency == "WEEKLY":
        return "weekly"
    return "monthly_by_day" if rule.by_month_day else "monthly_by_weekday"


def _settled(rule: Rule) -> Rule:
    """The same rule with its lists in order and BYSETPOS of one weekday written as ordinals."""
    weekdays = rule.by_weekday
    places = rule.by_set_pos
    one_plain = len(weekdays) == 1 and not weekdays[0].ordinal and not rule.by_month_day
    if rule.frequency == "MONTHLY" and one_plain and places and all(place in _PLACES for place in places):
        weekdays = tuple(Weekday(weekdays[0].day, place) for place in places)
        places = ()
    # Where no week is left out it does not matter on which day a week starts.
    week_start = rule.week_start if rule.frequency == "WEEKLY" and rule.interval > 1 else 0
    return replace(
        rule,
        by_month=tuple(sorted(rule.by_month)),
        by_month_day=tuple(sorted(rule.by_month_day, key=_from_start)),
        by_weekday=tuple(sorted(weekdays, key=lambda item: (item.day, *_from_start(item.ordinal)))),
        by_set_pos=tuple(sorted(places, key=_from_start)),
        week_start=week_start,
    )


def _from_start(place: int) -> tuple[bool, int]:
    """Sort key: places counted from the start first, then those counted from the end."""
    return place < 0, place


def in_words(rule: Rule, start_time: time, zone: str | None = None) -> str:
    """The rule as people say it, such as "every other week on Tuesday and Thursday at 19:30".

    With `zone`, the end is given as the last local date on which it can meet, else as a time in UTC. For a
    rule that leaves its day to the start, pass `rule.anchored(first_wall)`. Raises `clock.ZoneUnknown`.
    """
    rule = _settled(rule)
    said = f"{_PATTERN_WORDS[rule.frequency](rule)} at {start_time:%H:%M}"
    if rule.by_month:
        said += f", {_season(rule.by_month)}"
    if rule.count is not None:
        said += ", once only" if rule.count == 1 else f", {rule.count} times in all"
    if rule.until is not None:
        said += f", until {_end(rule.until, start_time, zone)}"
    return said


def _daily(rule: Rule) -> str:
    said = f"every {_nth(rule.interval)}day"
    if rule.by_weekday and rule.interval == 1:
        said = f"every {_day_list(rule.by_weekday)}"
    elif rule.by_weekday:
        said += f" that is a {_day_list(rule.by_weekday, 'or')}"
    if rule.by_month_day:
        said += f" that is the {_month_days(rule.by_month_day, 'or')} of the month"
    return said


def _weekly(rule: Rule) -> str:
    days = _day_list(rule.by_weekday)
    if rule.by_set_pos:
        return f"{_places(rule.by_set_pos)} of {days} in every {_nth(rule.interval)}week"
    if rule.interval == 1:
        return "every day" if len(rule.by_weekday) == 7 else f"every {days or 'week'}"
    return f"every {_nth(rule.interval)}week" + (f" on {days}" if days else "")


def _monthly(rule: Rule) -> str:
    month = "the month" if rule.interval == 1 else f"every {_nth(rule.interval)}month"
    if rule.by_set_pos:
        return f"{_places(rule.by_set_pos)} day of {month} that is {_month_choice(rule, 'a', 'or')}"
    if not (rule.by_month_day or rule.by_weekday):
        return "every month" if rule.interval == 1 else month
    return f"{_month_choice(rule, 'every', 'and')} of {month}"


def _month_choice(rule: Rule, plain: str, joint: str) -> str:
    """The days that BYDAY and BYMONTHDAY choose, such as "every Friday that is the 13th"."""
    plain_days = [weekday for weekday in rule.by_weekday if not weekday.ordinal]
    named = [f"{plain} {_day_list(plain_days, joint)}"] if plain_days else []
    for day in _distinct(weekday.day for weekday in rule.by_weekday if weekday.ordinal):
        places = [weekday.ordinal for weekday in rule.by_weekday if weekday.day == day and weekday.ordinal]
        named.append(f"{_places(places)} {_DAYS[day]}")
    month_days = _month_days(rule.by_month_day, joint if not named else "or")
    if named and month_days:
        return f"{_listed(named, joint)} that is the {month_days}"
    return _listed(named, joint) or (month_days if plain == "every" else f"the {month_days}")


_PATTERN_WORDS = {"DAILY": _daily, "WEEKLY": _weekly, "MONTHLY": _monthly}


def _nth(number: int) -> str:
    """The word between "every" and its unit, with its space: "", "other ", "third ", "12th "."""
    if number == 1:
        return ""
    return "other " if number == 2 else f"{_PLACES.get(number) or _ordinal(number)} "


def _ordinal(number: int) -> str:
    teen = number % 100 in (11, 12, 13)
    return f"{number}{'th' if teen else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"


def _places(places: Sequence[int]) -> str:
    def said(place: int) -> str:
        return _PLACES.get(place) or (_ordinal(place) if place > 0 else f"{_ordinal(-place)} from last")

    return _listed([said(place) for place in places])


def _month_days(days: Sequence[int], joint: str) -> str:
    def said(day: int) -> str:
        if day > 0:
            return _ordinal(day)
        return "last day" if day == -1 else f"{_PLACES.get(day) or _ordinal(-day) + ' from last'} day"

    return _listed([said(day) for day in days], joint)


def _day_list(weekdays: Sequence[Weekday], joint: str = "and") -> str:
    return _listed([_DAYS[weekday.day] for weekday in weekdays], joint)


def _season(months: Sequence[int]) -> str:
    """ "from October to March" where the months follow one another round the year, else each by name."""
    starts = [month for month in months if (month - 2) % 12 + 1 not in months]
    if len(months) > 2 and len(starts) == 1:
        last = (starts[0] + len(months) - 2) % 12
        return f"from {_MONTHS[starts[0] - 1]} to {_MONTHS[last]}"
    return f"in {_listed([_MONTHS[month - 1] for month in months])}"


def _end(until: datetime, start_time: time, zone: str | None) -> str:
    if zone is None:
        return f"{_date(until.astimezone(UTC))} {until.astimezone(UTC):%H:%M} UTC"
    wall = clock.to_wall(until, zone)
    return _date(wall if start_time <= wall.time() else wall - timedelta(days=1))


def _date(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _listed(items: Sequence[str], joint: str = "and") -> str:
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {joint} {items[-1]}"


def _distinct(values: Iterable[_Value]) -> tuple[_Value, ...]:
    return tuple(dict.fromkeys(values))
