"""What a member may change about themselves."""

from __future__ import annotations

from django import forms

from clubops.clock import zone_names
from clubops.members.models import Member


class OwnDetailsForm(forms.ModelForm):
    """Contact and reminders; the roster's facts (call sign, licence) are an officer's to change."""

    zone = forms.ChoiceField(
        choices=[(name, name.replace("_", " ")) for name in zone_names()],
        label="Your time zone",
        help_text="Reminders and your calendar speak in it.",
    )

    class Meta:
        model = Member
        fields = ["email", "wants_reminders", "zone"]
        labels = {"email": "E-mail", "wants_reminders": "Send me reminders of my duties"}
        help_texts = {"email": "Where reminders go. Only you and the club's officers see it."}

    def save(self, commit: bool = True) -> Member:
        if "email" in self.changed_data:
            self.instance.email_problem = ""  # a new address deserves a new try
        return super().save(commit)
