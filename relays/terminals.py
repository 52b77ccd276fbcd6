"""Stations and relays as the two ends of a link budget."""

from __future__ import annotations

from clubops.members.models import Station
from relays.models import Relay
from relays.propagation.feedline import Feedline
from relays.propagation.link import Terminal
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
# Spread of what the figures do not know: antenna in a hand, or bolted to a mast. Common practice, no source.
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
        equipment_spread_db=FIXED_SPREAD_DB if station.feedline_kind else HANDHELD_SPREAD_DB,
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


def _feedline(end: Station | Relay) -> Feedline | None:
    if not end.feedline_kind:
        return None
    return Feedline(end.feedline_kind, end.feedline_length_m, end.connectors)
