"""Small forms by which one session departs from its rule. Each calls the verb that checks and saves."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from clubops import clock
from clubops.sentences import PlainSentences
from clubops.templatetags.measures import wall_time, whole_date, zone_words
from nets import departures
from nets.models import Net, Session
from nets.schedule import Terms
from relays.models import Relay


def _date_field() -> forms.DateField:
    return forms.DateField(label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


def _time_field() -> forms.TimeField:
    return forms.TimeField(label="Time", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))


def _clock_words(zone: str) -> str:
    return f"Hours and minutes, {zone_words(zone)}."


def _offer_relays(field: forms.Field, terms: Terms) -> None:
    """Every relay but the usual one, which is what an empty choice means."""
    assert isinstance(field, forms.ModelChoiceField)
    usual = terms.relay
    field.empty_label = f"{usual.name}, as always" if usual else f"{terms.simplex_mhz:.3f} MHz, as always"
    if usual is not None:
        field.queryset = Relay.objects.exclude(pk=usual.pk)


class DepartureForm(PlainSentences, forms.Form):
    """One thing that may be done to a session. A valid form has done it: checking and doing are one."""

    what = ""
    title = ""
    button = ""
    careful = False

    def __init__(self, *args: Any, session: Session, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, auto_id=f"id_{self.what}_%s", **kwargs)
        self.session, self.now = session, now

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors:
            try:
                self.session = self.depart(cleaned)
            except departures.DepartureRefused as refusal:
                self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))
        return cleaned

    def depart(self, cleaned: dict[str, Any]) -> Session:
        """Do it. Raises `departures.DepartureRefused`."""
        raise NotImplementedError

    def done(self) -> str:
        """What to say afterwards."""
        raise NotImplementedError


class CallOffForm(DepartureForm):
    what, title, button, careful = "call-off", "Call it off", "Call this session off", True

    reason = forms.CharField(
        max_length=200,
        label="Why",
        help_text="Everybody reads it, such as “Storm warning” or “No net control found”.",
    )

    def depart(self, cleaned: dict[str, Any]) -> Session:
        return departures.call_off(self.session, reason=cleaned["reason"], now=self.now)

    def done(self) -> str:
        return "The session is called off. Calendars follow, and whoever was told of a duty in it is told of this."


class PutBackForm(DepartureForm):
    what, title, button = "put-back", "Put it back", "Put this session back"

    def depart(self, cleaned: dict[str, Any]) -> Session:
        return departures.put_back(self.session, now=self.now)

    def done(self) -> str:
        return "The session will take place after all."


class MoveForm(DepartureForm):
    what, title, button = "move", "Move it to another time", "Move this session"

    date = _date_field()
    time = _time_field()

    def __init__(self, *args: Any, session: Session, now: dt.datetime, **kwargs: Any) -> None:
        wall = clock.to_wall(session.starts_at, session.net.zone)
        kwargs.setdefault("initial", {"date": wall.date(), "time": wall.time()})
        super().__init__(*args, session=session, now=now, **kwargs)
        self.fields["time"].help_text = _clock_words(session.net.zone)

    def depart(self, cleaned: dict[str, Any]) -> Session:
        self.wall = dt.datetime.combine(cleaned["date"], cleaned["time"])
        return departures.move(self.session, wall=self.wall, now=self.now)

    def done(self) -> str:
        zone = self.session.net.zone
        note = clock.shift_note(self.wall, zone)
        return f"Moved to {wall_time(clock.to_utc(self.wall, zone).at, zone)}. {note}".strip()


class RelayForm(DepartureForm):
    what, title, button = "relay", "Meet on another relay", "Use this relay"

    relay = forms.ModelChoiceField(
        queryset=Relay.objects.all(),
        required=False,
        label="For this session only",
        help_text="Everybody in a chair needs a path to it; you are told who has none.",
    )

    def __init__(self, *args: Any, session: Session, now: dt.datetime, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"relay": session.relay_id})
        super().__init__(*args, session=session, now=now, **kwargs)
        _offer_relays(self.fields["relay"], session.terms)

    def depart(self, cleaned: dict[str, Any]) -> Session:
        return departures.use_relay(self.session, relay=cleaned["relay"], now=self.now)

    def done(self) -> str:
        relay = self.session.relay_in_use
        return f"This session is on {relay.name if relay else 'the usual frequency'}."


FORMS: dict[str, type[DepartureForm]] = {
    form.what: form for form in (MoveForm, RelayForm, CallOffForm, PutBackForm)
}


def offered(session: Session, *, now: dt.datetime, bound: DepartureForm | None = None) -> list[DepartureForm]:
    """What may be done to the session now; the form that was just refused stands with what was typed."""
    if session.starts_at <= now:
        return []
    kinds = [PutBackForm] if session.state == Session.State.CANCELLED else [MoveForm, RelayForm, CallOffForm]
    unbound = [kind(session=session, now=now) for kind in kinds]
    return [bound if bound is not None and bound.what == each.what else each for each in unbound]


class ExtraForm(PlainSentences, forms.Form):
    """A session on a date on which the net's rule has none."""

    date = _date_field()
    time = _time_field()
    relay = forms.ModelChoiceField(queryset=Relay.objects.all(), required=False, label="Relay")
    note = forms.CharField(
        required=False,
        max_length=200,
        label="Note",
        help_text="Everybody reads it, such as “Field day special”.",
    )

    def __init__(self, *args: Any, net: Net, now: dt.datetime, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"time": net.start_time})
        super().__init__(*args, **kwargs)
        self.net, self.now = net, now
        self.session: Session | None = None
        self.fields["time"].help_text = _clock_words(net.zone)
        _offer_relays(self.fields["relay"], net)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors:
            wall = dt.datetime.combine(cleaned["date"], cleaned["time"])
            try:
                self.session = departures.add_extra(
                    self.net, wall=wall, relay=cleaned["relay"], note=cleaned["note"], now=self.now
                )
            except departures.DepartureRefused as refusal:
                self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))
        return cleaned

    def done(self) -> str:
        wall = dt.datetime.combine(self.cleaned_data["date"], self.cleaned_data["time"])
        note = clock.shift_note(wall, self.net.zone)
        return f"An extra session is planned on {wall:%A} {whole_date(wall.date())}. {note}".strip()
