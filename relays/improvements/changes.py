"""Single changes to a station, and what each does to one path.

Limits of the search are stated with every answer. They and the order of effort are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from clubops.members.models import Station
from relays import paths
from relays.models import Relay
from relays.paths import ComputedPath
from relays.propagation import link as links
from relays.propagation.errors import PropagationError
from relays.propagation.feedline import CABLES, Feedline, cable_loss_db
from relays.propagation.link import TwoWayLink
from relays.propagation.presets import BAND_BOUNDARY_MHZ, preset
from relays.propagation.terminal import Terminal
from relays.reach.radios import Changes, changed

#: Antenna height above ground that is searched up to, m: a mast on a house that one person can put up.
MOST_HEIGHT_M = 15.0
#: Gain of the largest all-round antenna that is commonly sold, dBi, below and from 300 MHz.
MOST_GAIN_DBI = (6.0, 9.0)
#: Power of the radios that are commonly sold for cars and homes, W.
MOST_POWER_W = 50.0
_GAIN_STEP_DB = 0.5
_HEIGHT_STEP_M = 1.0

#: The best cable that one person lays; thicker hardline is for sites.
BEST_CABLES = ("low_loss_400", "low_loss_600", "hardline_1_2")
#: The least effort first.
EFFORT = ("outdoors", "clear", "relay", "spot", "antenna", "feedline", "height", "power")


@dataclass(frozen=True, slots=True)
class Improvement:
    """One change and where it leads. gained_db: of the weaker direction, which decides."""

    kind: str
    words: str
    gained_db: float
    link: TwoWayLink
    note: str = ""

    @property
    def closes(self) -> bool:
        """Whether the path is usable then."""
        return self.link.verdict().usable

    @property
    def key(self) -> str:
        return self.link.verdict().verdict_class.key

    @property
    def rank(self) -> tuple[bool, int, float]:
        """For sorting: what closes the path first, then by effort, then by what it buys."""
        return not self.closes, EFFORT.index(self.kind), -self.gained_db


def of_station(station: Station, relay: Relay, path: ComputedPath) -> Iterator[Improvement]:
    """Every single change at the place itself; what does not apply to the station is left out."""
    yield from _outdoors(station, relay, path)
    yield from _clear(station, relay, path)
    yield from _antenna(station, path)
    yield from _feedline(station, path)
    yield from _height(station, relay, path)
    yield from _power(station, path)


def improvement(kind: str, words: str, before: TwoWayLink, after: TwoWayLink, note: str = "") -> Improvement:
    """With what the change buys: the weaker direction after it less the weaker direction before."""
    return Improvement(kind, words, round(after.margin_db - before.margin_db, 2), after, note)


def _with(path: ComputedPath, station: Terminal) -> TwoWayLink:
    return links.evaluate(replace(path.link.inputs, station=station))


def _outdoors(station: Station, relay: Relay, path: ComputedPath) -> Iterator[Improvement]:
    if station.building == Station.Building.OUTDOORS:
        return
    outside = paths.compute(changed(station, Changes(place=Station.Building.OUTDOORS)), relay)
    yield improvement("outdoors", "Step outdoors, or put the antenna outside", path.link, outside.link)


def _clear(station: Station, relay: Relay, path: ComputedPath) -> Iterator[Improvement]:
    """The same place without its houses or trees: what a few steps to a clearing buy. Nothing for a fixed antenna."""
    end = path.link.inputs.station
    can_walk = station.feedline_kind == "" and station.building == Station.Building.OUTDOORS
    if not can_walk or end.around is None or not end.around.loss_db(path.link.inputs.frequency_in_mhz):
        return
    clear = paths.compute(changed(station, Changes(surroundings=Station.Surroundings.OPEN)), relay)
    words = f"Stand in the open instead of {end.around.kind.label}"
    yield improvement("clear", words, path.link, clear.link, "a field, a shore or a wide square close by")


def _antenna(station: Station, path: ComputedPath) -> Iterator[Improvement]:
    end = path.link.inputs.station
    frequency_mhz = path.link.inputs.frequency_in_mhz
    if end.feedline is None:
        whip = preset("handheld_metal_base")
        better = replace(
            end,
            antenna_gain_dbi=whip.gain_at(frequency_mhz).value,
            body_loss_db=0.0,
            feedline=whip.feedline,
            equipment_spread_db=whip.equipment_spread.value,
        )
        if better.antenna_gain_dbi > end.antenna_gain_dbi:
            words = "A quarter-wave whip on a metal surface instead of the antenna on the radio"
            yield improvement("antenna", words, path.link, _with(path, better))
        return
    most_dbi = MOST_GAIN_DBI[frequency_mhz >= BAND_BOUNDARY_MHZ]
    steps = math.floor((most_dbi - end.antenna_gain_dbi) / _GAIN_STEP_DB)
    after = None
    for step in range(1, steps + 1):
        gain_dbi = end.antenna_gain_dbi + step * _GAIN_STEP_DB
        after = _with(path, replace(end, antenna_gain_dbi=gain_dbi))
        if after.verdict().usable:
            break
    if after is not None:
        words = f"An antenna of {gain_dbi:.1f} dBi instead of {end.antenna_gain_dbi:.1f} dBi"
        yield improvement("antenna", words, path.link, after, f"looked up to {most_dbi:g} dBi")


def _feedline(station: Station, path: ComputedPath) -> Iterator[Improvement]:
    end, frequency_mhz = path.link.inputs.station, path.link.inputs.frequency_in_mhz
    if end.feedline is None or not end.feedline.length_m:
        return
    line = end.feedline
    losses_db = {
        kind: cable_loss_db(kind, frequency_mhz, line.length_m) for kind in (line.kind, *BEST_CABLES)
    }
    best = min(losses_db, key=lambda kind: losses_db[kind])
    if best == line.kind:
        return
    after = _with(
        path, replace(end, feedline=Feedline(best, line.length_m, line.connectors, line.antenna_swr))
    )
    words = f"{line.length_m:g} m of {CABLES[best].label} instead of {line.cable.label}"
    yield improvement("feedline", words, path.link, after)


def _height(station: Station, relay: Relay, path: ComputedPath) -> Iterator[Improvement]:
    """The lowest height in whole steps that closes the path, else the best one below the limit."""
    found: tuple[float, TwoWayLink] | None = None
    height_m = math.floor(station.antenna_height_m) + _HEIGHT_STEP_M
    while height_m <= MOST_HEIGHT_M:
        try:
            after = paths.compute(changed(station, Changes(height_m=height_m)), relay).link
        except PropagationError:
            return
        if found is None or after.margin_db > found[1].margin_db:
            found = (height_m, after)
        if after.verdict().usable:
            break
        height_m += _HEIGHT_STEP_M
    if found is not None:
        words = f"The antenna at {found[0]:g} m above the ground instead of {station.antenna_height_m:g} m"
        yield improvement("height", words, path.link, found[1], f"looked up to {MOST_HEIGHT_M:g} m")


def _power(station: Station, path: ComputedPath) -> Iterator[Improvement]:
    """The power that closes the way into the relay, or the most there is. It does nothing for the way back."""
    if station.power_w >= MOST_POWER_W:
        return
    end = path.link.inputs.station
    short_db = max(0.0, -path.link.talk_in.margin_db)
    power_w = min(MOST_POWER_W, _round_up(station.power_w * 10 ** (short_db / 10)))
    if power_w <= station.power_w:
        power_w = MOST_POWER_W
    words = f"{power_w:g} W instead of {station.power_w:g} W"
    note = "helps into the relay only, not to hear it"
    yield improvement("power", words, path.link, _with(path, replace(end, power_w=power_w)), note)


def _round_up(power_w: float) -> float:
    """To a whole watt, so that the rounding does not lose what is needed."""
    return float(math.ceil(power_w))
