"""The coverage map: the page, and the numbers that its script starts from."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_cache_control, patch_vary_headers
from django.views.decorators.http import require_safe

from clubops.members.models import Station
from clubops.members.permissions import Reader
from relays import basemap, terminals
from relays.coverage import live
from relays.improvements import changes
from relays.models import Relay
from relays.propagation.errors import PropagationError
from relays.propagation.presets import PRESETS
from relays.propagation.terrain import Lattice
from relays.propagation.units import DIPOLE_GAIN_DBI
from relays.propagation.verdicts import DEFAULT_GRADE
from relays.reach import budgets, radios, summary
from relays.reach.radios import RADIO_KEYS
from relays.web.forms import relay_choices

log = logging.getLogger(__name__)

TOGETHER = "together"
# Of any station.
MOST_POWER_W = 2000.0


@require_safe
def map_page(request: HttpRequest) -> HttpResponse:
    """Where each relay is usable, as a map that recolours itself and as a table in words."""
    relays = relay_choices()
    stations = _own_stations(request)
    radio, odd_radio = _chosen(request.GET.get("radio"), RADIO_KEYS, radios.DEFAULT_RADIO)
    keys = [*(relay.slug for relay in relays), TOGETHER]
    slug, odd_relay = _chosen(request.GET.get("relay"), keys, keys[0])
    live.warm_up_aside()
    context = {
        "relays": relays,
        "radios": [PRESETS[key] for key in RADIO_KEYS],
        "radio": PRESETS[radio],
        "chosen": slug,
        "odd": odd_radio or odd_relay,
        "summary": summary.of(relays, radio) if relays else None,
        "data": _data(relays, stations) if relays else None,
        "stations": stations,
        "clutter_is_known": terminals.clutter_is_known(),
    }
    response = render(request, "relays/map.html", context, status=422 if context["odd"] else 200)
    # A member's own stations are in it.
    patch_cache_control(response, private=True, no_cache=True)
    patch_vary_headers(response, ["Cookie"])
    return response


def _chosen(given: str | None, known: Sequence[str], usual: str) -> tuple[str, bool]:
    """What was asked for if it exists, else the usual, and whether something odd was asked for."""
    if given is not None and given in known:
        return given, False
    return usual, bool(given)


def _own_stations(request: HttpRequest) -> list[Station]:
    member = Reader(request.user).member
    return list(member.stations.all()) if member else []


def _data(relays: list[Relay], stations: list[Station]) -> dict[str, Any]:
    """Everything the script needs that does not change while the page is open."""
    relief = basemap.relief(relays)
    return {
        "relays": [_relay(relay) for relay in relays],
        "radios": [
            *(_radio(key, PRESETS[key].label, radios.typical(key, relays[0])) for key in RADIO_KEYS),
            *(_radio(f"station-{own.pk}", f"your {own.name}", own) | _where(own) for own in stations),
        ],
        "budgets": {relay.slug: _budgets(relay, stations) for relay in relays},
        "places": budgets.places(relays),
        "surroundings": budgets.surroundings(),
        "grades": budgets.grades(),
        "verdicts": budgets.verdicts(),
        "usual_grade": DEFAULT_GRADE,
        "dipole_dbi": DIPOLE_GAIN_DBI,
        "power": {"most_w": MOST_POWER_W, "caution_above_w": changes.MOST_POWER_W},
        "relief": None
        if relief is None
        else {"url": f"{reverse('relays:relief')}?v={relief.version}", "bounds": edges(relief.lattice)},
        "point_url": reverse("relays:point"),
    }


def _relay(relay: Relay) -> dict[str, Any]:
    return {
        "slug": relay.slug,
        "name": relay.name,
        "latitude": relay.site.latitude_deg,
        "longitude": relay.site.longitude_deg,
        "antenna_height_m": relay.antenna_height_m,
        "mhz": {"in": float(relay.input_mhz), "out": float(relay.output_mhz)},
        "location": budgets.location(relay),
        "on_the_air": relay.is_on_the_air,
        "loss_url": reverse("relays:loss", args=[relay.slug]),
    }


def _radio(key: str, label: str, station: Station) -> dict[str, Any]:
    return {
        "key": key,
        "label": label,
        "height_m": station.antenna_height_m,
        "power_w": station.power_w,
        "place": station.building,
        "surroundings": station.surroundings,
    }


def _where(station: Station) -> dict[str, list[float]]:
    """Only ever in the page of the member whose station it is."""
    return {"place_deg": [station.latitude_deg, station.longitude_deg]}


def _budgets(relay: Relay, stations: list[Station]) -> dict[str, Any]:
    found = {}
    for key, station in (
        *((key, radios.typical(key, relay)) for key in RADIO_KEYS),
        *((f"station-{own.pk}", own) for own in stations),
    ):
        try:
            found[key] = budgets.budget(station, relay)
        except PropagationError as problem:
            log.warning("No budget between %s and a radio (%s)", relay.slug, type(problem).__name__)
    return found


def edges(lattice: Lattice) -> list[list[float]]:
    """South-west and north-east corner of the pixels, latitude first."""
    up, aside = lattice.latitude_step_deg / 2, lattice.longitude_step_deg / 2
    return [
        [lattice.south_deg - up, lattice.west_deg - aside],
        [lattice.north_deg + up, lattice.east_deg + aside],
    ]
