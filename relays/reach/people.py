"""How many people live where a radio is heard: by verdict, and what one relay adds to others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from relays.coverage.packed import row_areas_km2
from relays.propagation.terrain import Lattice
from relays.propagation.verdicts import VERDICT_CLASSES, VerdictClass
from relays.reach.areas import Verdicts, newly_usable
from relays.reach.thresholds import UNKNOWN

PeopleArray = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ClassPeople:
    """Who lives where one verdict holds.

    probability: of a usable signal, averaged over these people; None where nobody lives.
    """

    verdict: VerdictClass
    people: float
    probability: float | None


@dataclass(frozen=True, slots=True)
class Reached:
    """All verdicts, best first. on_the_map: people within the radius on ground of which something is known."""

    rows: tuple[ClassPeople, ...]
    on_the_map: float

    @property
    def usable(self) -> float:
        """People who live where the signal is usable."""
        return sum(row.people for row in self.rows if row.verdict.usable)

    @property
    def to_count_on(self) -> float:
        """The same, each with the chance of a usable signal: of 100 people at 70 %, 70."""
        return sum(row.people * (row.probability or 0.0) for row in self.rows if row.verdict.usable)


def reached(found: Verdicts, people: PeopleArray) -> Reached:
    """People by verdict. people: in every pixel, of the shape of the verdicts' lattice."""
    rows = []
    for index, verdict in enumerate(VERDICT_CLASSES):
        here = found.classes == index
        number = float(people[here].sum(dtype=np.float64))
        weight = float((people[here] * found.probability[here]).sum(dtype=np.float64))
        rows.append(ClassPeople(verdict, number, weight / number if number else None))
    on_the_map = float(people[found.classes != UNKNOWN].sum(dtype=np.float64))
    return Reached(tuple(rows), on_the_map)


@dataclass(frozen=True, slots=True)
class Added:
    """Ground usable through one relay and through none of some others, and who lives there."""

    km2: float
    people: float


def added(by: Verdicts, to: Sequence[Verdicts], people_on: Callable[[Lattice], PeopleArray]) -> Added:
    """What one relay adds to others. people_on: people in every pixel of a lattice, of its shape."""
    lattice, new = newly_usable(by, to)
    km2 = float(row_areas_km2(lattice) @ np.count_nonzero(new, axis=1))
    return Added(km2, float(people_on(lattice)[new].sum(dtype=np.float64)))
