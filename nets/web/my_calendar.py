"""A member's private calendar: its address, and the alarm it gives."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from clubops.members.models import Member
from nets import feeds
from nets.feeds.addresses import live_key
from nets.web.access import own_entry, roster_only

NO_ALARM = "none"
ALARMS = (
    (NO_ALARM, "no alarm"),
    ("15", "15 minutes"),
    ("30", "30 minutes"),
    ("60", "1 hour"),
    ("120", "2 hours"),
    ("1440", "1 day"),
)


def _minutes(choice: str) -> int | None:
    return None if choice == NO_ALARM else int(choice)


class AlarmForm(forms.Form):
    """How long before a duty the calendar program gives an alarm."""

    minutes = forms.TypedChoiceField(choices=ALARMS, coerce=_minutes, label="Alarm before a duty")


def context(member: Member) -> dict[str, Any]:
    """What `nets/_my_calendar.html` shows."""
    key = live_key(member)
    return {
        "calendar_address": feeds.member_address(member),
        "alarm_form": AlarmForm(initial={"minutes": key.alarm_before_min or NO_ALARM}) if key else None,
    }


@roster_only
@require_POST
def new_calendar_address(request: HttpRequest) -> HttpResponse:
    """Revoke the old private address and give a new one, or only revoke it."""
    member = own_entry(request)
    if request.POST.get("revoke"):
        feeds.revoke(member, now=timezone.now())
        messages.success(request, "The address no longer answers.")
    else:
        feeds.renew(member, now=timezone.now())
        messages.success(request, "Here is your new address. The old one no longer answers.")
    return redirect("nets:my_duties")


@roster_only
@require_POST
def calendar_alarm(request: HttpRequest) -> HttpResponse:
    """Have the private calendar give an alarm, or none."""
    form = AlarmForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That is not one of the offered times; choose one from the list.")
    elif feeds.set_alarm(own_entry(request), form.cleaned_data["minutes"]):
        messages.success(request, "Noted. Your calendar program follows when it next asks.")
    return redirect("nets:my_duties")
