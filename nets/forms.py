"""Forms of the nets: what a person types, checked by the verbs that will use it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from clubops.members.models import Member
from nets import conflicts, duties
from nets.models import Duty, Net


class NetForm(forms.ModelForm):
    """A net; refused when it would meet another net on the same or a linked relay."""

    class Meta:
        model = Net
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        complete = all(
            cleaned.get(name) for name in ("rule", "first_date", "start_time", "zone", "duration_min")
        )
        if complete and not self.errors:
            for name, value in cleaned.items():
                if name in {field.name for field in Net._meta.concrete_fields}:
                    setattr(self.instance, name, value)
            if clash := conflicts.clash_of_nets(self.instance, now=timezone.now()):
                raise ValidationError(clash.sentence, code="clash")
        return cleaned


class DutyForm(forms.ModelForm):
    """A chair and who takes it. Refused with the margin and the reason when the path is not usable."""

    overruling_officer: Member | None = None

    class Meta:
        model = Duty
        fields = ["session", "role", "member", "station", "is_locked", "overrule_reason"]

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
