"""One place on the map: the path to a relay computed for it alone, with one thing or another changed."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from typing import Literal

from clubops.members.models import Station
from relays import paths
from relays.models import Relay
from relays.propagation.errors import PropagationError
from relays.propagation.link import OneWayLink, TwoWayLink, evaluate
from relays.propagation.profile import Sight, sight
from relays.propagation.verdicts import GRADES, Verdict, verdict
from relays.reach.radios import Changes, changed, terminal_of

#: Which directions decide: both (the weaker), into the relay alone, out of it alone.
Ways = Literal["both", "in", "out"]


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """What is known of the way from one place to one relay; `problem` when nothing is."""

    relay: Relay
    station: Station
    path: paths.ComputedPath | None = None
    link: TwoWayLink | None = None
    seen: Sight | None = None
    problem: str = ""
    ways: Ways = "both"

    @property
    def counted(self) -> tuple[OneWayLink, ...]:
        """The directions that decide; none where nothing is known."""
        if self.link is None:
            return ()
        each = {"in": self.link.talk_in, "out": self.link.talk_out}
        return tuple(each.values()) if self.ways == "both" else (each[self.ways],)

    @property
    def probability(self) -> float | None:
        """Of a usable signal in the weaker of the directions that decide."""
        return min((way.probability for way in self.counted), default=None)

    @property
    def verdict(self) -> Verdict | None:
        return verdict(self.worth, self.probability) if self.probability is not None else None

    @property
    def key(self) -> str:
        return self.verdict.verdict_class.key if self.verdict else "not_computed"

    @property
    def worth(self) -> float:
        """For sorting: the better the margin the earlier, no answer last."""
        return min((way.margin_db for way in self.counted), default=float("-inf"))


def answer_at(
    station: Station,
    relay: Relay,
    changes: Changes,
    *,
    antenna_height_m: float | None = None,
    ways: Ways = "both",
) -> PlaceAnswer:
    """The path from where `station` stands. Neither row is changed or saved."""
    as_changed = changed(station, changes)
    raised = with_antenna_at(relay, antenna_height_m)
    try:
        path = paths.compute(as_changed, raised)
        link = evaluate(
            replace(
                path.link.inputs,
                station=terminal_of(as_changed, raised, changes),
                required_db=GRADES[changes.grade].above_sensitivity_db,
            )
        )
        seen = sight(
            path.profile,
            tx_height_m=as_changed.antenna_height_m,
            rx_height_m=raised.antenna_height_m,
            frequency_mhz=float(raised.input_mhz),
            radius_km=path.talk_in.median_radius_km,
        )
    except PropagationError as problem:
        return PlaceAnswer(raised, as_changed, problem=str(problem))
    return PlaceAnswer(raised, as_changed, path, link, seen, ways=ways)


def with_antenna_at(relay: Relay, antenna_height_m: float | None) -> Relay:
    """A copy of the relay with its antenna at another height, not to be saved; itself without one."""
    if antenna_height_m is None:
        return relay
    raised = copy.copy(relay)
    raised.antenna_height_m = antenna_height_m
    return raised
