"""The radio that a map is drawn for: one of the typical ones or a member's own, with one thing or another changed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from clubops.members.models import Station
from relays import terminals
from relays.models import Relay
from relays.propagation.presets import PRESETS
from relays.propagation.terminal import Terminal
from relays.propagation.verdicts import DEFAULT_GRADE

#: Radios that people have; the relay's own preset is for stewards.
RADIO_KEYS = tuple(key for key in PRESETS if key != "relay")
DEFAULT_RADIO = "handheld_in_hand"


@dataclass(frozen=True, slots=True)
class Changes:
    """What is different from the radio as it is.

    power_w: None to keep it. gain_db, line_db: antenna and feedline against its own, dB; a feedline cannot
    get better than no loss at all. place: a key of Station.Building, None to keep it. surroundings: a key of
    Station.Surroundings, None to keep them. height_m: of its
    antenna, None to keep it. grade: the quality asked for, a key of verdicts.GRADES.
    """

    power_w: float | None = None
    gain_db: float = 0.0
    line_db: float = 0.0
    place: str | None = None
    surroundings: str | None = None
    height_m: float | None = None
    grade: str = DEFAULT_GRADE

    @property
    def any_of_the_antenna(self) -> bool:
        return bool(self.gain_db or self.line_db)


def typical(key: str, relay: Relay, *, latitude_deg: float = 0.0, longitude_deg: float = 0.0) -> Station:
    """An unsaved station from a preset, with its figures for the relay's band. Raises UnknownPresetError."""
    return Station(
        name="your radio",
        preset=key,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        **terminals.fields_from_preset(key, float(relay.input_mhz)),
    )


def changed(station: Station, changes: Changes) -> Station:
    """The station with another height, power or place; an unsaved copy."""
    copy = Station(
        **{field.attname: getattr(station, field.attname) for field in Station._meta.concrete_fields}
    )
    copy.pk = None
    if changes.power_w is not None:
        copy.power_w = changes.power_w
    if changes.place is not None:
        copy.building = changes.place
    if changes.surroundings is not None:
        copy.surroundings = changes.surroundings
    if changes.height_m is not None:
        copy.antenna_height_m = changes.height_m
    return copy


def terminal_of(station: Station, relay: Relay, changes: Changes) -> Terminal:
    """The station's end of the budget with the changed antenna and feedline."""
    relay_end = terminals.of_relay(relay)
    own = terminals.of_station(
        station,
        bandwidth_khz=relay_end.bandwidth_khz,
        criterion=relay_end.sensitivity_criterion,
        clutter_known=terminals.clutter_is_known(),
    )
    if not changes.any_of_the_antenna:
        return own
    line_db = own.line_loss_at(float(relay.input_mhz)).total_db + own.duplexer_loss_db
    # The changed line is one number; which cable has it is for the reader to choose.
    return replace(
        own,
        antenna_gain_dbi=own.antenna_gain_dbi + changes.gain_db,
        feedline=None,
        duplexer_loss_db=max(0.0, line_db + changes.line_db),
    )
