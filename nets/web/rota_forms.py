"""Forms of the rota: what a draft is asked for, what somebody wishes, a turn on offer."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.db.models import QuerySet

from clubops import clock
from clubops.members.models import Member
from nets import swaps
from nets.models import Duty, Net, RotaDraft, SwapOffer, TurnWish
from nets.rota.draft import HORIZONS
from nets.rota.world import takers


class DraftForm(forms.ModelForm):
    """What a draft of the rota is asked for."""

    weeks = forms.TypedChoiceField(
        coerce=int,
        choices=list(HORIZONS.items()),
        initial=12,
        label="How far ahead",
        help_text="From now on.",
    )

    class Meta:
        model = RotaDraft
        fields = ["net", "weeks", "minimum_gap_days", "most_turns", "only_empty_chairs"]
        labels = {
            "net": "Net",
            "minimum_gap_days": "Days between two turns of one person",
            "most_turns": "Most turns of one person in a quarter",
            "only_empty_chairs": "Fill only the empty chairs",
        }
        help_texts = {
            "minimum_gap_days": "1 to 92, unless they wish for more: 7 is once a week at most, "
            "8 never two weeks running.",
            "most_turns": "Either chair, 1 to 26, unless they wish for fewer. Leave empty for no limit.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        net = self.fields["net"]
        assert isinstance(net, forms.ModelChoiceField)
        net.queryset, net.empty_label = Net.objects.filter(is_active=True), "Every net"


class WishForm(forms.ModelForm):
    """How often somebody wants to be in a chair at most."""

    class Meta:
        model = TurnWish
        fields = ["most_turns", "minimum_gap_days"]
        labels = {
            "most_turns": "Turns in a quarter at most",
            "minimum_gap_days": "Days between turns at least",
        }


class DutyChoice(forms.ModelChoiceField):
    """A turn by its holder, chair, net and date."""

    def label_from_instance(self, duty: Duty) -> str:
        date = duty.session.occurrence_date
        return f"{duty.member.call_sign}: {duty.get_role_display()} of {duty.session.net}, {date.day} {date:%B %Y}"


class MemberChoice(forms.ModelChoiceField):
    """A member by call sign and name."""

    def label_from_instance(self, member: Member) -> str:
        return f"{member.call_sign} {member.name}"


class OfferForm(forms.Form):
    """A turn of one's own, offered to somebody or to anybody."""

    to = MemberChoice(
        queryset=Member.objects.none(),
        required=False,
        label="To whom",
        empty_label="Anybody who can take it",
        help_text="Somebody named may take it or decline; nobody else sees the offer.",
    )
    in_return = DutyChoice(
        queryset=Duty.objects.none(),
        required=False,
        label="In return for",
        empty_label="Nothing: I only give mine away",
        help_text="A turn of theirs that you would take. It names the person you ask.",
    )
    last_day = forms.DateField(
        required=False,
        label="Open until the end of",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Leave empty for until the session begins.",
    )
    note = forms.CharField(required=False, max_length=200, label="A word with it")

    def __init__(self, *args: Any, duty: Duty, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.duty, self.now = duty, now
        self.made: SwapOffer | None = None
        for name, rows in (
            ("to", takers().exclude(pk=duty.member_id)),
            ("in_return", turns_to_ask_for(duty, now)),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        wanted: Duty | None = cleaned.get("in_return")
        to = cleaned.get("to") or (wanted.member if wanted else None)
        if self.errors:
            return cleaned
        if to and (why := swaps.obstacle(self.duty, to, in_return=wanted, now=self.now)):
            raise forms.ValidationError(f"{why} Ask somebody else.", code="unable")
        try:
            # Making the offer is the check: between the two somebody else could offer or take the turn.
            self.made = swaps.offer(
                self.duty,
                to=to,
                in_return=wanted,
                note=cleaned.get("note", ""),
                expires_at=self._end_of(cleaned.get("last_day")),
                now=self.now,
            )
        except swaps.SwapRefused as refusal:
            raise forms.ValidationError(str(refusal), code="refused") from None
        return cleaned

    def _end_of(self, day: dt.date | None) -> dt.datetime | None:
        return clock.local_day(day, self.duty.member.zone).end if day else None


def turns_to_ask_for(duty: Duty, now: dt.datetime) -> QuerySet[Duty]:
    """Coming turns of other people, earliest first."""
    return (
        Duty.objects.filter(session__starts_at__gt=now, session__state="scheduled")
        .exclude(member=duty.member)
        .exclude(state=Duty.State.DECLINED)
        .select_related("member", "session__net")
        .order_by("session__starts_at", "-role")
    )
