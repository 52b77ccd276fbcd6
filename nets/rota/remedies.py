"""What would make a path do: another station of theirs, or the same antenna some metres higher."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

from clubops.members.models import Station
from nets.models import Net
from nets.rota.reasons import Bar
from nets.rota.seating import Seating, Usher
from relays import paths
from relays.models import Relay
from relays.propagation import verdicts
from relays.propagation.errors import PropagationError

#: The words by which a page knows that a caution about masts belongs beside a remedy.
HIGHER = "m higher"
#: Tried in turn; farther than this nobody's mast grows on a net manager's asking. Common practice, no source.
HEIGHTS_M = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15)
#: People asked about for one empty chair, those nearest to being heard first.
MOST_ASKED = 5
#: Presets whose antenna stands on a car or a metal sheet.
ON_METAL = {"mobile", "handheld_metal_base"}


def with_remedies(seatings: list[Seating], usher: Usher) -> list[Bar]:
    """The bars of these seatings, those for weak paths with what would help where something does."""
    barred = [(seating, seating.bar) for seating in seatings if seating.bar is not None]
    weak = sorted(
        (bar.shortfall_db, bar.person)
        for _seating, bar in barred
        if bar.kind == "path" and bar.shortfall_db > 0
    )
    asked = {person for _shortfall_db, person in weak[:MOST_ASKED]}
    return [
        replace(bar, remedy=remedy(seating, usher)) if bar.kind == "path" and bar.person in asked else bar
        for seating, bar in barred
    ]


def remedy(seating: Seating, usher: Usher) -> str:
    """What follows the name, such as “would be heard well enough with the antenna 4 m higher”; or nothing."""
    relay, station = seating.session.relay_in_use, seating.station
    if relay is None or station is None:
        return ""
    if other := _other_station(seating, relay, usher):
        return f"would be heard well enough from their station “{other.name}”"
    if (metres := metres_higher(station, relay, seating.session.net)) is not None:
        return f"would be heard well enough with the antenna {metres} {HIGHER}"
    return ""


def _other_station(seating: Seating, relay: Relay, usher: Usher) -> Station | None:
    for other in seating.member.stations.all():
        if other != seating.station:
            standing = usher.seat(seating.member, seating.session, other).standing
            if standing is not None and standing.is_usable:
                return other
    return None


def metres_higher(station: Station, relay: Relay, net: Net) -> int | None:
    """The least of HEIGHTS_M by which the antenna must rise for the net's limits to be met; None where none does.

    The feedline grows with it, so higher is not always better. None too for radios whose antenna cannot be
    raised: in a hand, on a car, indoors.
    """
    raisable = station.feedline_kind and station.preset not in ON_METAL
    if not raisable or station.building != Station.Building.OUTDOORS:
        return None
    return next((metres for metres in HEIGHTS_M if _does(station, relay, net, metres)), None)


def _does(station: Station, relay: Relay, net: Net, metres: int) -> bool:
    """Whether the path meets the limits of the net with the antenna so much higher."""
    raised = copy(station)
    raised.antenna_height_m += metres
    raised.feedline_length_m += metres
    try:
        link = paths.compute(raised, relay).link
    except PropagationError:
        return False
    return verdicts.verdict(
        min(link.talk_in.margin_db, link.talk_out.margin_db),
        min(link.talk_in.probability, link.talk_out.probability),
        minimum_margin_db=net.minimum_margin_db,
        minimum_probability=net.minimum_probability,
    ).usable
