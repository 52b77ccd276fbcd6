"""Stations and relays as the two ends of a link budget."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from clubops.members.models import Station
from relays import terrain_store
from relays.models import Relay
from relays.propagation.feedline import Feedline
from relays.propagation.presets import PRACTICE, PRESETS, preset
from relays.propagation.surroundings import Around
from relays.propagation.terminal import SINAD, Terminal
from relays.propagation.units import dbm_from_microvolts

# kHz; receiver noise bandwidths in common use, no source.
BANDWIDTH_KHZ = {
    Relay.Mode.FM: 12.5,
    Relay.Mode.FM_NARROW: 8.5,
    Relay.Mode.DMR: 8.5,
    Relay.Mode.DSTAR: 6.25,
    Relay.Mode.C4FM: 12.5,
    Relay.Mode.P25: 8.5,
}
# In a digital mode makers state sensitivity at a bit error rate, 5 or 1 % by mode.
BIT_ERRORS = "the maker's bit error limit"
DIGITAL_MODES = {Relay.Mode.DMR, Relay.Mode.DSTAR, Relay.Mode.C4FM, Relay.Mode.P25}
# Spread of what the figures of a station that began from no preset do not know: the antenna sits on the
# radio, or on a mast. Common practice, no source.
HANDHELD_SPREAD_DB = 3.0
FIXED_SPREAD_DB = 1.0
# Of a preset's figures in a station's fields; the same to these is unchanged.
DECIMALS = 2


def of_station(
    station: Station, *, bandwidth_khz: float = 12.5, criterion: str = SINAD, clutter_known: bool = False
) -> Terminal:
    """The radio, feedline and antenna of a member's station.

    `criterion`: what its sensitivity is stated for. A figure that is still the preset's keeps the preset's
    source; any other is as entered. `clutter_known`: trees and houses are in the path loss already, so the
    surroundings are not counted a second time.
    """
    return Terminal(
        name=station.name or "your station",
        power_w=station.power_w,
        antenna_gain_dbi=station.antenna_gain_dbi,
        sensitivity_dbm=dbm_from_microvolts(station.sensitivity_uv),
        feedline=_feedline(station),
        body_loss_db=station.body_loss_db,
        bandwidth_khz=bandwidth_khz,
        noise_class=station.noise_class,
        indoors=None if station.building == Station.Building.OUTDOORS else station.building,
        around=None if clutter_known else Around(station.surroundings, station.antenna_height_m),
        equipment_spread_db=_spread_db(station),
        sensitivity_criterion=criterion,
        sources=_sources(station),
    )


def of_relay(relay: Relay) -> Terminal:
    """The relay's transmitter, receiver, duplexer, feedline and antenna."""
    mode = Relay.Mode(relay.mode)
    return Terminal(
        name=relay.name,
        power_w=relay.power_w,
        antenna_gain_dbi=relay.antenna_gain_dbi,
        sensitivity_dbm=dbm_from_microvolts(relay.sensitivity_uv),
        feedline=_feedline(relay),
        duplexer_loss_db=relay.duplexer_loss_db,
        bandwidth_khz=BANDWIDTH_KHZ[mode],
        noise_class=relay.noise_class,
        equipment_spread_db=FIXED_SPREAD_DB,
        sensitivity_criterion=BIT_ERRORS if mode in DIGITAL_MODES else SINAD,
        sources={"equipment_spread_db": PRACTICE},
    )


def fields_from_preset(key: str, frequency_mhz: float) -> dict[str, Any]:
    """A preset's figures by the names of Station's fields. Raises UnknownPresetError."""
    chosen = preset(key)
    line = chosen.feedline
    return {
        "power_w": chosen.power.value,
        "antenna_gain_dbi": round(chosen.gain_at(frequency_mhz).value, DECIMALS),
        "antenna_height_m": chosen.height.value,
        "body_loss_db": chosen.body_loss.value,
        "sensitivity_uv": chosen.sensitivity.value,
        "noise_class": chosen.noise_class,
        "surroundings": chosen.surroundings,
        "building": chosen.indoors or Station.Building.OUTDOORS,
        "feedline_kind": line.kind if line else "",
        "feedline_length_m": line.length_m if line else 0.0,
        "connectors": line.connectors if line else 0,
        "antenna_swr": line.antenna_swr if line else 1.0,
    }


def clutter_is_known() -> bool:
    """Whether trees and houses are in the path loss already: by land cover, or a height for the whole club."""
    return settings.PATH_CLUTTER_M > 0 or terrain_store.current_ground().cover is not None


def _spread_db(station: Station) -> float:
    if station.preset in PRESETS:
        return PRESETS[station.preset].equipment_spread.value
    return FIXED_SPREAD_DB if station.feedline_kind else HANDHELD_SPREAD_DB


def _sources(station: Station) -> dict[str, str]:
    """By field of Terminal, where a figure comes from, for every figure that is known not to be entered."""
    if station.preset not in PRESETS:
        return {"equipment_spread_db": PRACTICE}
    chosen = PRESETS[station.preset]
    found = {"equipment_spread_db": chosen.equipment_spread.source}
    for quantity, value, figure in (
        ("power_w", station.power_w, chosen.power),
        ("body_loss_db", station.body_loss_db, chosen.body_loss),
        ("sensitivity_dbm", station.sensitivity_uv, chosen.sensitivity),
        # A station keeps one gain, that of the band it was begun for.
        ("antenna_gain_dbi", station.antenna_gain_dbi, chosen.gain_2m),
        ("antenna_gain_dbi", station.antenna_gain_dbi, chosen.gain_70cm),
    ):
        if round(value, DECIMALS) == round(figure.value, DECIMALS):
            found[quantity] = figure.source
    if _feedline(station) == chosen.feedline:
        found["feedline"] = chosen.feedline_source
    return found


def _feedline(end: Station | Relay) -> Feedline | None:
    if not end.feedline_kind:
        return None
    return Feedline(end.feedline_kind, end.feedline_length_m, end.connectors, end.antenna_swr)
