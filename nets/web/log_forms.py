"""Forms of the log. They only carry what was typed; `nets.checkins.typed` decides what it means."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms

from clubops.members.models import Member
from nets.checkins import rollcall
from nets.checkins.typed import Evening
from nets.models import CheckIn, Duty, Session

PLAIN = {"autocomplete": "off", "spellcheck": "false"}


def ways_in(evening: Evening, tonight: int | None) -> list[tuple[str, str]]:
    """What the field "via" offers: tonight's way first."""
    relays = [(f"relay:{each.pk}", each.name) for each in evening.relays]
    others = [
        (CheckIn.Via.LINK.value, "link"),
        (CheckIn.Via.SIMPLEX.value, "simplex"),
        (CheckIn.Via.STATION.value, "through another station"),
    ]
    if tonight is None:
        return [others[1], others[2], others[0], *relays]
    return [*relays, *others]


class EntryForm(forms.Form):
    """One check-in. Without script it is posted as it is; with script the browser keeps and sends it."""

    call_sign = forms.CharField(
        label="Call sign",
        max_length=40,
        widget=forms.TextInput(
            attrs=PLAIN | {"autocapitalize": "characters", "autofocus": True, "enterkeyhint": "done"}
        ),
        error_messages={"required": "Type a call sign, or as much of it as you heard, such as 2AAA."},
    )
    report = forms.CharField(
        label="Report",
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs=PLAIN | {"inputmode": "numeric"}),
    )
    traffic = forms.ChoiceField(label="Traffic", required=False, choices=CheckIn.Traffic.choices)
    via = forms.ChoiceField(label="Via", required=False)
    via_note = forms.CharField(
        label="Via, in detail",
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs=PLAIN),
    )
    name = forms.CharField(label="Name", required=False, max_length=120, widget=forms.TextInput(attrs=PLAIN))
    place = forms.CharField(
        label="Place", required=False, max_length=120, widget=forms.TextInput(attrs=PLAIN)
    )
    time = forms.CharField(
        label="Time, if earlier", required=False, max_length=40, widget=forms.TextInput(attrs=PLAIN)
    )
    notes = forms.CharField(
        label="Notes", required=False, max_length=2000, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, evening: Evening, tonight: int | None, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "entry_%s")
        super().__init__(*args, **kwargs)
        via = self.fields["via"]
        assert isinstance(via, forms.ChoiceField)
        self.ways = ways_in(evening, tonight)
        via.choices = self.ways
        self.fields["key"].initial = uuid.uuid4

    @property
    def typed(self) -> dict[str, Any]:
        """The fields by name, as `entries.record` takes them."""
        return {name: value for name, value in self.cleaned_data.items() if name != "key"}


class CorrectionForm(EntryForm):
    """The same fields with what the log says now, and whether the entry is struck out."""

    is_struck = forms.BooleanField(
        label="Struck out: this entry was a mistake",
        required=False,
        help_text="It stays readable and can come back.",
    )

    field_order = [
        "call_sign",
        "name",
        "place",
        "report",
        "via",
        "via_note",
        "traffic",
        "time",
        "notes",
        "is_struck",
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["time"].label = "Time"
        self.fields["time"].help_text = "On the net's clock, such as 19:42, or 2342z for UTC."
        self.fields["report"].help_text = "Readability 1 to 5 and strength 1 to 9, such as 59; or words."
        self.fields["call_sign"].widget.attrs.pop("autofocus", None)
        via = self.fields["via"]
        assert isinstance(via, forms.ChoiceField)
        if self.initial.get("via") == CheckIn.Via.RELAY:
            via.choices = [(CheckIn.Via.RELAY.value, "a relay that is no longer on record"), *self.ways]


class OpeningForm(forms.Form):
    """Who is net control tonight, and whom to put on the roll."""

    net_control = forms.ModelChoiceField(
        queryset=Member.objects.none(), required=False, label="Net control tonight", empty_label="Not said"
    )
    roll = forms.ChoiceField(
        label="Roll call",
        required=False,
        choices=[("", "no list")]
        + [(order, f"regulars {words}") for order, words in rollcall.ORDERS.items()],
    )

    def __init__(self, *args: Any, session: Session, writer: Member | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        duties = list(session.duties.exclude(state=Duty.State.DECLINED).select_related("member"))
        seated = next((duty.member_id for duty in duties if duty.role == Duty.Role.NET_CONTROL), None)
        people = Member.objects.filter(is_active=True)
        chosen = {duty.member_id for duty in duties} | ({writer.pk} if writer else set())
        who = self.fields["net_control"]
        assert isinstance(who, forms.ModelChoiceField)
        who.queryset = people.filter(takes_the_chair=True) | people.filter(pk__in=chosen)
        who.initial = seated or (writer.pk if writer else None)


class SheetForm(forms.Form):
    """A table of check-ins: a file, or pasted text. The text is kept through every preview."""

    file = forms.FileField(
        label="A CSV file", required=False, help_text="With a line of headings. At most 1 MB."
    )
    text = forms.CharField(
        label="Or the table itself",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
        help_text="Headings that are understood: Call sign, Name, Place, Time, Date, UTC, Report, Via, Via note, "
        "Traffic, Notes. Only the call sign must be there.",
    )
    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
