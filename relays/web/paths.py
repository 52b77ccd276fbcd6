"""The path check: pick a station or a place, see which relays hear it and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache

from clubops.members.models import Station
from clubops.members.permissions import Reader
from clubops.templatetags.measures import watts
from relays import paths, terminals
from relays.drawings import ProfileDrawing, profile_drawing
from relays.improvements import spots
from relays.improvements.advice import Advice, advise
from relays.models import Relay
from relays.propagation.errors import PropagationError
from relays.propagation.profile import Sight, sight
from relays.propagation.verdicts import Verdict
from relays.reach import radios
from relays.reach.radios import Changes
from relays.web.forms import PathForm, relay_choices


@dataclass(frozen=True)
class Answer:
    """What is known of the way from one place to one relay; `problem` when nothing is."""

    relay: Relay
    station: Station
    path: paths.ComputedPath | None = None
    problem: str = ""

    @property
    def verdict(self) -> Verdict | None:
        return self.path.link.verdict() if self.path else None

    @property
    def key(self) -> str:
        return self.verdict.verdict_class.key if self.verdict else "not_computed"

    @property
    def worth(self) -> float:
        """For sorting: the better the margin the earlier, no answer last."""
        return self.path.link.margin_db if self.path else float("-inf")


@never_cache
def path_page(request: HttpRequest) -> HttpResponse:
    """The form, and when it is filled in the answers.

    A place is posted, never part of an address: addresses end up in histories and logs.
    """
    data = request.POST if request.method == "POST" else request.GET if "station" in request.GET else None
    form = PathForm(data, reader=Reader(request.user))
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        answers = [_answer(_station(form, relay), relay) for relay in relay_choices()]
        answers.sort(key=lambda answer: -answer.worth)
        chosen = _chosen(answers, form.data.get("relay", ""))
        context |= {"answers": answers, "chosen": chosen, "may_be_off_km": form.may_be_off_km}
        if chosen and chosen.path:
            context |= _drawn(chosen)
        context["set_on_the_map"] = _set_on_the_map(form)
        context["advice"] = _advice(form, answers, chosen)
        context["look_within_km"] = form.cleaned_data["look_within_km"] or spots.BY_CAR_KM
    return render(request, "relays/path.html", context, status=422 if form.errors else 200)


def _advice(form: PathForm, answers: list[Answer], chosen: Answer | None) -> list[Advice]:
    """For every relay where none is usable; for the one that was asked about where that one is not."""
    known = [(each.station, each.relay, each.path) for each in answers if each.path is not None]
    within_km = form.cleaned_data["look_within_km"] or spots.BY_CAR_KM
    if not any(answer.verdict and answer.verdict.usable for answer in answers):
        return advise(known, within_km=within_km)
    if form.data.get("relay") and chosen and chosen.verdict and not chosen.verdict.usable:
        return advise(known, only=chosen.relay, within_km=within_km)
    return []


def _set_on_the_map(form: PathForm) -> list[str]:
    """What came along from the map, in words."""
    changes = form.changes
    words = [f"power {watts(changes.power_w)}"] if changes.power_w else []
    if changes.place:
        words.append(str(Station.Building(changes.place).label))
    if changes.surroundings:
        words.append(f"surroundings: {Station.Surroundings(changes.surroundings).label}")
    return words


def _station(form: PathForm, relay: Relay) -> Station:
    """The chosen station, or an unsaved one at the place given with the radio's figures for that band."""
    station: Station | None = form.cleaned_data.get("station")
    if station is not None and form.cleaned_data["moved"] and form.where is not None:
        station = radios.changed(station, Changes())
        station.name = "your radio"
        station.latitude_deg, station.longitude_deg = form.where.latitude_deg, form.where.longitude_deg
    if station is None:
        assert form.where is not None, "a valid form has a station or a place"
        station = Station(
            name="your radio",
            preset=form.cleaned_data["radio"],
            latitude_deg=form.where.latitude_deg,
            longitude_deg=form.where.longitude_deg,
            **terminals.fields_from_preset(form.cleaned_data["radio"], float(relay.input_mhz)),
        )
    return radios.changed(station, form.changes)


def _answer(station: Station, relay: Relay) -> Answer:
    try:
        return Answer(relay, station, paths.compute(station, relay))
    except PropagationError as problem:
        return Answer(relay, station, problem=str(problem))


def _chosen(answers: list[Answer], slug: str) -> Answer | None:
    named = [answer for answer in answers if answer.relay.slug == slug]
    return next(iter(named or answers), None)


def _drawn(chosen: Answer) -> dict[str, Sight | ProfileDrawing]:
    assert chosen.path is not None
    seen = sight(
        chosen.path.profile,
        tx_height_m=chosen.station.antenna_height_m,
        rx_height_m=chosen.relay.antenna_height_m,
        frequency_mhz=float(chosen.relay.input_mhz),
        radius_km=chosen.path.talk_in.median_radius_km,
    )
    return {"seen": seen, "drawing": profile_drawing(seen)}
