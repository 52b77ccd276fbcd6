"""Typical stations to start from: data, every figure with where it comes from.

All of it may be edited for a real station. “Common practice, no source” means just that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from relays.propagation import units
from relays.propagation.errors import PropagationError
from relays.propagation.feedline import Feedline
from relays.propagation.terminal import Terminal

PRACTICE = "common practice, no source"
WHIP = "quarter-wave whip as in the sample calculations of OET Bulletin 65 Supplement B, read second-hand"
STOCK_ANTENNA = (
    "stock antenna 5 dB (2 m) or 4 dB (70 cm) below a half-wave dipole; published figures run from 3 to 8 dB "
    "below, read second-hand"
)
STOCK_SPREAD = "published figures for stock antennas differ by about 3 dB either way, read second-hand"
BODY = (
    "common practice, no source; published tests, read second-hand, run from about 1 dB at the face to some "
    "20 dB on the belt"
)
DIPOLE = "half-wave antenna, 2.15 dBi by definition"
HANDHELD_SENSITIVITY = "makers' test limits run from 0.23 µV (good) to 0.35 µV (basic) for 12 dB SINAD"

#: Below this a preset's gain for the 2 m band holds, from here on that for 70 cm.
BAND_BOUNDARY_MHZ = 300.0


class UnknownPresetError(PropagationError):
    """No such preset."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a preset with its unit and its source."""

    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class Preset:
    """A typical station. Height is above ground; there is no feedline where the antenna sits on the radio."""

    key: str
    label: str
    description: str
    power: Figure
    gain_2m: Figure
    gain_70cm: Figure
    height: Figure
    sensitivity: Figure
    equipment_spread: Figure
    body_loss: Figure = Figure(0.0, "dB", "antenna away from the body")
    duplexer_loss: Figure = Figure(0.0, "dB", "no duplexer")
    feedline: Feedline | None = None
    feedline_source: str = "antenna on the radio"
    noise_class: str = "residential"
    indoors: str | None = None
    #: Key of surroundings.SURROUNDINGS a station begins with; `terminal` leaves them out.
    surroundings: str = "suburban"

    def gain_at(self, frequency_mhz: float) -> Figure:
        """Antenna gain on the band that the frequency lies in, dBi."""
        return self.gain_2m if frequency_mhz < BAND_BOUNDARY_MHZ else self.gain_70cm

    @property
    def figures(self) -> Mapping[str, Figure]:
        """Every figure by name, for a page or a test that goes through them."""
        return MappingProxyType(
            {
                "power": self.power,
                "gain_2m": self.gain_2m,
                "gain_70cm": self.gain_70cm,
                "height": self.height,
                "sensitivity": self.sensitivity,
                "equipment_spread": self.equipment_spread,
                "body_loss": self.body_loss,
                "duplexer_loss": self.duplexer_loss,
            }
        )

    def terminal(self, frequency_mhz: float, **changes: Any) -> Terminal:
        """A Terminal with this preset's figures on the band of that frequency; `changes` are its fields."""
        gain = self.gain_at(frequency_mhz)
        sources = {
            "power_w": self.power.source,
            "antenna_gain_dbi": gain.source,
            "sensitivity_dbm": self.sensitivity.source,
            "duplexer_loss_db": self.duplexer_loss.source,
            "body_loss_db": self.body_loss.source,
            "equipment_spread_db": self.equipment_spread.source,
            "feedline": self.feedline_source,
        }
        fields: dict[str, Any] = {
            "name": self.label,
            "power_w": self.power.value,
            "antenna_gain_dbi": gain.value,
            "sensitivity_dbm": units.dbm_from_microvolts(self.sensitivity.value),
            "feedline": self.feedline,
            "duplexer_loss_db": self.duplexer_loss.value,
            "body_loss_db": self.body_loss.value,
            "noise_class": self.noise_class,
            "indoors": self.indoors,
            "equipment_spread_db": self.equipment_spread.value,
            # A figure that was changed no longer has the preset's source.
            "sources": MappingProxyType({key: text for key, text in sources.items() if key not in changes}),
        }
        return Terminal(**(fields | changes))


def _watts(value: float) -> Figure:
    return Figure(value, "W", PRACTICE)


def _metres(value: float) -> Figure:
    return Figure(value, "m", PRACTICE)


