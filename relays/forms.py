"""Forms of the office: stations and relays with the cables and presets the calculation knows."""

from __future__ import annotations

from django import forms

from clubops.members.models import Station
from relays import bands
from relays.models import Relay
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
PROFILE_CHOICES = [(name, profile.words) for name, profile in bands.PROFILES.items()]


class OfficeStationForm(forms.ModelForm):
    """Any member's station."""

    preset = forms.ChoiceField(
        choices=[("", "none"), *RADIO_CHOICES], required=False, help_text="What it began from."
    )
    feedline_kind = forms.ChoiceField(choices=FEEDLINE_CHOICES, required=False, label="Feedline")

    class Meta:
        model = Station
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself


class OfficeRelayForm(forms.ModelForm):
    """A relay."""

    feedline_kind = forms.ChoiceField(choices=FEEDLINE_CHOICES, required=False, label="Feedline")
    band_profile = forms.ChoiceField(
        choices=PROFILE_CHOICES, help_text="Whose band segments the pair of frequencies is checked against."
    )

    class Meta:
        model = Relay
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself
