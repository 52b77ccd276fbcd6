"""The pages for somebody new to the air: what to do first, and the card to keep with the radio."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from clubops.members.permissions import Reader
from nets import feeds, starter
from relays.models import Relay
from relays.web.relays import main_station, own_path


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    """Five steps from a new licence to the first check-in; a member's own paths among them."""
    now = timezone.now()
    station = main_station(Reader(request.user))
    relays = [relay for relay in Relay.objects.select_related("site") if relay.is_on_the_air]
    context = {
        "channels": starter.channels(),
        "station": station,
        "heard": [(relay, own_path(station, relay)) for relay in relays] if station else [],
        "evenings": starter.first_evenings(now=now),
        "club_feed": feeds.club_address(),
        "sight": starter.sight(),
        "twice_db": starter.twice_the_power_db(),
    }
    return render(request, "nets/start.html", context)


@require_safe
def card(request: HttpRequest) -> HttpResponse:
    """The channel card, to be printed and cut out."""
    return render(request, "nets/card.html", {"channels": starter.channels(), "printed_at": timezone.now()})
