"""A place clicked on the map: the path computed for it alone.

The place is posted and never part of an address: addresses end up in histories and logs.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from clubops.members.models import Station
from clubops.members.permissions import Reader
from relays.drawings import profile_drawing
from relays.models import Relay
from relays.places import PlaceError, read_place
from relays.propagation.presets import PRESETS
from relays.propagation.verdicts import DEFAULT_GRADE, GRADES
from relays.reach import radios
from relays.reach.places import PlaceAnswer, answer_at
from relays.reach.radios import RADIO_KEYS, Changes
from relays.web.forms import relay_choices
from relays.web.map import TOGETHER

_OWN = "station-"


class PointForm(forms.Form):
    """Where, with what radio, to which relay, and what is different about them."""

    place = forms.CharField(
        max_length=60,
        label="Ask about a place",
        help_text="Latitude and longitude in degrees, such as 36.59, -84.13, or a locator. It is used for this "
        "answer and not kept.",
        error_messages={"required": "Say which place: coordinates or a locator, or click on the map."},
    )
    relay = forms.CharField(required=False, max_length=80)
    radio = forms.CharField(max_length=40)
    antenna_height_m = forms.FloatField(required=False, min_value=1, max_value=3000)
    height_m = forms.FloatField(required=False, min_value=1, max_value=3000)
    power_w = forms.FloatField(required=False, min_value=0.001, max_value=2000)
    gain_db = forms.FloatField(required=False, min_value=-40, max_value=40)
    line_db = forms.FloatField(required=False, min_value=-40, max_value=40)
    building = forms.ChoiceField(required=False, choices=[("", ""), *Station.Building.choices])
    grade = forms.ChoiceField(required=False, choices=[(key, key) for key in GRADES])

    def __init__(self, *args: Any, reader: Reader, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reader = reader

    def clean_place(self) -> Any:
        try:
            return read_place(self.cleaned_data["place"])
        except PlaceError as problem:
            raise ValidationError(str(problem)) from problem

    def clean_radio(self) -> str | Station:
        key = self.cleaned_data["radio"]
        if key in RADIO_KEYS:
            return str(key)
        number = key.removeprefix(_OWN)
        if key.startswith(_OWN) and number.isdigit() and self.reader.member is not None:
            own = self.reader.member.stations.filter(pk=number).first()
            if own is not None:
                return own
        raise ValidationError("That radio is not one of the list; choose another.")

    def clean_relay(self) -> list[Relay]:
        slug = self.cleaned_data["relay"]
        found = [relay for relay in relay_choices() if slug in ("", TOGETHER, relay.slug)]
        if not found:
            raise ValidationError("That relay is not one of the list; choose another.")
        return found

    @property
    def changes(self) -> Changes:
        given = self.cleaned_data
        return Changes(
            power_w=given["power_w"],
            gain_db=given["gain_db"] or 0.0,
            line_db=given["line_db"] or 0.0,
            place=given["building"] or None,
            height_m=given["height_m"],
            grade=given["grade"] or DEFAULT_GRADE,
        )

    def station_for(self, relay: Relay) -> Station:
        """The radio at the place."""
        where, radio = self.cleaned_data["place"], self.cleaned_data["radio"]
        if isinstance(radio, str):
            return radios.typical(
                radio, relay, latitude_deg=where.latitude_deg, longitude_deg=where.longitude_deg
            )
        moved = radios.changed(radio, Changes())
        moved.name = "your radio"
        moved.latitude_deg, moved.longitude_deg = where.latitude_deg, where.longitude_deg
        return moved


@require_POST
@never_cache
def point(request: HttpRequest) -> HttpResponse:
    """A fragment of the page: both directions, the chance, what stands in the way, the profile."""
    form = PointForm(request.POST, reader=Reader(request.user))
    if not form.is_valid():
        problems = [str(problem) for found in form.errors.values() for problem in found]
        refused = {"problems": problems, "no_place": "place" in form.errors}
        return render(request, "relays/map/_refused.html", refused, status=422)
    relays = form.cleaned_data["relay"]
    # The height of one antenna is moved, never of all of them.
    antenna_m = form.cleaned_data["antenna_height_m"] if len(relays) == 1 else None
    answers = [
        answer_at(form.station_for(relay), relay, form.changes, antenna_height_m=antenna_m)
        for relay in relays
    ]
    answers.sort(key=lambda answer: -answer.worth)
    return render(request, "relays/map/_point.html", _context(form, answers))


def _context(form: PointForm, answers: list[PlaceAnswer]) -> dict[str, Any]:
    best, radio = answers[0], form.cleaned_data["radio"]
    where = form.cleaned_data["place"]
    place = f"{where.latitude_deg:.5f}, {where.longitude_deg:.5f}"
    return {
        "answers": answers,
        "best": best,
        "drawing": profile_drawing(best.seen) if best.seen else None,
        "may_be_off_km": where.may_be_off_km,
        # A locator goes on as it was typed, so that the next page also knows how large its square is.
        "asked_for": form.data["place"] if where.may_be_off_km else place,
        "place": place,
        "radio_key": radio if isinstance(radio, str) else "",
        "radio_label": PRESETS[radio].label if isinstance(radio, str) else f"your {radio.name}",
        "height_m": best.station.antenna_height_m,
    }
