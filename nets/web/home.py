"""The first page: what is on the air this week, and the one thing to do next."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clubops.members.permissions import Reader
from nets import agenda
from relays import outages
from relays.models import Relay

WEEK = dt.timedelta(days=7)


def home(request: HttpRequest) -> HttpResponse:
    """Sessions of the coming seven days, the state of the relays, and the reader's next duty."""
    now = timezone.now()
    member = Reader(request.user).member
    silent = outages.running_by_relay(now=now)
    return render(
        request,
        "nets/home.html",
        {
            "week": agenda.between(now, now + WEEK),
            "relays": [(relay, silent.get(relay.pk)) for relay in Relay.objects.select_related("site")],
            "next_duty": agenda.coming_duties(member, now=now).first() if member else None,
        },
    )
