"""How much ground is reached: by one relay, by several together, and what one adds to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from relays.coverage.packed import row_areas_km2
from relays.coverage.rasters import LossRaster
from relays.propagation.terrain import Lattice
from relays.propagation.verdicts import VERDICT_CLASSES, VerdictClass
from relays.reach.thresholds import UNKNOWN, ClassArray, FloatArray, Reach

_USABLE = [index for index, row in enumerate(VERDICT_CLASSES) if row.usable]


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Verdict and probability at every post of a lattice: of one relay, or the best of several."""

    lattice: Lattice
    classes: ClassArray = field(repr=False)
    probability: FloatArray = field(repr=False)

    @property
    def usable(self) -> npt.NDArray[np.bool_]:
        return np.isin(self.classes, _USABLE)


@dataclass(frozen=True, slots=True)
class ClassArea:
    """One verdict's share of the ground: km², share of the known ground, and the chance it stands for.

    probability: of a usable signal, averaged over the area; None where there is no such ground.
    """

    verdict: VerdictClass
    area_km2: float
    share: float
    probability: float | None


@dataclass(frozen=True, slots=True)
class Areas:
    """All verdicts, best first. known_km2: ground within the radius of which something is known."""

    rows: tuple[ClassArea, ...]
    known_km2: float

    @property
    def usable_km2(self) -> float:
        return sum(row.area_km2 for row in self.rows if row.verdict.usable)

    @property
    def usable_share(self) -> float:
        return self.usable_km2 / self.known_km2 if self.known_km2 else 0.0


def verdicts_of(raster: LossRaster, reach: Reach) -> Verdicts:
    """What one relay gives one radio."""
    return Verdicts(raster.lattice, reach.classes(raster.loss_db), reach.probability(raster.loss_db))


def areas(found: Verdicts) -> Areas:
    """Area by verdict, each pixel with the area of its row."""
    km2 = row_areas_km2(found.lattice)
    known_km2 = float(km2 @ np.count_nonzero(found.classes != UNKNOWN, axis=1))
    rows = []
    for index, verdict in enumerate(VERDICT_CLASSES):
        here = found.classes == index
        area_km2 = float(km2 @ np.count_nonzero(here, axis=1))
        weight = float(km2 @ np.where(here, found.probability, 0.0).sum(axis=1))
        rows.append(
            ClassArea(
                verdict,
                area_km2,
                area_km2 / known_km2 if known_km2 else 0.0,
                weight / area_km2 if area_km2 else None,
            )
        )
    return Areas(tuple(rows), known_km2)


def together(several: Sequence[Verdicts]) -> Verdicts:
    """The best of several at every place: what linked relays give. At least one is needed."""
    lattice = common_lattice([each.lattice for each in several])
    classes = np.full((lattice.rows, lattice.columns), UNKNOWN, dtype=np.uint8)
    probability = np.full(classes.shape, np.nan, dtype=np.float32)
    for each in several:
        laid = on_lattice(each, lattice)
        np.minimum(classes, laid.classes, out=classes)  # the best is the least, UNKNOWN the most
        np.fmax(probability, laid.probability, out=probability)
    return Verdicts(lattice, classes, probability)


def added_km2(by: Verdicts, to: Sequence[Verdicts]) -> float:
    """Ground usable through one relay and through none of the others."""
    lattice, new = newly_usable(by, to)
    return float(row_areas_km2(lattice) @ np.count_nonzero(new, axis=1))


def newly_usable(by: Verdicts, to: Sequence[Verdicts]) -> tuple[Lattice, npt.NDArray[np.bool_]]:
    """Where one relay is usable and none of the others is, on a lattice over all of them."""
    lattice = common_lattice([by.lattice, *(each.lattice for each in to)])
    new = on_lattice(by, lattice).usable
    for each in to:
        new &= ~on_lattice(each, lattice).usable
    return lattice, new


def common_lattice(lattices: Sequence[Lattice]) -> Lattice:
    """The posts of the finest lattice carried on over all of them.

    Relays on one mosaic share its posts, so nothing is resampled there.
    """
    finest = min(lattices, key=lambda each: each.latitude_step_deg)
    if all(each == finest for each in lattices):
        return finest
    step_y, step_x = finest.latitude_step_deg, finest.longitude_step_deg
    north = max(round((each.north_deg - finest.north_deg) / step_y) for each in lattices)
    south = max(round((finest.north_deg - each.south_deg) / step_y) for each in lattices)
    west_deg = [_beside(each.west_deg, finest.west_deg) for each in lattices]
    west = max(round((finest.west_deg - each) / step_x) for each in west_deg)
    width = [each.east_deg - each.west_deg for each in lattices]
    pairs = zip(west_deg, width, strict=True)
    east = max(round((each + wide - finest.west_deg) / step_x) for each, wide in pairs)
    corner_deg = finest.west_deg - west * step_x
    return Lattice(
        finest.north_deg + north * step_y,
        (corner_deg + 180.0) % 360.0 - 180.0 if abs(corner_deg) > 180.0 else corner_deg,
        step_y,
        step_x,
        north + south + 1,
        west + east + 1,
    )


def _beside(longitude_deg: float, other_deg: float) -> float:
    """The same longitude written so that it is less than half a turn from another."""
    return other_deg + (longitude_deg - other_deg + 180.0) % 360.0 - 180.0


def on_lattice(found: Verdicts, lattice: Lattice) -> Verdicts:
    """The nearest post's verdict on every post of another lattice, UNKNOWN beyond."""
    if found.lattice == lattice:
        return found
    own = found.lattice
    row, column = lattice_positions(own, lattice)
    rows, columns = (row >= 0) & (row < own.rows), (column >= 0) & (column < own.columns)
    classes = np.full((lattice.rows, lattice.columns), UNKNOWN, dtype=np.uint8)
    probability = np.full(classes.shape, np.nan, dtype=np.float32)
    target, source = np.ix_(rows, columns), np.ix_(row[rows], column[columns])
    classes[target] = found.classes[source]
    probability[target] = found.probability[source]
    return Verdicts(lattice, classes, probability)


def lattice_positions(own: Lattice, other: Lattice) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """The nearest row and column of one lattice for every row and column of another; beyond it, out of range."""
    row = np.rint((own.north_deg - other.latitude_deg) / own.latitude_step_deg).astype(np.intp)
    from_west = (other.longitude_deg - own.west_deg + 1e-9) % 360.0 - 1e-9
    return row, np.rint(from_west / own.longitude_step_deg).astype(np.intp)
