"""What a person may choose about their notices."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings

from clubops.notices import kinds, languages
from clubops.notices.models import Choice


class ChoiceForm(forms.ModelForm):
    """Which notices, in one mail or several, and when not."""

    class Meta:
        model = Choice
        fields = ["language", "one_mail", "quiet_from", "quiet_until"]
        labels = {"quiet_from": "No mail from", "quiet_until": "until"}
        widgets = {
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = [(kind.name, kind.words.capitalize()) for kind in kinds.declinable()]
        self.fields["wanted"] = forms.MultipleChoiceField(
            choices=names,
            required=False,
            label="Send me",
            widget=forms.CheckboxSelectMultiple,
            help_text="Mail that belongs to an office you hold, such as net manager, comes in any case.",
        )
        spoken = languages.known()
        self.fields["language"] = forms.ChoiceField(
            choices=[
                ("", f"As the club: {spoken.get(settings.CLUB_LANGUAGE, settings.CLUB_LANGUAGE)}"),
                *spoken.items(),
            ],
            required=False,
            label="Write to me in",
            help_text="Your mail and your calendar of duties. These pages are in English.",
        )
        self.order_fields(["wanted", "language", "one_mail"])
        self.initial["wanted"] = [name for name, _words in names if name not in self.instance.unwanted]
        hours = settings.NOTICES_QUIET_HOURS
        self.fields["quiet_from"].help_text = f"Your own time. Empty for the club's quiet hours ({hours})."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        start, end = cleaned.get("quiet_from"), cleaned.get("quiet_until")
        if start is not None and start == end:
            self.add_error(
                "quiet_until",
                f"They would begin and end at {start:%H:%M}; give two different times, or none.",
            )
        return cleaned

    def save(self, commit: bool = True) -> Choice:
        self.instance.unwanted = [
            kind.name for kind in kinds.declinable() if kind.name not in self.cleaned_data["wanted"]
        ]
        choice: Choice = super().save(commit)
        return choice
