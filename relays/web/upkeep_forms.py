"""Forms of the upkeep pages. What was typed stays when it is refused."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django import forms

from clubops.members.models import Member
from clubops.sentences import LIMITS, REQUIRED, PlainSentences
from relays.models import ReadingKind, Site, UpkeepTask
from relays.upkeep import keys, readings, records, renewals
from relays.upkeep.renewals import Paper

VALUE_PREFIX = "reading_"
BAD_TOKEN = "This form has lost its number; open the page again before you send it."


def _date_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def _number_input() -> forms.TextInput:
    # A plain text field with the right keyboard: browsers throw away what they take for no number.
    return forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})


class VisitForm(PlainSentences, forms.Form):
    """That a task was done, with the readings that belong to it."""

    done_on = forms.DateField(label="Done on", widget=_date_input())
    notes = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What you found, what you changed.",
    )
    token = forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"invalid": BAD_TOKEN, "required": BAD_TOKEN}
    )

    def __init__(self, *args: Any, task: UpkeepTask, today: dt.date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"done_on": today, "token": uuid.uuid4()})
        super().__init__(*args, **kwargs)
        self.task = task
        for kind in task.reading_kinds.filter(is_active=True):
            self.fields[f"{VALUE_PREFIX}{kind.pk}"] = value_field(kind)
        self.order_fields(
            ["done_on", *(name for name in self.fields if name.startswith(VALUE_PREFIX)), "notes"]
        )

    def visit(self, by: Member | None) -> records.Visit:
        """What a valid form says."""
        values = {
            int(name.removeprefix(VALUE_PREFIX)): value
            for name, value in self.cleaned_data.items()
            if name.startswith(VALUE_PREFIX) and value is not None
        }
        return records.Visit(
            done_on=self.cleaned_data["done_on"],
            by=by,
            notes=self.cleaned_data["notes"],
            values=values,
            token=self.cleaned_data["token"],
        )


def value_field(kind: ReadingKind, *, required: bool = False) -> forms.FloatField:
    """The field of one meter: its unit in the label, its limits in the help."""
    limits = readings.limits_in_words(kind)
    return forms.FloatField(
        label=f"{kind.name}, {kind.unit}" if kind.unit else kind.name,
        required=required,
        widget=_number_input(),
        min_value=-1e9,
        max_value=1e9,
        error_messages=LIMITS | {"required": REQUIRED},
        help_text=f"Usual: {limits}." if limits != "no limit is set" else "",
    )


class ReadingForm(PlainSentences, forms.Form):
    """One value off one meter, without a visit."""

    token = forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"invalid": BAD_TOKEN, "required": BAD_TOKEN}
    )

    def __init__(self, *args: Any, kind: ReadingKind, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"token": uuid.uuid4()})
        super().__init__(*args, **kwargs)
        self.fields["value"] = value_field(kind, required=True)


class RenewForm(PlainSentences, forms.Form):
    """The new last day of a paper."""

    paper = forms.ChoiceField(label="Which paper")
    until = forms.DateField(label="New last day", widget=_date_input())

    def __init__(self, *args: Any, papers: list[Paper], today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.papers = {each.key: each for each in papers}
        self.today = today
        field = self.fields["paper"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", "Choose a paper"),
            *(
                (key, f"{each.words}, {each.about}, until {each.expires_on}")
                for key, each in self.papers.items()
            ),
        ]

    def renew(self) -> Paper | None:
        """Renew what a valid form names; None, with the reason beside its field, when it is refused."""
        paper = self.papers[self.cleaned_data["paper"]]
        try:
            renewals.renew(paper, until=self.cleaned_data["until"], today=self.today)
        except renewals.RenewalRefused as refusal:
            self.add_error("until", str(refusal))
            return None
        return paper


class KeyForm(PlainSentences, forms.Form):
    """That somebody was given a key."""

    site = forms.ModelChoiceField(queryset=Site.objects.none(), empty_label="Choose a site")
    key = forms.CharField(max_length=60, label="Which key", help_text="Such as Gate 2, copy B.")
    member = forms.ModelChoiceField(
        queryset=Member.objects.none(), label="Given to", empty_label="Choose a member"
    )
    given_on = forms.DateField(label="On", widget=_date_input())
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"given_on": today})
        super().__init__(*args, **kwargs)
        self.today = today
        for name, rows in (("site", Site.objects.all()), ("member", Member.objects.filter(is_active=True))):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows

    def hand_out(self) -> bool:
        """Note what a valid form says; False, with the reason on the form, when it is refused."""
        given = self.cleaned_data
        try:
            keys.hand_out(
                given["site"],
                given["member"],
                given["key"],
                given_on=given["given_on"],
                today=self.today,
                note=given["note"],
            )
        except keys.KeyRefused as refusal:
            self.add_error("key", str(refusal))
            return False
        return True
