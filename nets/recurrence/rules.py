"""A recurrence rule: the part of RFC 5545 section 3.3.10 that nets need, as a value.

FREQ is DAILY, WEEKLY or MONTHLY; INTERVAL, BYMONTH, BYMONTHDAY, BYDAY (with ordinals when MONTHLY), BYSETPOS
and WKST as the RFC has them; COUNT or UNTIL, not both; UNTIL in UTC, because a net's start always has a zone.
A rule has no time of day and no start: both come from the net.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal, TypeVar

Frequency = Literal["DAILY", "WEEKLY", "MONTHLY"]
_FREQUENCIES: dict[str, Frequency] = {"DAILY": "DAILY", "WEEKLY": "WEEKLY", "MONTHLY": "MONTHLY"}
DAY_CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")

# No net needs more; without a limit one wrong keystroke asks for millennia.
MOST_INTERVAL = 999
MOST_COUNT = 9999
# A month has at most five of a weekday.
MOST_ORDINAL = 5

_PARTS = ("FREQ", "INTERVAL", "BYMONTH", "BYMONTHDAY", "BYDAY", "BYSETPOS", "WKST", "COUNT", "UNTIL")
_PARTS_NOT_FOR_NETS = ("BYSECOND", "BYMINUTE", "BYHOUR", "BYYEARDAY", "BYWEEKNO")
_UNTIL_FORM = "%Y%m%dT%H%M%SZ"

_Value = TypeVar("_Value")


class RuleError(ValueError):
    """A recurrence rule that cannot be used; the message is a sentence. Attribute: `part` at fault, or ""."""

    def __init__(self, sentence: str, part: str = "") -> None:
        self.part = part
        super().__init__(sentence)


class UnreadableRule(RuleError):
    """The text does not have the form of a rule, or a number in it is out of range."""


class UnsupportedRule(RuleError):
    """A rule that RFC 5545 allows and nets do not use."""


class ContradictoryRule(RuleError):
    """Parts that RFC 5545 forbids together."""


class NeverMeets(RuleError):
    """A rule that reads well and has no occurrence at all, such as 31 February."""


@dataclass(frozen=True, slots=True)
class Weekday:
    """A day of the week, Monday 0 to Sunday 6, and which in the month: 1 to 5, -1 the last, 0 every one."""

    day: int
    ordinal: int = 0

    @property
    def code(self) -> str:
        return DAY_CODES[self.day]

    def __str__(self) -> str:
        return f"{self.ordinal or ''}{self.code}"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule as read. Raises a `RuleError` where parts do not go together, however it is made.

    `by_month_day` and `by_set_pos` count from the end when negative; `week_start` is Monday 0; `until` is
    aware UTC and inclusive. `str(rule)` is the RFC 5545 text in one settled order.
    """

    frequency: Frequency
    interval: int = 1
    by_month: tuple[int, ...] = ()
    by_month_day: tuple[int, ...] = ()
    by_weekday: tuple[Weekday, ...] = ()
    by_set_pos: tuple[int, ...] = ()
    week_start: int = 0
    count: int | None = None
    until: datetime | None = None

    def __post_init__(self) -> None:
        if self.count is not None and self.until is not None:
            raise ContradictoryRule(
                "A rule ends by COUNT or by UNTIL, not both: leave one of them out.", "COUNT"
            )
        if self.frequency == "WEEKLY" and self.by_month_day:
            raise ContradictoryRule(
                "BYMONTHDAY does not go with FREQ=WEEKLY: use FREQ=MONTHLY for days of the month.",
                "BYMONTHDAY",
            )
        numbered = [str(weekday) for weekday in self.by_weekday if weekday.ordinal]
        if numbered and self.frequency != "MONTHLY":
            raise ContradictoryRule(
                f"{numbered[0]} numbers a weekday within a month, so it needs FREQ=MONTHLY.", "BYDAY"
            )
        if self.by_set_pos and not (self.by_month or self.by_month_day or self.by_weekday):
            raise ContradictoryRule(
                "BYSETPOS picks among days that another BY part gives; add BYDAY.", "BYSETPOS"
            )
        if self.by_set_pos and self.frequency == "DAILY":
            raise UnsupportedRule(
                "BYSETPOS picks among the days of a week or a month, not of a day.", "BYSETPOS"
            )
        if self.until is not None and self.until.utcoffset() is None:
            raise UnreadableRule("UNTIL must be a time in UTC.", "UNTIL")

    @classmethod
    def parse(cls, text: str) -> Rule:
        """Read RFC 5545 text, with or without a leading "RRULE:", in any case and any order of parts.

        Raises `UnreadableRule`, `UnsupportedRule` or `ContradictoryRule`.
        """
        parts = _split(text)
        if "FREQ" not in parts:
            raise UnreadableRule("A rule must say FREQ=DAILY, FREQ=WEEKLY or FREQ=MONTHLY.", "FREQ")
        return cls(
            frequency=_frequency(parts["FREQ"]),
            interval=_whole("INTERVAL", parts.get("INTERVAL", "1"), MOST_INTERVAL),
            by_month=_each(parts, "BYMONTH", lambda item: _whole("BYMONTH", item, 12)),
            by_month_day=_each(parts, "BYMONTHDAY", lambda item: _signed("BYMONTHDAY", item, 31)),
            by_weekday=_each(parts, "BYDAY", _weekday),
            by_set_pos=_each(parts, "BYSETPOS", lambda item: _signed("BYSETPOS", item, 366)),
            week_start=_plain_day(parts.get("WKST", "MO")),
            count=_whole("COUNT", parts["COUNT"], MOST_COUNT) if "COUNT" in parts else None,
            until=_until(parts["UNTIL"]) if "UNTIL" in parts else None,
        )

    def __str__(self) -> str:
        written = {
            "FREQ": self.frequency,
            "INTERVAL": str(self.interval) if self.interval > 1 else "",
            "BYMONTH": _joined(self.by_month),
            "BYMONTHDAY": _joined(self.by_month_day),
            "BYDAY": _joined(self.by_weekday),
            "BYSETPOS": _joined(self.by_set_pos),
            "WKST": DAY_CODES[self.week_start] if self.week_start else "",
            "COUNT": "" if self.count is None else str(self.count),
            "UNTIL": "" if self.until is None else self.until.astimezone(UTC).strftime(_UNTIL_FORM),
        }
        return ";".join(f"{part}={value}" for part, value in written.items() if value)

    def anchored(self, first: datetime) -> Rule:
        """The same rule with the day that RFC 5545 takes from the start written out."""
        if self.frequency == "WEEKLY" and not self.by_weekday:
            return replace(self, by_weekday=(Weekday(first.weekday()),))
        if self.frequency == "MONTHLY" and not (self.by_weekday or self.by_month_day):
            return replace(self, by_month_day=(first.day,))
        return self


