"""A chair and who takes it, in the office."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone

from clubops.members.models import Member
from clubops.sentences import PlainSentences
from clubops.templatetags.measures import wall_time
from nets import duties
from nets.models import Duty, Session


class SessionField(forms.ModelChoiceField):
    """Sessions by their net and the net's own wall time."""

    def label_from_instance(self, session: Session) -> str:
        return f"{session.net.name}, {wall_time(session.starts_at, session.net.zone)}"


class DutyForm(PlainSentences, forms.ModelForm):
    """A chair and who takes it. Refused with the margin and the reason when the path is not usable."""

    overruling_officer: Member | None = None

    session = SessionField(queryset=Session.objects.none(), empty_label="Choose a session")

    class Meta:
        model = Duty
        fields = ["session", "role", "member", "station", "is_locked", "overrule_reason"]
        help_texts = {
            "station": "Left empty, their main station is taken.",
            "is_locked": "Kept as it is when the rota is made again.",
            "overrule_reason": "Only for an officer, and only when the path is refused. Shown beside the duty.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        coming = Q(ends_at__gt=timezone.now(), state=Session.State.SCHEDULED, net__is_active=True)
        choice = self.fields.get("session")  # not there for somebody who may only look
        if isinstance(choice, forms.ModelChoiceField):
            choice.queryset = Session.objects.filter(coming | Q(pk=self.instance.session_id)).select_related(
                "net"
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        session, member, role = (cleaned.get(name) for name in ("session", "member", "role"))
        if not (session and member and role):
            return cleaned
        station = duties.station_for(member, cleaned.get("station"))
        cleaned["station"] = station
        reason = (cleaned.get("overrule_reason") or "").strip()
        try:
            duties.check(duties.Chair(session, role, member, station), now=timezone.now())
            cleaned["overrule_reason"] = ""
        except duties.DutyRefused as refusal:
            self._take_or_refuse(refusal, reason)
        return cleaned

    def _take_or_refuse(self, refusal: duties.DutyRefused, reason: str) -> None:
        """Accept a weak path only with an officer's reason; say what would be accepted otherwise."""
        if not refusal.may_be_overruled:
            raise ValidationError(refusal.sentence, code="refused")
        if self.overruling_officer is None:
            raise ValidationError(f"{refusal.sentence} An officer may overrule this.", code="no_path")
        if len(reason) < duties.MINIMUM_REASON:
            self.add_error(
                "overrule_reason",
                ValidationError(
                    f"{refusal.sentence} To put them there all the same, write the reason here, "
                    f"at least {duties.MINIMUM_REASON} characters.",
                    code="no_path",
                ),
            )
            return
        self.instance.overruled_by = self.overruling_officer
