"""Coverage in words and numbers, of ground and of people: one row a relay, one for all together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from relays.coverage import live, runs
from relays.coverage.kept import Kept
from relays.coverage.rasters import LossRaster
from relays.models import CoverageRun, Relay
from relays.population import counting
from relays.population.counting import People, PopulationLost
from relays.population.words import NONE_IMPORTED
from relays.propagation.errors import PropagationError
from relays.propagation.presets import preset
from relays.propagation.terrain import Lattice
from relays.reach import areas, people, radios
from relays.reach.areas import Areas, Verdicts
from relays.reach.people import Added, PeopleArray, Reached
from relays.reach.thresholds import UNKNOWN, Reach, reach


@dataclass(frozen=True, slots=True)
class Row:
    """One relay: its areas when they are known, else why they are not.

    alone_km2: usable ground that no other relay on the air gives; alone_people: who live there. reached,
    alone_people: None where people are not counted.
    """

    relay: Relay
    run: CoverageRun | None
    areas: Areas | None = None
    alone_km2: float | None = None
    end_sentence: str = ""
    problem: str = ""
    reached: Reached | None = None
    alone_people: float | None = None


@dataclass(frozen=True, slots=True)
class Addition:
    """What one relay adds to another."""

    by: Relay
    to: Relay
    what: Added


@dataclass(frozen=True, slots=True)
class Summary:
    """What a radio reaches: by relay, and all relays on the air together.

    uncounted: why people are not counted, or beyond what they are not; empty if all are. additions: of every relay
    to every other; none where people are not counted.
    """

    radio: str
    rows: tuple[Row, ...]
    together: Areas | None
    together_people: Reached | None = None
    additions: tuple[Addition, ...] = ()
    uncounted: str = ""


@dataclass(frozen=True, slots=True)
class _Known:
    raster: LossRaster
    reach: Reach
    on_the_air: bool


@dataclass(frozen=True, slots=True)
class _Numbers:
    areas: tuple[Areas, ...]
    alone_km2: tuple[float, ...]
    together: Areas


@dataclass(frozen=True, slots=True)
class _Counted:
    """The same in people; additions: of the first index to the second."""

    reached: tuple[Reached, ...]
    alone: tuple[float, ...]
    together: Reached
    additions: tuple[tuple[int, int, Added], ...]
    beyond: str


def of(relays: Sequence[Relay], radio: str) -> Summary:
    """The summary for a typical radio, from stored rasters only: nothing is swept here.

    Raises UnknownPresetError. A relay without a fresh raster has its reason in its row.
    """
    height_m, building = preset(radio).height.value, preset(radio).indoors
    known, rows = [], {}
    for relay in relays:
        try:
            asked = live.question(relay, receiver_height_m=height_m, building=building)
            if asked.run is None:
                rows[relay.pk] = Row(relay, runs.today(relay))
                continue
            raster = live.loss(asked)
            known.append((asked, raster, reach(radios.typical(radio, relay), relay)))
        except PropagationError as problem:
            rows[relay.pk] = Row(relay, runs.today(relay), problem=str(problem))
    if not known:
        return Summary(radio, tuple(rows[relay.pk] for relay in relays), None)
    key = tuple((asked.key, asked.relay.is_on_the_air, each) for asked, _, each in known)
    found = [_Known(raster, each, asked.relay.is_on_the_air) for asked, raster, each in known]
    numbers = _numbers.get(key, lambda: _work_out(found))
    counted, uncounted = _people(key, found)
    for at, (asked, raster, _) in enumerate(known):
        rows[asked.relay.pk] = Row(
            asked.relay,
            asked.run,
            numbers.areas[at],
            numbers.alone_km2[at],
            raster.end_sentence,
            reached=counted.reached[at] if counted else None,
            alone_people=counted.alone[at] if counted else None,
        )
    return Summary(
        radio,
        tuple(rows[relay.pk] for relay in relays),
        numbers.together,
        counted.together if counted else None,
        _additions([asked.relay for asked, _, _ in known], counted) if counted else (),
        uncounted,
    )


def _work_out(known: Sequence[_Known]) -> _Numbers:
    found, on_the_air = _verdicts(known)
    return _Numbers(
        areas=tuple(areas.areas(each) for each in found),
        alone_km2=tuple(areas.added_km2(each, _others(each, on_the_air)) for each in found),
        together=areas.areas(areas.together(on_the_air)),
    )


def _verdicts(known: Sequence[_Known]) -> tuple[list[Verdicts], list[Verdicts]]:
    """Of every relay, and of those that count together: only relays on the air; if none is, all do."""
    found = [areas.verdicts_of(each.raster, each.reach) for each in known]
    return found, [each for each, one in zip(found, known, strict=True) if one.on_the_air] or found


def _others(one: Verdicts, several: Sequence[Verdicts]) -> list[Verdicts]:
    return [other for other in several if other is not one]


def _people(key: tuple[object, ...], known: Sequence[_Known]) -> tuple[_Counted | None, str]:
    """People, and in words what is not counted; None if nobody can be."""
    everybody = counting.current()
    if not everybody:
        return None, NONE_IMPORTED
    try:
        counted = _counts.get((key, everybody.version), lambda: _count(known, everybody))
    except PopulationLost as problem:
        return None, str(problem)
    return counted, counted.beyond


def _count(known: Sequence[_Known], everybody: People) -> _Counted:
    found, on_the_air = _verdicts(known)
    people_on: Callable[[Lattice], PeopleArray] = cache(everybody.on)
    together = areas.together(on_the_air)
    pairs = [(by, to) for by in range(len(found)) for to in range(len(found)) if by != to]
    return _Counted(
        reached=tuple(people.reached(each, people_on(each.lattice)) for each in found),
        alone=tuple(people.added(each, _others(each, on_the_air), people_on).people for each in found),
        together=people.reached(together, people_on(together.lattice)),
        additions=tuple((by, to, people.added(found[by], [found[to]], people_on)) for by, to in pairs),
        beyond=_beyond(together, everybody),
    )


def _beyond(together: Verdicts, everybody: People) -> str:
    """How much of the known ground no raster of people reaches, in a sentence."""
    known = together.classes != UNKNOWN
    within = known & everybody.reaches(together.lattice)
    missing = 1.0 - int(np.count_nonzero(within)) / max(int(np.count_nonzero(known)), 1)
    if missing < 0.005:
        return ""
    if missing > 0.995:
        return "The population raster does not reach this map, so nobody is counted."
    return (
        f"The population raster does not reach {100.0 * missing:.0f} % of the known ground; "
        "nobody is counted there."
    )


def _additions(relays: Sequence[Relay], counted: _Counted) -> tuple[Addition, ...]:
    return tuple(Addition(relays[by], relays[to], what) for by, to, what in counted.additions)


_numbers: Kept[_Numbers] = Kept(200)
_counts: Kept[_Counted] = Kept(200)
