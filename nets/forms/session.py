"""A session in the office: moved by wall time in the net's own zone."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone

from clubops import clock
from clubops.sentences import PlainSentences
from nets import departures, schedule
from nets.models import EarlierRule, Session


class OfficeSessionForm(PlainSentences, forms.ModelForm):
    """One session. Validate it inside the transaction that saves it: it holds the lock of the schedule."""

    moved_date = forms.DateField(
        required=False,
        label="Moved to the date",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Leave both empty while it meets when its rule says.",
    )
    moved_time = forms.TimeField(
        required=False,
        label="and the time",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="Hours and minutes by the net's own clock.",
    )

    class Meta:
        model = Session
        fields = ["net", "occurrence_date", "relay", "state", "note"]
        labels = {"occurrence_date": "Date by the rule", "relay": "Another relay, this once"}
        help_texts = {
            "occurrence_date": "In the net's own zone. It is what the session is known by, so it stays when the "
            "session is moved. A date that the rule does not give makes an extra session.",
            "note": "Shown to everybody. Say here why a session is called off.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = timezone.now()
        row = self.instance
        if row.pk:
            for name in ("net", "occurrence_date"):
                if name in self.fields:
                    self.fields[name].disabled = True
            if row.moved_to:
                wall = clock.to_wall(row.moved_to, row.net.zone)
                self.initial.update(moved_date=wall.date(), moved_time=wall.time())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        date, time = cleaned.get("moved_date"), cleaned.get("moved_time")
        if (date is None) != (time is None) and not {"moved_date", "moved_time"} & set(self.errors):
            missing = "moved_time" if time is None else "moved_date"
            self.add_error(missing, "A session that is moved needs a date and a time; give both or neither.")
        return cleaned

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.errors:
            return
        row, date, time = self.instance, self.cleaned_data["moved_date"], self.cleaned_data["moved_time"]
        terms = schedule.terms_on(row.net, row.occurrence_date)
        row.earlier_rule = terms if isinstance(terms, EarlierRule) else None
        row.moved_to = clock.to_utc(dt.datetime.combine(date, time), row.net.zone).at if date else None
        row.starts_at = row.moved_to or schedule.rule_start(row.net, row.occurrence_date)
        row.ends_at = row.starts_at + terms.duration
        try:
            departures.require_possible(row, now=self.now)
        except departures.DepartureRefused as refusal:
            self.add_error(None, str(refusal))
