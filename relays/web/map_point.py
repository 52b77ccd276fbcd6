"""A place clicked on the map: the path computed for it alone.

The place is posted and never part of an address: addresses end up in histories and logs.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, get_args

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
from relays.propagation.presets import PRESETS
from relays.propagation.verdicts import DEFAULT_GRADE, GRADES
from relays.reach import radios
from relays.reach.places import PlaceAnswer, Ways, answer_at
from relays.reach.radios import RADIO_KEYS, Changes
from relays.web.forms import relay_choices, typed_place
from relays.web.map import MOST_POWER_W, TOGETHER

_OWN = "station-"
_NO_RADIO = "That radio is not one of the list; choose another."
_NO_RELAY = "That relay is not one of the list; choose another."
_DECIDES: dict[Ways, str] = {
    "both": "The weaker direction decides.",
    "in": "Only the way into the relay was asked for.",
    "out": "Only the way from the relay was asked for.",
}


class _Figure(forms.FloatField):
    """A number that may be left out; whatever is wrong with it, the sentence says of what, and the range."""

    def __init__(self, of: str, low: float, high: float, unit: str) -> None:
        super().__init__(required=False, min_value=low, max_value=high)
        self.should_be = f"cannot be {of}; give a number from {low:g} to {high:g} {unit}."

    def clean(self, value: Any) -> float | None:
        try:
            found: float | None = super().clean(value)
        except ValidationError:
            raise ValidationError(f"“{str(value)[:20]}” {self.should_be}") from None
        return found


def _choice(of: str, keys: Iterable[str]) -> forms.ChoiceField:
    known = list(keys)
    return forms.ChoiceField(
        required=False,
        choices=[("", ""), *((key, key) for key in known)],
        error_messages={"invalid_choice": f"“%(value).20s” is no {of}; use one of {', '.join(known)}."},
    )


class PointForm(forms.Form):
    """Where, with what radio, to which relay, and what is different about them."""

    place = forms.CharField(
        max_length=60,
        label="Ask about a place",
        help_text="Latitude and longitude in degrees, such as 36.59, -84.13, or a locator. It is used for this "
        "answer and not kept.",
        error_messages={"required": "Say which place: coordinates or a locator, or click on the map."},
    )
    relay = forms.CharField(required=False, max_length=80, error_messages={"max_length": _NO_RELAY})
    radio = forms.CharField(max_length=40, error_messages={"required": _NO_RADIO, "max_length": _NO_RADIO})
    antenna_height_m = _Figure("the height of the relay’s antenna", 1, 3000, "m")
    height_m = _Figure("the height of your antenna", 1, 3000, "m")
    power_w = _Figure("your power", 0.001, MOST_POWER_W, "W")
    gain_db = _Figure("what a better antenna gains", -40, 40, "dB")
    line_db = _Figure("the loss in the feedline", -40, 40, "dB")
    building = _choice("kind of building", Station.Building)
    surroundings = _choice("kind of surroundings", Station.Surroundings)
    grade = _choice("quality of a signal", GRADES)
    ways = _choice("way that can count", get_args(Ways))

    def __init__(self, *args: Any, reader: Reader, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reader = reader

    def clean_place(self) -> Any:
        return typed_place(self.cleaned_data["place"])

    def clean_radio(self) -> str | Station:
        key = self.cleaned_data["radio"]
        if key in RADIO_KEYS:
            return str(key)
        number = key.removeprefix(_OWN)
        if key.startswith(_OWN) and number.isdigit() and self.reader.member is not None:
            own = self.reader.member.stations.filter(pk=number).first()
            if own is not None:
                return own
        raise ValidationError(_NO_RADIO)

    def clean_relay(self) -> list[Relay]:
        slug = self.cleaned_data["relay"]
        found = [relay for relay in relay_choices() if slug in ("", TOGETHER, relay.slug)]
        if not found:
            raise ValidationError(_NO_RELAY)
        return found

    @property
    def changes(self) -> Changes:
        given = self.cleaned_data
        return Changes(
            power_w=given["power_w"],
            gain_db=given["gain_db"] or 0.0,
            line_db=given["line_db"] or 0.0,
            place=given["building"] or None,
            surroundings=given["surroundings"] or None,
            height_m=given["height_m"],
            grade=given["grade"] or DEFAULT_GRADE,
        )

    @property
    def deciding(self) -> Ways:
        given: Ways = self.cleaned_data["ways"] or "both"
        return given

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
        answer_at(
            form.station_for(relay), relay, form.changes, antenna_height_m=antenna_m, ways=form.deciding
        )
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
        "decides": _DECIDES[best.ways],
        "drawing": profile_drawing(best.seen) if best.seen else None,
        "may_be_off_km": where.may_be_off_km,
        # A locator goes on as it was typed, so that the next page also knows how large its square is.
        "asked_for": form.data["place"] if where.may_be_off_km else place,
        "place": place,
        "radio_key": radio if isinstance(radio, str) else "",
        "station_pk": None if isinstance(radio, str) else radio.pk,
        "changes": form.changes,
        "radio_label": PRESETS[radio].label if isinstance(radio, str) else f"your {radio.name}",
        "height_m": best.station.antenna_height_m,
    }
