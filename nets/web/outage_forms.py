"""The form of an outage. Times are typed by the club's clocks; what they mean in UTC is decided by clubops.clock."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Any

from django import forms
from django.conf import settings

from clubops import clock
from clubops.sentences import PlainSentences
from clubops.templatetags.measures import zone_words
from relays.models import Outage, Relay
from relays.outages import OutageRefused, Terms


def _date(label: str, **options: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **options)


def _time(label: str, **options: Any) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, widget=widget, **options)


class OutageForm(PlainSentences, forms.Form):
    """What is typed of an outage; `terms` once it is valid, `notes` what the clocks did to the times."""

    relay = forms.ModelChoiceField(queryset=Relay.objects.all(), label="Relay", empty_label="Choose a relay")
    kind = forms.ChoiceField(choices=Outage.Kind, label="Planned or not", initial=Outage.Kind.PLANNED)
    effect = forms.ChoiceField(choices=Outage.Effect, label="How far", initial=Outage.Effect.OFF_AIR)
    from_date = _date("From, date")
    from_time = _time("From, time")
    until_date = _date(
        "Until, date",
        required=False,
        help_text="Leave date and time empty while nobody knows; a planned outage has an end.",
    )
    until_time = _time("Until, time", required=False)
    reason = forms.CharField(
        max_length=200,
        label="Why",
        help_text="Everybody reads it, such as “New antenna”. No names, no gate codes.",
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, outage: Outage | None = None, **kwargs: Any) -> None:
        if outage is not None:
            kwargs["initial"] = _typed(outage)
        super().__init__(*args, **kwargs)
        self.outage = outage
        self.notes: list[str] = []
        self.fields["from_time"].help_text = f"Hours and minutes, {zone_words(settings.CLUB_ZONE)}."
        if outage is not None:
            del self.fields["relay"]
            if outage.kind == Outage.Kind.UNPLANNED:
                del self.fields["kind"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name, other in (("until_date", "until_time"), ("until_time", "until_date")):
            if not self.errors and cleaned.get(name) is None and cleaned.get(other) is not None:
                self.add_error(name, "Give both the date and the time of the end, or neither.")
        if not self.errors:
            self.terms = self._terms(cleaned)
        return cleaned

    def _terms(self, cleaned: dict[str, Any]) -> Terms:
        kind = cleaned.get("kind") or Outage.Kind.UNPLANNED
        begin = self._instant(cleaned["from_date"], cleaned["from_time"])
        has_end = cleaned.get("until_date") is not None
        end = self._instant(cleaned["until_date"], cleaned["until_time"]) if has_end else None
        if self.outage is not None:
            begin = _unless_same(begin, self.outage.starts_at) or begin
            end = _unless_same(end, self.outage.ends_at)
        return Terms(begin, end, cleaned["reason"], kind, cleaned["effect"])

    def _instant(self, date: dt.date, time: dt.time) -> dt.datetime:
        wall = dt.datetime.combine(date, time)
        if note := clock.shift_note(wall, settings.CLUB_ZONE):
            self.notes.append(note)
        return clock.to_utc(wall, settings.CLUB_ZONE).at

    def refuse(self, refusal: OutageRefused) -> None:
        """Put the sentence of a refusal beside the field it is about."""
        field = {"starts_at": "from_date", "ends_at": "until_date"}.get(refusal.field, refusal.field)
        self.add_error(field if field in self.fields else None, refusal.sentence)

    @property
    def stamp(self) -> str:
        """A mark of what is typed, so that what is saved is what was looked at."""
        relay = self.cleaned_data.get("relay") or self.outage
        said = f"{relay.pk if relay else ''}{self.terms}"
        return hashlib.sha256(said.encode()).hexdigest()[:16]


def _unless_same(typed: dt.datetime | None, stored: dt.datetime | None) -> dt.datetime | None:
    """The stored instant where the typed minute is its own: seconds, and the second pass of an hour, survive."""
    if typed is None or stored is None:
        return typed
    shown = clock.to_wall(stored, settings.CLUB_ZONE).replace(second=0, microsecond=0)
    return (
        stored
        if clock.to_wall(typed, settings.CLUB_ZONE).replace(tzinfo=None) == shown.replace(tzinfo=None)
        else typed
    )


def _typed(outage: Outage) -> dict[str, Any]:
    start = clock.to_wall(outage.starts_at, settings.CLUB_ZONE)
    end = clock.to_wall(outage.ends_at, settings.CLUB_ZONE) if outage.ends_at else None
    return {
        "kind": outage.kind,
        "effect": outage.effect,
        "from_date": start.date(),
        "from_time": start.time(),
        "until_date": end.date() if end else None,
        "until_time": end.time() if end else None,
        "reason": outage.reason,
    }
