"""The pages of the relays: what to set on a radio, where it stands, what happens on it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from clubops import clock
from clubops.members import locators, privileges
from clubops.members.models import Station
from clubops.members.permissions import Reader
from clubops.members.segments import Verdict
from relays import outages, paths
from relays.bands import HALF_OCCUPIED_MHZ
from relays.models import PathVerdict, Relay


@dataclass(frozen=True)
class OwnPath:
    """The reader's own path to a relay: the state its mark is drawn from, and the verdict if it is fresh."""

    station: Station
    state: str
    verdict: PathVerdict | None = None
    sentence: str = ""


def own_path(station: Station | None, relay: Relay) -> OwnPath | None:
    """What is known of the path from `station`; nothing is computed here. None without a station."""
    if station is None:
        return None
    fresh = paths.fresh_verdict(station, relay)
    if fresh is None:
        was_known = PathVerdict.objects.filter(station=station, relay=relay).exists()
        return OwnPath(station, "stale" if was_known else "not_computed")
    standing = paths.standing_of(fresh, relay)
    return OwnPath(station, standing.key, fresh, standing.sentence)


def main_station(reader: Reader) -> Station | None:
    """The station a member transmits from as a rule."""
    return reader.member.stations.filter(is_main=True).first() if reader.member else None


def own_licence(reader: Reader, station: Station | None, relay: Relay, *, now: dt.datetime) -> Verdict | None:
    """What the club's table says of sending on the relay's input; None for a reader who is no member."""
    if reader.member is None:
        return None
    return privileges.may_transmit(
        reader.member,
        relay.input_mhz,
        station.power_w if station else None,
        on=clock.to_wall(now, reader.member.zone).date(),
        half_bandwidth_mhz=HALF_OCCUPIED_MHZ,
    )


@require_safe
def relay_list(request: HttpRequest) -> HttpResponse:
    """Every relay with what a newcomer needs to set."""
    reader, now = Reader(request.user), timezone.now()
    station = main_station(reader)
    relays = Relay.objects.select_related("site")
    if reader.member is not None:
        prefetch_related_objects([reader.member], "licence_class__privileges")
    silent = outages.running_by_relay(now=now)
    rows = [
        (relay, own_path(station, relay), own_licence(reader, station, relay, now=now), silent.get(relay.pk))
        for relay in relays
    ]
    return render(request, "relays/list.html", {"rows": rows, "station": station})


@require_safe
def relay_page(request: HttpRequest, slug: str) -> HttpResponse:
    """One relay: settings, nets, site, cautions; the stewards' notes for stewards."""
    relay = get_object_or_404(Relay.objects.select_related("site__steward"), slug=slug)
    reader = Reader(request.user)
    station, now = main_station(reader), timezone.now()
    context = {
        "relay": relay,
        "outage": outages.current_of(relay, now=now),
        "next_outage": outages.next_of(relay, now=now),
        "site": relay.site,
        "locator": locators.to_locator(relay.site.latitude_deg, relay.site.longitude_deg),
        "nets": relay.nets.filter(is_active=True),
        "linked": relay.linked_to.all(),
        "own": own_path(station, relay),
        "licence": own_licence(reader, station, relay, now=now),
    }
    return render(request, "relays/page.html", context)
