"""Error messages of form fields as sentences that repeat what was given and say what would be right."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

REQUIRED = "Nothing was given here, and it is needed."
LIMITS = {
    "max_value": "%(show_value)s is too much; give at most %(limit_value)s.",
    "min_value": "%(show_value)s is too little; give at least %(limit_value)s.",
    "invalid_choice": "“%(value)s” is not one of the choices; take one of the list.",
    "invalid_list": "Choose from the list.",
    "max_length": "This has %(show_value)s characters; at most %(limit_value)s can be kept.",
}
# By the kind of the field, what text that cannot be read should have been.
SHOULD_BE: tuple[tuple[type[forms.Field], str], ...] = (
    (forms.DateField, "a date; write year, month and day, such as 2026-03-10"),
    (forms.TimeField, "a time of day; write hours and minutes, such as 19:30"),
    (forms.DecimalField, "a number; write it with a point, such as 146.55"),
    (forms.FloatField, "a number; write it with a point, such as 0.8"),
    (forms.IntegerField, "a whole number, such as 60"),
    (forms.SlugField, "fit for an address; use small letters, digits and hyphens"),
)


class PlainSentences(forms.BaseForm):
    """A form whose fields answer in sentences. Messages that a field was given itself are left alone."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            own = type(field).default_error_messages
            for code, words in (LIMITS | {"required": REQUIRED}).items():
                if field.error_messages.get(code) in (
                    None,
                    own.get(code),
                    forms.Field.default_error_messages.get(code),
                ):
                    field.error_messages[code] = words

    def add_error(self, field: str | None, error: Any) -> None:
        """Let text that could not be read be told back."""
        if (
            field in self.fields
            and isinstance(error, ValidationError)
            and getattr(error, "code", "") == "invalid"
        ):
            error = self._told_back(field, error)
        super().add_error(field, error)

    def _told_back(self, name: str, error: ValidationError) -> ValidationError:
        given = self[name].data
        kind = next((words for kind, words in SHOULD_BE if isinstance(self.fields[name], kind)), "")
        if not (kind and isinstance(given, str)):
            return error
        return ValidationError(f"“{given.strip()}” is not {kind}.", code="invalid")
