"""Forms on the club's own pages."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from clubops.members.models import Member, Station
from nets import duties
from nets.models import Absence, Duty, Session


class ChairForm(forms.Form):
    """Who takes a chair, and from where. What was typed stays when the path is refused."""

    member = forms.ModelChoiceField(
        queryset=Member.objects.none(), label="Who", empty_label="Choose a member"
    )
    station = forms.ModelChoiceField(
        queryset=Station.objects.none(),
        required=False,
        label="From which station",
        empty_label="Their main station",
    )
    overrule_reason = forms.CharField(
        required=False,
        max_length=300,
        label="Reason for overruling the path",
        help_text="Only for an officer, and only when the path is refused. It is shown beside the duty.",
    )

    def __init__(
        self, *args: Any, session: Session, role: str, officer: Member | None, now: dt.datetime, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.session, self.role, self.officer, self.now = session, role, officer, now
        self.duty: Duty | None = None
        active = Member.objects.filter(is_active=True)
        who, station = self.fields["member"], self.fields["station"]
        assert isinstance(who, forms.ModelChoiceField)
        assert isinstance(station, forms.ModelChoiceField)
        who.queryset = active
        station.queryset = Station.objects.filter(member__in=active).select_related("member")
        if officer is None:
            del self.fields["overrule_reason"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if member := cleaned.get("member"):
            station = duties.station_for(member, cleaned.get("station"))
            self._assign(duties.Chair(self.session, self.role, member, station))
        return cleaned

    def _assign(self, chair: duties.Chair) -> None:
        """Assigning is the check: between a check and an assignment somebody else could take the chair."""
        try:
            self.duty = duties.assign(
                chair,
                now=self.now,
                overruled_by=self.officer,
                overrule_reason=self.cleaned_data.get("overrule_reason", ""),
            )
        except duties.DutyRefused as refusal:
            self.add_error("station" if refusal.may_be_overruled else "member", refusal.sentence)

    def assign(self) -> Duty:
        """The duty that a valid form has given."""
        assert self.duty is not None, "ask is_valid() first"
        return self.duty


class AbsenceForm(forms.ModelForm):
    """Days away."""

    class Meta:
        model = Absence
        fields = ["first_date", "last_date", "note"]
        widgets = {
            "first_date": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "last_date": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }
        labels = {"first_date": "First day away", "last_date": "Last day away", "note": "Note, if you like"}
