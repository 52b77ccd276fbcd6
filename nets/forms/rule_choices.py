"""A recurrence rule as plain choices: the fields, how a rule fills them, and what they mean."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from nets import recurrence

WRITTEN = "written"
PATTERNS = [
    ("weekly", "on days of the week"),
    ("monthly_by_weekday", "on certain weekdays of the month"),
    ("monthly_by_day", "on certain days of the month"),
    ("daily", "every day"),
    (WRITTEN, "by a rule that is written out"),
]
EVERY = [
    (1, "every"), (2, "every other"), (3, "every third"), (4, "every fourth"), (5, "every fifth"),
    (6, "every sixth"), (12, "every twelfth"),
]  # fmt: skip
DAYS = [
    ("MO", "Monday"), ("TU", "Tuesday"), ("WE", "Wednesday"), ("TH", "Thursday"), ("FR", "Friday"),
    ("SA", "Saturday"), ("SU", "Sunday"),
]  # fmt: skip
ORDINALS = [
    (1, "first"), (2, "second"), (3, "third"), (4, "fourth"), (5, "fifth"), (-1, "last"), (-2, "second from last"),
]  # fmt: skip
MONTHS = list(
    enumerate(
        (
            "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
            "November", "December",
        ),
        start=1,
    )
)  # fmt: skip
_LAST = {"last": -1, "last day": -1}


class MonthDaysField(forms.CharField):
    """Days of the month as text, “1, 15, last”, to a tuple of numbers, -1 for the last."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        return tuple(_month_day(each) for each in re.split(r"[,;]|\band\b", text) if each.strip())

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, tuple | list):
            return ", ".join("last" if day == -1 else str(day) for day in value)
        return value


def _month_day(text: str) -> int:
    word = " ".join(text.lower().split())
    if word in _LAST:
        return -1
    found = re.fullmatch(r"(-?[0-9]{1,2})(?:st|nd|rd|th)?\.?", word)
    day = int(found[1]) if found else 0
    if not 1 <= abs(day) <= 31:
        raise ValidationError(
            "“%(given)s” is not a day of the month; write numbers from 1 to 31 with commas between them, or last.",
            params={"given": text.strip()},
        )
    return day


class RuleChoices(forms.Form):
    """The fields. `rule` keeps the written text; what the others mean is put there when they are cleaned."""

    pattern = forms.ChoiceField(
        choices=PATTERNS, widget=forms.RadioSelect, label="It meets", initial="weekly"
    )
    every = forms.TypedChoiceField(
        choices=EVERY,
        coerce=int,
        required=False,
        empty_value=None,
        label="How often",
        help_text="Every week, every other week, every third month and so on.",
    )
    days = forms.MultipleChoiceField(
        choices=DAYS, required=False, widget=forms.CheckboxSelectMultiple, label="On which days of the week"
    )
    ordinals = forms.TypedMultipleChoiceField(
        choices=ORDINALS,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Which of them in the month",
    )
    month_days = MonthDaysField(
        required=False,
        max_length=120,
        label="On which days of the month",
        help_text="Numbers with commas between them, such as 1, 15; “last” is the last day of any month.",
    )
    months = forms.TypedMultipleChoiceField(
        choices=MONTHS,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Only in these months",
        help_text="For a season. None ticked is all year.",
    )
    rule = forms.CharField(
        required=False,
        max_length=200,
        label="The rule, written out",
        help_text="For what the choices above cannot say: a recurrence rule as calendars write it (RFC 5545), "
        "such as FREQ=MONTHLY;BYDAY=TU;BYSETPOS=-2.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        chosen = ("pattern", "every", "days", "ordinals", "month_days", "months", "rule")
        if not any(name in self.errors for name in chosen):
            try:
                cleaned["rule"] = str(rule_of(cleaned))
            except _Missing as missing:
                self.add_error(missing.field, str(missing))
            except recurrence.RuleError as problem:
                self.add_error("rule" if cleaned["pattern"] == WRITTEN else "pattern", str(problem))
        return cleaned


class _Missing(ValueError):
    """A choice that the pattern needs."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


_NEEDED = {
    "weekly": [("days", "Tick at least one day of the week on which it meets.")],
    "monthly_by_weekday": [
        ("days", "Tick the day of the week on which it meets."),
        ("ordinals", "Tick which of them in the month it is, such as the first and the third."),
    ],
    "monthly_by_day": [
        ("month_days", "Write the days of the month on which it meets, such as 1, 15 or last.")
    ],
    "daily": [],
    WRITTEN: [("rule", "Write the rule, or choose one of the plain ways above.")],
}


def rule_of(chosen: dict[str, Any]) -> recurrence.Rule:
    """The rule that cleaned choices mean. Raises `recurrence.RuleError`, or names the choice that is missing."""
    pattern = chosen["pattern"]
    for field, sentence in _NEEDED[pattern]:
        if not chosen.get(field):
            raise _Missing(field, sentence)
    if pattern == WRITTEN:
        return recurrence.Rule.parse(chosen["rule"])
    by_weekday = pattern in ("weekly", "monthly_by_weekday")
    months = tuple(chosen.get("months") or ())
    return recurrence.PlainChoices(
        pattern=pattern,
        every=chosen.get("every") or 1,
        days=tuple(chosen["days"]) if by_weekday else (),
        ordinals=tuple(chosen["ordinals"]) if pattern == "monthly_by_weekday" else (),
        month_days=tuple(chosen["month_days"]) if pattern == "monthly_by_day" else (),
        months=() if len(months) == len(MONTHS) else months,
    ).rule()


def choices_of(rule: recurrence.Rule) -> dict[str, Any]:
    """What to fill in for a rule; one that the plain choices cannot say is shown as it is written."""
    plain = recurrence.plain_choices(rule)
    if plain is None or not _can_be_ticked(plain):
        return {"pattern": WRITTEN, "rule": str(rule), "every": 1}
    return {
        "pattern": plain.pattern,
        "every": plain.every,
        "days": list(plain.days),
        "ordinals": list(plain.ordinals),
        "month_days": plain.month_days,
        "months": list(plain.months),
        "rule": "",
    }


def _can_be_ticked(plain: recurrence.PlainChoices) -> bool:
    return (
        plain.count is None
        and plain.until is None
        and plain.every in dict(EVERY)
        and set(plain.ordinals) <= set(dict(ORDINALS))
    )