def _split(text: str) -> dict[str, str]:
    body = text.strip().upper().removeprefix("RRULE:")
    parts: dict[str, str] = {}
    for piece in body.split(";"):
        name, equals, value = (bit.strip() for bit in piece.partition("="))
        if not (name and equals and value):
            raise UnreadableRule(
                f"“{piece.strip()}” in the rule is not of the form NAME=VALUE, such as FREQ=WEEKLY;BYDAY=TU."
            )
        if name in _PARTS_NOT_FOR_NETS:
            raise UnsupportedRule(
                f"{name} is not used here: the time of day is the net's own start time, and days are chosen "
                "by BYDAY or BYMONTHDAY.",
                name,
            )
        if name not in _PARTS:
            raise UnreadableRule(f"{name} is no part of a rule; the parts are {', '.join(_PARTS)}.", name)
        if name in parts:
            raise UnreadableRule(f"{name} is given twice; give it once.", name)
        parts[name] = value
    return parts


def _frequency(value: str) -> Frequency:
    if value in _FREQUENCIES:
        return _FREQUENCIES[value]
    if value in {"SECONDLY", "MINUTELY", "HOURLY", "YEARLY"}:
        raise UnsupportedRule(
            f"FREQ={value} is not used for nets; use DAILY, WEEKLY or MONTHLY, with BYMONTH for a season.",
            "FREQ",
        )
    raise UnreadableRule(f"FREQ={value} is not known; use DAILY, WEEKLY or MONTHLY.", "FREQ")


def _each(parts: dict[str, str], name: str, read: Callable[[str], _Value]) -> tuple[_Value, ...]:
    """Read a comma-separated list, in order, each value once."""
    items = parts[name].split(",") if name in parts else []
    return tuple(dict.fromkeys(read(item.strip()) for item in items))


def _whole(name: str, value: str, most: int) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", value) or not 1 <= int(value) <= most:
        raise UnreadableRule(f"{name}={value} is not a whole number from 1 to {most}.", name)
    return int(value)


def _signed(name: str, value: str, most: int) -> int:
    if not re.fullmatch(r"[+-]?[0-9]{1,3}", value) or not 1 <= abs(int(value)) <= most:
        raise UnreadableRule(
            f"{name}={value} is not from 1 to {most}, or from -{most} to -1 for the end.", name
        )
    return int(value)


def _plain_day(value: str) -> int:
    if value not in DAY_CODES:
        raise UnreadableRule(f"WKST={value} is not a day; the days are {', '.join(DAY_CODES)}.", "WKST")
    return DAY_CODES.index(value)


def _weekday(value: str) -> Weekday:
    match = re.fullmatch(r"([+-]?[0-9]{1,2})?([A-Z]{2})", value)
    if not match or match[2] not in DAY_CODES:
        raise UnreadableRule(
            f"BYDAY={value} is not a day; write {', '.join(DAY_CODES)}, or number one, as in 1TU or -1SU.",
            "BYDAY",
        )
    ordinal = int(match[1]) if match[1] else 0
    if match[1] and not 1 <= abs(ordinal) <= MOST_ORDINAL:
        raise UnreadableRule(
            f"BYDAY={value}: a weekday comes at most {MOST_ORDINAL} times a month; number it 1 to "
            f"{MOST_ORDINAL}, or -1 (the last) to -{MOST_ORDINAL}.",
            "BYDAY",
        )
    return Weekday(DAY_CODES.index(match[2]), ordinal)


def _until(value: str) -> datetime:
    try:
        return datetime.strptime(value, _UNTIL_FORM).replace(tzinfo=UTC)
    except ValueError as problem:
        raise UnreadableRule(
            f"UNTIL={value} is not a date and time in UTC, such as 20261224T235959Z. RFC 5545 asks for UTC "
            "because the net's start has a time zone.",
            "UNTIL",
        ) from problem


def _joined(values: Iterable[object]) -> str:
    return ",".join(str(value) for value in values)
