"""Stations and relays as the two ends of a link budget."""

from __future__ import annotations

from typing import Any

from clubops.members.models import Station
from relays.models import Relay
from relays.propagation.feedline import Feedline
from relays.propagation.presets import PRESETS, preset
from relays.propagation.terminal import Terminal
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
# Spread of what the figures of a station that began from no preset do not know: the antenna sits on the
# radio, or on a mast. Common practice, no source.
HANDHELD_SPREAD_DB = 3.0
FIXED_SPREAD_DB = 1.0


def of_station(station: Station, *, bandwidth_khz: float = 12.5) -> Terminal:
    """The radio, feedline and antenna of a member's station."""
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
        equipment_spread_db=_spread_db(station),
    )


def of_relay(relay: Relay) -> Terminal:
    """The relay's transmitter, receiver, duplexer, feedline and antenna."""
    return Terminal(
        name=relay.name,
        power_w=relay.power_w,
        antenna_gain_dbi=relay.antenna_gain_dbi,
        sensitivity_dbm=dbm_from_microvolts(relay.sensitivity_uv),
        feedline=_feedline(relay),
        duplexer_loss_db=relay.duplexer_loss_db,
        bandwidth_khz=BANDWIDTH_KHZ[Relay.Mode(relay.mode)],
        noise_class=relay.noise_class,
        equipment_spread_db=FIXED_SPREAD_DB,
    )


def fields_from_preset(key: str, frequency_mhz: float) -> dict[str, Any]:
    """A preset's figures by the names of Station's fields. Raises UnknownPresetError."""
    chosen = preset(key)
    line = chosen.feedline
    return {
        "power_w": chosen.power.value,
        "antenna_gain_dbi": round(chosen.gain_at(frequency_mhz).value, 2),
        "antenna_height_m": chosen.height.value,
        "body_loss_db": chosen.body_loss.value,
        "sensitivity_uv": chosen.sensitivity.value,
        "noise_class": chosen.noise_class,
        "building": chosen.indoors or Station.Building.OUTDOORS,
        "feedline_kind": line.kind if line else "",
        "feedline_length_m": line.length_m if line else 0.0,
        "connectors": line.connectors if line else 0,
        "antenna_swr": line.antenna_swr if line else 1.0,
    }


def _spread_db(station: Station) -> float:
    if station.preset in PRESETS:
        return PRESETS[station.preset].equipment_spread.value
    return FIXED_SPREAD_DB if station.feedline_kind else HANDHELD_SPREAD_DB


def _feedline(end: Station | Relay) -> Feedline | None:
    if not end.feedline_kind:
        return None
    return Feedline(end.feedline_kind, end.feedline_length_m, end.connectors, end.antenna_swr)
