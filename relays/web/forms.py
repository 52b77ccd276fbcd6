"""Forms of the path check and of a member's own stations."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from clubops.members.models import Station
from clubops.members.permissions import Reader
from clubops.sentences import PlainSentences
from relays.forms import FEEDLINE_CHOICES, RADIO_CHOICES, known_places
from relays.improvements import spots
from relays.models import Relay
from relays.places import SWAPPED, Place, PlaceError, looks_swapped, read_place
from relays.reach.radios import Changes

NO_PLACE = "Say where you are: coordinates or a locator."


def typed_place(text: str) -> Place:
    """A place as typed. Raises ValidationError, also when its two numbers are the wrong way round."""
    try:
        place = read_place(text)
    except PlaceError as problem:
        raise ValidationError(str(problem)) from problem
    if looks_swapped(place.latitude_deg, place.longitude_deg, known_places()):
        raise ValidationError(SWAPPED)
    return place


class PathForm(PlainSentences, forms.Form):
    """From where, with what radio, to which relay."""

    station = forms.ModelChoiceField(
        queryset=Station.objects.none(),
        required=False,
        label="From your station",
        empty_label="another place",
    )
    place = forms.CharField(
        required=False,
        max_length=60,
        label="Or from a place",
        help_text="Latitude and longitude in degrees, such as 36.59, -84.13, or a locator of six or more "
        "characters. It is used for this answer and not kept.",
    )
    radio = forms.ChoiceField(
        choices=RADIO_CHOICES,
        initial="handheld_in_hand",
        label="With this radio",
        help_text="For a place. A station of yours brings its own radio.",
    )
    antenna_height_m = forms.FloatField(
        required=False,
        min_value=1,
        max_value=3000,
        label="Antenna height",
        help_text="Metres above the ground, 1 to 3000. Left empty, the radio's usual height is taken.",
    )
    look_within_km = forms.FloatField(
        required=False,
        min_value=0.1,
        max_value=50,
        label="Look for a better spot within",
        help_text=f"Kilometres, 0.1 to 50; {spots.BY_CAR_KM:g} when empty. For a radio that can be carried.",
    )
    # What was set on the map goes on with the place.
    power_w = forms.FloatField(
        required=False, min_value=0.001, max_value=2000, widget=forms.HiddenInput, label="Power"
    )
    building = forms.ChoiceField(
        required=False, choices=[("", ""), *Station.Building.choices], widget=forms.HiddenInput
    )
    surroundings = forms.ChoiceField(
        required=False, choices=[("", ""), *Station.Surroundings.choices], widget=forms.HiddenInput
    )
    moved = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, reader: Reader, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if reader.is_officer:
            own = Station.objects.filter(member__is_active=True)
        elif reader.member is not None:
            own = reader.member.stations.all()
        else:
            own = Station.objects.none()
        station = self.fields["station"]
        assert isinstance(station, forms.ModelChoiceField)
        station.queryset = own.select_related("member")
        if not own.exists():
            del self.fields["station"]
            self.fields["place"].label = "From where"
            self.fields["place"].required = True
            self.fields["place"].error_messages["required"] = NO_PLACE
            self.fields["radio"].help_text = ""
        self.where: Place | None = None
        # A link to a station's path says only which station; a station has its own radio.
        self.fields["radio"].required = not self.data.get("station")

    @property
    def changes(self) -> Changes:
        """What is different from the radio as it is."""
        given = self.cleaned_data
        return Changes(
            power_w=given.get("power_w"),
            place=given.get("building") or None,
            surroundings=given.get("surroundings") or None,
            height_m=given.get("antenna_height_m"),
        )

    @property
    def may_be_off_km(self) -> float:
        """How far from the truth the place may be because a locator names a square."""
        return self.where.may_be_off_km if self.where else 0.0

    def clean_place(self) -> str:
        text = self.cleaned_data["place"].strip()
        if text:
            self.where = typed_place(text)
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("station") and not cleaned.get("place") and "place" not in self.errors:
            self.add_error("place", NO_PLACE)
        return cleaned


class StationForm(PlainSentences, forms.ModelForm):
    """A member's own station."""

    feedline_kind = forms.ChoiceField(choices=FEEDLINE_CHOICES, required=False, label="Feedline")
    place = forms.CharField(
        max_length=60,
        label="Where it stands",
        help_text="Latitude and longitude in degrees, such as 36.5989, -84.1312 (four decimals are about ten "
        "metres), or a locator of eight characters. Only you and the club's officers see it.",
    )

    class Meta:
        model = Station
        fields = [
            "name", "is_main", "place", "building", "surroundings", "noise_class", "power_w", "sensitivity_uv",
            "antenna_height_m", "antenna_gain_dbi", "antenna_swr", "body_loss_db", "feedline_kind",
            "feedline_length_m", "connectors",
        ]  # fmt: skip
        help_texts = {
            "is_main": "The one a duty is taken from unless you say otherwise.",
            "feedline_length_m": "Metres.",
            "connectors": "How many in the line, from radio to antenna.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            where = self.instance
            self.fields["place"].initial = f"{where.latitude_deg:.5f}, {where.longitude_deg:.5f}"

    def clean_place(self) -> str:
        text = self.cleaned_data["place"]
        place = typed_place(text)
        self.instance.latitude_deg, self.instance.longitude_deg = place.latitude_deg, place.longitude_deg
        return text

    def clean_name(self) -> str:
        name = self.cleaned_data["name"].strip()
        others = Station.objects.filter(member=self.instance.member, name=name).exclude(pk=self.instance.pk)
        if others.exists():
            raise ValidationError(f"You already have a station called “{name}”; give this one another name.")
        return name


def relay_choices() -> list[Relay]:
    """Relays a path can be checked to: all but those given up, the ones on the air first."""
    return sorted(Relay.objects.select_related("site"), key=lambda relay: not relay.is_on_the_air)
