"""Forms of the office: stations and relays with the cables and presets the calculation knows."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from clubops.members.models import Station
from clubops.sentences import PlainSentences
from relays import bands
from relays.models import Relay, Site
from relays.places import SWAPPED, looks_swapped
from relays.propagation.feedline import CABLES
from relays.propagation.presets import PRESETS

# The radios that people have; the relay's own preset is for stewards.
RADIO_CHOICES = [
    (key, f"{found.label} ({found.description})") for key, found in PRESETS.items() if key != "relay"
]
FEEDLINE_CHOICES = [
    ("", "none: the antenna is on the radio"),
    *((key, cable.label) for key, cable in CABLES.items()),
]
IN_MEGAHERTZ = "That has too many digits before the point. Give megahertz, not kilohertz, such as 146.730."
PROFILE_CHOICES = [(name, profile.words) for name, profile in bands.PROFILES.items()]


def known_places() -> list[tuple[float, float]]:
    """Where the club's relays stand: latitude and longitude of every site, degrees."""
    return list(Site.objects.values_list("latitude_deg", "longitude_deg"))


class OfficeStationForm(PlainSentences, forms.ModelForm):
    """Any member's station."""

    preset = forms.ChoiceField(
        choices=[("", "none"), *RADIO_CHOICES], required=False, help_text="What it began from."
    )
    feedline_kind = forms.ChoiceField(choices=FEEDLINE_CHOICES, required=False, label="Feedline")

    class Meta:
        model = Station
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself
        error_messages = {
            NON_FIELD_ERRORS: {
                "unique_together": "This member already has a station of that name; give this one another."
            }
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        member, latitude, longitude = (cleaned.get(n) for n in ("member", "latitude_deg", "longitude_deg"))
        if (
            latitude is not None
            and longitude is not None
            and looks_swapped(latitude, longitude, known_places())
        ):
            self.add_error("latitude_deg", SWAPPED)
        if member is not None and cleaned.get("is_main"):
            other = member.stations.filter(is_main=True).exclude(pk=self.instance.pk).first()
            if other is not None:
                self.add_error(
                    "is_main",
                    f"{member.call_sign} has a main station already, “{other.name}”; take that mark away first.",
                )
        return cleaned


class OfficeSiteForm(PlainSentences, forms.ModelForm):
    """A place where relays stand."""

    class Meta:
        model = Site
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        latitude, longitude = cleaned.get("latitude_deg"), cleaned.get("longitude_deg")
        if (
            latitude is not None
            and longitude is not None
            and looks_swapped(latitude, longitude, known_places())
        ):
            self.add_error("latitude_deg", SWAPPED)
        return cleaned


class OfficeRelayForm(PlainSentences, forms.ModelForm):
    """A relay."""

    feedline_kind = forms.ChoiceField(choices=FEEDLINE_CHOICES, required=False, label="Feedline")
    band_profile = forms.ChoiceField(
        choices=PROFILE_CHOICES, help_text="Whose band segments the pair of frequencies is checked against."
    )

    class Meta:
        model = Relay
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself
        error_messages = {name: {"max_whole_digits": IN_MEGAHERTZ} for name in ("output_mhz", "input_mhz")}

    def clean_power_w(self) -> float:
        power_w: float = self.cleaned_data["power_w"]
        if power_w <= 0:
            raise ValidationError(
                f"{power_w:g} W sends nothing; give what the transmitter puts out, in watts."
            )
        return power_w