_HANDHELD: dict[str, Any] = {
    "power": _watts(5.0),
    "gain_2m": Figure(units.dbi_from_dbd(-5.0), "dBi", STOCK_ANTENNA),
    "gain_70cm": Figure(units.dbi_from_dbd(-4.0), "dBi", STOCK_ANTENNA),
    "sensitivity": Figure(0.25, "µV", HANDHELD_SENSITIVITY),
    "equipment_spread": Figure(3.0, "dB", STOCK_SPREAD),
}

_PRESETS = (
    Preset(
        key="handheld_in_hand",
        label="handheld in the hand",
        description="stock antenna, spoken into as usual",
        height=_metres(1.5),
        body_loss=Figure(3.0, "dB", BODY),
        **_HANDHELD,
    ),
    Preset(
        key="handheld_held_high",
        label="handheld held high",
        description="stock antenna, outdoors, at arm's length above the head",
        height=_metres(2.0),
        body_loss=Figure(0.0, "dB", "held clear of the body"),
        **_HANDHELD,
    ),
    Preset(
        key="handheld_indoors",
        label="handheld indoors",
        description="stock antenna, in the hand, in an ordinary house",
        height=_metres(1.5),
        body_loss=Figure(3.0, "dB", BODY),
        indoors="traditional",
        **_HANDHELD,
    ),
    Preset(
        key="handheld_metal_base",
        label="handheld on a metal base",
        description="quarter-wave whip on a metal surface outdoors, 3 m of thin cable to the radio",
        power=_watts(5.0),
        gain_2m=Figure(1.0, "dBi", WHIP),
        gain_70cm=Figure(1.0, "dBi", WHIP),
        height=_metres(1.5),
        sensitivity=Figure(0.25, "µV", HANDHELD_SENSITIVITY),
        equipment_spread=Figure(1.5, "dB", PRACTICE),
        feedline=Feedline("rg58", 3.0, connectors=2, antenna_swr=1.5),
        feedline_source=PRACTICE,
    ),
    Preset(
        key="mobile",
        label="mobile",
        description="quarter-wave whip in the middle of a car's roof",
        power=_watts(50.0),
        gain_2m=Figure(1.0, "dBi", WHIP),
        gain_70cm=Figure(1.0, "dBi", WHIP),
        height=_metres(1.5),
        sensitivity=Figure(0.18, "µV", "typical of mobile radios, 0.16 to 0.18 µV; from memory"),
        equipment_spread=Figure(1.5, "dB", PRACTICE),
        feedline=Feedline("rg58", 4.0, connectors=2, antenna_swr=1.5),
        feedline_source=PRACTICE,
    ),
    Preset(
        key="home_vertical",
        label="home vertical",
        description="half-wave vertical outside, 20 m of cable",
        power=_watts(50.0),
        gain_2m=Figure(units.DIPOLE_GAIN_DBI, "dBi", DIPOLE),
        gain_70cm=Figure(units.DIPOLE_GAIN_DBI, "dBi", DIPOLE),
        height=_metres(10.0),
        sensitivity=Figure(0.18, "µV", "typical of mobile radios, 0.16 to 0.18 µV; from memory"),
        equipment_spread=Figure(1.0, "dB", PRACTICE),
        feedline=Feedline("rg213", 20.0, connectors=2, antenna_swr=1.5),
        feedline_source=PRACTICE,
    ),
    Preset(
        key="relay",
        label="relay",
        description="collinear on a mast, duplexer, half-inch hardline",
        power=_watts(25.0),
        gain_2m=Figure(units.dbi_from_dbd(3.0), "dBi", "collinear about 3 m tall on 2 m, 3 dBd; from memory"),
        gain_70cm=Figure(units.dbi_from_dbd(6.0), "dBi", PRACTICE),
        height=_metres(30.0),
        sensitivity=Figure(0.25, "µV", "typical of relay receivers, 0.20 to 0.35 µV; from memory"),
        equipment_spread=Figure(1.0, "dB", PRACTICE),
        duplexer_loss=Figure(1.5, "dB", "planning figure at VHF; makers accept up to 1.3 dB a leg"),
        feedline=Feedline("hardline_1_2", 30.0, connectors=4, antenna_swr=1.2),
        feedline_source=PRACTICE,
        noise_class="rural",
        surroundings="open",
    ),
)

PRESETS: Mapping[str, Preset] = MappingProxyType({preset.key: preset for preset in _PRESETS})


def preset(key: str) -> Preset:
    """The preset of that key. Raises UnknownPresetError."""
    try:
        return PRESETS[key]
    except KeyError:
        known = ", ".join(PRESETS)
        raise UnknownPresetError(
            "preset", key, known, f"“{key}” is not a preset; use one of {known}."
        ) from None
