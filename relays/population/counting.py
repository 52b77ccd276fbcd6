"""How many people live in every pixel of a map, from all imported rasters.

Where rasters overlap, the one imported last counts: a cell of an earlier one is left out when its middle lies in a
cell of a later one that has a figure. So a newer year replaces an older one, and countries that come in files of
their own, each empty beyond its border, add up.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import rasterio
from django.core.files.storage import default_storage
from rasterio.errors import RasterioError
from rasterio.windows import Window

from relays.models import PopulationRaster
from relays.population import apportion
from relays.propagation.errors import PropagationError
from relays.propagation.terrain import Lattice

PeopleArray = npt.NDArray[np.float32]


class PopulationLost(PropagationError):
    """A stored raster of people cannot be read any more."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(
            "population",
            name,
            "stored files as they were imported",
            f"People are not counted, because the stored raster {name} cannot be read; import {name} again.",
        )

    def __reduce__(self) -> tuple[type[PopulationLost], tuple[str]]:
        return type(self), (self.name,)


@dataclass(frozen=True, slots=True)
class People:
    """All imported rasters of people, the last first. version: changes with every import and removal."""

    version: str
    _stored: tuple[_Stored, ...] = field(repr=False)

    def __bool__(self) -> bool:
        return bool(self._stored)

    def on(self, lattice: Lattice) -> PeopleArray:
        """People in every pixel, float32, shape of the lattice; nought beyond the rasters.

        Raises PopulationLost.
        """
        found = np.zeros((lattice.rows, lattice.columns), dtype=np.float32)
        later: list[_Window] = []
        for stored in self._stored:
            window = stored.window(lattice)
            if window is None:
                continue
            counts = np.nan_to_num(window.people)
            for each in later:
                counts[each.knows(window.lattice)] = 0.0
            found += apportion.apportioned(counts, window.lattice, lattice)
            later.append(window)
        return found

    def reaches(self, lattice: Lattice) -> npt.NDArray[np.bool_]:
        """Whether the middle of each pixel lies within the bounds of a raster."""
        inside = np.zeros((lattice.rows, lattice.columns), dtype=np.bool_)
        for stored in self._stored:
            row, column = _positions(stored.lattice, lattice)
            inside |= (row >= 0)[:, np.newaxis] & (column >= 0)
        return inside


@dataclass(frozen=True, slots=True)
class _Window:
    """A part of one raster in memory, cut out so that it holds every cell the map touches and one more all round."""

    lattice: Lattice
    people: npt.NDArray[np.float64] = field(repr=False)

    def knows(self, other: Lattice) -> npt.NDArray[np.bool_]:
        """Whether the middles of another lattice's cells lie in cells that have a figure."""
        row, column = _positions(self.lattice, other)
        found: npt.NDArray[np.bool_] = np.isfinite(self.people[row[:, np.newaxis], column])
        return found & (row >= 0)[:, np.newaxis] & (column >= 0)


@dataclass(frozen=True, slots=True)
class _Stored:
    name: str
    file: str
    lattice: Lattice

    def window(self, target: Lattice) -> _Window | None:
        rows, columns = apportion.overlap(self.lattice, target)
        if rows.start >= rows.stop or columns.start >= columns.stop:
            return None
        rows, columns = _widened(rows, self.lattice.rows), _widened(columns, self.lattice.columns)
        cut = Window(columns.start, rows.start, columns.stop - columns.start, rows.stop - rows.start)
        try:
            with rasterio.open(self.file, driver="GTiff") as dataset:
                people = dataset.read(1, window=cut)
        except RasterioError as error:
            raise PopulationLost(self.name) from error
        return _Window(self.lattice.part(rows, columns), people)


def current() -> People:
    """The rasters as imported now; one small query."""
    rows = list(PopulationRaster.objects.order_by("-imported_at", "sha256"))
    digest = hashlib.sha256()
    for row in rows:
        digest.update(
            f"{row.sha256} {row.given_as} {row.imported_at.timestamp():.6f} {row.file.name}\n".encode()
        )
    return People(digest.hexdigest(), tuple(_as_stored(row) for row in rows))


def _as_stored(row: PopulationRaster) -> _Stored:
    down = (row.north_deg - row.south_deg) / row.rows
    across = (row.east_deg - row.west_deg) / row.columns
    lattice = Lattice(
        row.north_deg - down / 2, row.west_deg + across / 2, down, across, row.rows, row.columns
    )
    return _Stored(row.name, default_storage.path(str(row.file.name)), lattice)


def _widened(part: slice, most: int) -> slice:
    return slice(max(0, part.start - 1), min(most, part.stop + 1))


def _positions(cells: Lattice, other: Lattice) -> Sequence[npt.NDArray[np.intp]]:
    """Row and column of the cell that each row and column of another lattice lies in, -1 beyond."""
    row = np.rint((cells.north_deg - other.latitude_deg) / cells.latitude_step_deg)
    middle_deg = 0.5 * (cells.west_deg + cells.east_deg)
    beside_deg = (other.longitude_deg - middle_deg + 180.0) % 360.0 - 180.0 + middle_deg
    column = np.rint((beside_deg - cells.west_deg) / cells.longitude_step_deg)
    found = []
    for at, most in ((row, cells.rows), (column, cells.columns)):
        found.append(np.where((at >= 0) & (at < most), at, -1).astype(np.intp))
    return found
