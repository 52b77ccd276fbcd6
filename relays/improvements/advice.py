"""All single changes for one place, relay by relay, the one of least effort that closes a path first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clubops.members.models import Station
from relays.improvements import changes, spots
from relays.improvements.changes import Improvement
from relays.models import Relay
from relays.paths import ComputedPath
from relays.propagation.errors import PropagationError


@dataclass(frozen=True, slots=True)
class Advice:
    """What can be done about one relay, best first."""

    relay: Relay
    margin_db: float
    improvements: tuple[Improvement, ...]

    @property
    def best(self) -> Improvement | None:
        """The change of least effort that makes the path usable."""
        first = self.improvements[0] if self.improvements else None
        return first if first and first.closes else None

    @property
    def most(self) -> Improvement | None:
        """What buys most, whether or not it is enough."""
        return max(self.improvements, key=lambda each: each.gained_db, default=None)


def advise(
    known: Sequence[tuple[Station, Relay, ComputedPath]],
    *,
    only: Relay | None = None,
    within_km: float = spots.BY_CAR_KM,
) -> list[Advice]:
    """Advice for every relay that has an answer from the place, or for one, the nearest to usable first.

    known: the station (its figures may differ from band to band), the relay and the path as computed.
    within_km: how far somebody would go with the radio.
    """
    best_first = sorted(known, key=lambda each: -each[2].link.margin_db)
    return [
        _for_relay(station, relay, path, best_first, within_km)
        for station, relay, path in best_first
        if only is None or relay.pk == only.pk
    ]


def _for_relay(
    station: Station,
    relay: Relay,
    path: ComputedPath,
    all_known: Sequence[tuple[Station, Relay, ComputedPath]],
    within_km: float,
) -> Advice:
    found = [*changes.of_station(station, relay, path), *_other(relay, path, all_known)]
    if not any(each.kind == "outdoors" and each.closes for each in found):
        found += _spots(station, relay, path, within_km)
    useful = [each for each in found if each.gained_db > 0.0 or each.kind == "power"]
    return Advice(relay, path.link.margin_db, tuple(sorted(useful, key=lambda each: each.rank)))


def _spots(station: Station, relay: Relay, path: ComputedPath, within_km: float) -> list[Improvement]:
    """The nearest spot that is usable, and the nearest that can be relied on where that is another one."""
    try:
        near = spots.nearest(station, relay, within_km=within_km)
        sure = spots.nearest(station, relay, within_km=within_km, solid=True)
    except PropagationError:
        return []
    found = [near] if near else []
    if sure and (near is None or sure.distance_km > near.distance_km):
        found.append(sure)
    return [changes.improvement("spot", spot.words, path.link, spot.path.link, spot.note) for spot in found]


def _other(
    relay: Relay, path: ComputedPath, all_known: Sequence[tuple[Station, Relay, ComputedPath]]
) -> list[Improvement]:
    """The best of the other relays, where it is better than this one."""
    others = [(other, its) for _, other, its in all_known if other.pk != relay.pk and other.is_on_the_air]
    if not others:
        return []
    best, its = max(others, key=lambda each: each[1].link.margin_db)
    return [changes.improvement("relay", f"{best.name} instead", path.link, its.link)]
