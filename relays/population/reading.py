"""Rewrite a given raster of people as people per cell on WGS 84, nobody lost and nobody added."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from pyproj import Transformer
from rasterio.windows import Window

from relays.models import PopulationRaster
from relays.population import apportion
from relays.propagation.terrain import Lattice
from relays.rasters.normalise import pixel_transform
from relays.rasters.opening import Given
from relays.rasters.placing import check_bounds, own_lattice, post_size_m
from relays.rasters.refusal import RasterRefused
from relays.rasters.strips import STRIP_ROWS, Progress, end_share, strips

FloatArray = npt.NDArray[np.float64]
GivenAs = PopulationRaster.GivenAs

#: More on one km² is hardly found in a cell of a hundred metres anywhere; a density taken for a count soon has it.
MOST_PER_KM2 = 100_000.0
#: Cells of a raster that has to be moved are all in memory at once.
MOST_MOVED = 10_000_000

# Each cell of a raster on another map grid is moved in so many parts a side.
_PARTS = 4
_STEPS_SECONDS = (1.0, 1.5, 2.0, 3.0, 5.0, 6.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0)
_SECOND_M = 30.89
_NEARLY = 1.05

_WORDS = {
    "people": GivenAs.COUNT, "persons": GivenAs.COUNT, "inhabitants": GivenAs.COUNT,
    "people/km2": GivenAs.DENSITY, "persons/km2": GivenAs.DENSITY, "inhabitants/km2": GivenAs.DENSITY,
    "people per km2": GivenAs.DENSITY, "persons per km2": GivenAs.DENSITY, "inhabitants per km2": GivenAs.DENSITY,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cells:
    """What was written, and what the given file held. people: the sum of the given file."""

    lattice: Lattice
    people: float
    densest_per_km2: float
    cells_without: int
    cells_given: int
    moved: bool


def quantity(given: Given, wanted: str) -> GivenAs:
    """What the numbers of a file are: as wanted, else as the unit of its band says. RasterRefused if neither does."""
    if wanted:
        return GivenAs(wanted)
    unit = str(given.dataset.units[0] or "").strip().lower().replace("²", "2").replace("km^2", "km2")
    if unit in _WORDS:
        return _WORDS[unit]
    raise RasterRefused(
        given.name,
        f"{given.name} does not say what its numbers are; add --as count for people in each cell or "
        "--as density for people per km².",
    )


def rewrite(
    given: Given, target: Path, given_as: GivenAs, progress: Progress, *, is_dense: bool = False
) -> Cells:
    """Write `target`, a tiled GeoTIFF of people per cell with NaN for no figure, and say what it holds.

    A raster of latitude and longitude keeps its cells. The cells of any other are cut in sixteen and each part put
    into the cell in whose bounds its middle lies: the sum stays, the place is good to an eighth of a cell.

    RasterRefused for negative or infinite figures, nothing but missing ones, a density that no place has (unless
    is_dense), a file cut short, and whatever lies off the globe or across the 180 degree meridian.
    """
    to_wgs84 = Transformer.from_crs(given.crs, "EPSG:4326", always_xy=True)
    finest_m = min(post_size_m(given, to_wgs84))
    own = own_lattice(given, to_wgs84)
    lattice = own or _round_lattice(given, to_wgs84, finest_m)
    moved = _Moved(lattice) if own is None else None
    people, densest, without = [], 0.0, 0
    with rasterio.open(target, "w", **_profile(lattice)) as sink:
        for window in strips(given.rows, given.columns):
            figures = _figures(given, window)
            km2 = _km2(given, to_wgs84, lattice, window, is_own=own is not None)
            counts = figures * km2 if given_as is GivenAs.DENSITY else figures
            without += int(np.count_nonzero(np.isnan(counts)))
            people.append(float(np.nansum(counts)))
            densest = max(densest, float(np.nanmax(np.append(counts / km2, 0.0))))
            if moved is None:
                sink.write(counts, 1, window=window)
            else:
                moved.take(given, to_wgs84, window, counts)
            progress(end_share(window, given.rows))
        if moved is not None:
            sink.write(moved.people, 1)
    total = math.fsum(people)
    _check(given.name, given_as, densest, without == given.rows * given.columns, is_dense=is_dense)
    return Cells(lattice, total, densest, without, given.rows * given.columns, own is None)


def _figures(given: Given, window: Window) -> FloatArray:
    """The numbers of a strip as the file means them, NaN where it has none."""
    raw, masked = given.read(window)
    figures: FloatArray = raw.astype(np.float64) * float(given.dataset.scales[0]) + float(
        given.dataset.offsets[0]
    )
    figures[masked] = np.nan
    wrong = figures[(figures < 0.0) | np.isinf(figures)]
    if wrong.size:
        raise RasterRefused(
            given.name,
            f"{given.name} has {wrong[0]:,.6g} people in a cell; nought or more is needed. If that number marks "
            "cells without a figure the file must declare it as its nodata value.",
        )
    return figures


def _check(name: str, given_as: GivenAs, densest: float, is_void: bool, *, is_dense: bool) -> None:
    if is_void:
        raise RasterRefused(name, f"{name} holds no figures at all: every cell is without one.")
    if densest > MOST_PER_KM2 and not is_dense:
        other = GivenAs.DENSITY if given_as is GivenAs.COUNT else GivenAs.COUNT
        raise RasterRefused(
            name,
            f"Read as {given_as.label}, {name} has {densest:,.0f} people per km² in its fullest cell, and more than "
            f"{MOST_PER_KM2:,.0f} live hardly anywhere. If its numbers are {other.label}, import it with "
            f"--as {other.value}; if it is really that full, add --dense.",
        )


def _km2(
    given: Given, to_wgs84: Transformer, lattice: Lattice, window: Window, *, is_own: bool
) -> FloatArray:
    """Ground under every cell of a strip, km², broadcasting against (rows, columns)."""
    rows = np.arange(window.row_off, window.row_off + window.height)
    if is_own:
        return apportion.cell_km2(lattice)[rows][:, np.newaxis]
    row, column = np.indices((window.height, given.columns), dtype=np.float64) + 0.5
    row += window.row_off
    west, north_of_west = _degrees(given, to_wgs84, column - 0.5, row)
    east, north_of_east = _degrees(given, to_wgs84, column + 0.5, row)
    upper, top = _degrees(given, to_wgs84, column, row - 0.5)
    lower, bottom = _degrees(given, to_wgs84, column, row + 0.5)
    # Longitude by area north of the equator is an equal-area map: the area is that of a parallelogram on it.
    across = np.radians(east - west), apportion.zone_km2(north_of_east) - apportion.zone_km2(north_of_west)
    down = np.radians(lower - upper), apportion.zone_km2(bottom) - apportion.zone_km2(top)
    return np.asarray(np.abs(across[0] * down[1] - across[1] * down[0]), dtype=np.float64)


def _degrees(
    given: Given, to_wgs84: Transformer, column: npt.NDArray[np.floating], row: npt.NDArray[np.floating]
) -> tuple[FloatArray, FloatArray]:
    """Longitude and latitude of places in the raster."""
    t = given.transform
    longitude, latitude = to_wgs84.transform(t.a * column + t.b * row + t.c, t.d * column + t.e * row + t.f)
    return np.asarray(longitude), np.asarray(latitude)


class _Moved:
    """Cells of another map grid, added up part by part on a lattice of latitude and longitude."""

    def __init__(self, lattice: Lattice) -> None:
        self._lattice = lattice
        self._people = np.zeros(lattice.rows * lattice.columns)
        self._known = np.zeros(self._people.size, dtype=np.bool_)

    @property
    def people(self) -> FloatArray:
        """In every cell of the lattice, NaN where no part of a cell with a figure came to lie."""
        self._people[~self._known] = np.nan
        return self._people.reshape(self._lattice.rows, self._lattice.columns)

    def take(self, given: Given, to_wgs84: Transformer, window: Window, counts: FloatArray) -> None:
        """Share out one strip. Inside a cell, places are interpolated between its corners."""
        row, column = np.indices((window.height + 1, given.columns + 1), dtype=np.float64)
        longitude, latitude = _degrees(given, to_wgs84, column, row + window.row_off)
        known = np.isfinite(counts)
        corners = [
            (longitude[at][known], latitude[at][known])
            for at in (np.s_[:-1, :-1], np.s_[:-1, 1:], np.s_[1:, :-1], np.s_[1:, 1:])
        ]
        share = counts[known] / _PARTS**2
        lost = ~np.isfinite(np.sum(corners, axis=(0, 1)))
        if share[lost].any():
            raise RasterRefused(given.name, f"{given.name} has people off the globe by its own coordinates.")
        for at in range(_PARTS**2):
            down, across = ((each + 0.5) / _PARTS for each in divmod(at, _PARTS))
            weights = ((1 - down) * (1 - across), (1 - down) * across, down * (1 - across), down * across)
            middle = np.tensordot(weights, corners, axes=1)[:, ~lost]
            self._add(middle[0], middle[1], share[~lost])

    def _add(self, longitude: FloatArray, latitude: FloatArray, share: FloatArray) -> None:
        its = self._lattice
        row = np.rint((its.north_deg - latitude) / its.latitude_step_deg)
        column = np.rint(((longitude - its.west_deg + 180.0) % 360.0 - 180.0) / its.longitude_step_deg)
        flat = np.clip(row, 0, its.rows - 1) * its.columns + np.clip(column, 0, its.columns - 1)
        where = flat.astype(np.intp)
        np.add.at(self._people, where, share)
        self._known[where] = True


def _round_lattice(given: Given, to_wgs84: Transformer, finest_m: float) -> Lattice:
    """A lattice of about the given cells that covers them all."""
    fitting = [seconds for seconds in _STEPS_SECONDS if seconds * _SECOND_M <= finest_m * _NEARLY]
    step = max(fitting, default=_STEPS_SECONDS[0]) / 3600.0
    t = given.transform
    corners = [(t @ (column, row)) for column in (0, given.columns) for row in (0, given.rows)]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    west, south, east, north = to_wgs84.transform_bounds(min(xs), min(ys), max(xs), max(ys), densify_pts=41)
    check_bounds(given.name, west, south, east, north)
    top, left = math.ceil(north / step), math.floor(west / step)
    rows, columns = top - math.floor(south / step) + 1, math.ceil(east / step) - left + 1
    if max(rows * columns, given.rows * given.columns) > MOST_MOVED:
        raise RasterRefused(
            given.name,
            f"{given.name} has more cells than can be put on latitude and longitude at once; cut out the part "
            f"around the relays, at most {MOST_MOVED // 1_000_000} million cells.",
        )
    return Lattice(top * step, left * step, step, step, max(rows, 2), max(columns, 2))


def _profile(lattice: Lattice) -> dict[str, object]:
    return {
        "driver": "GTiff",
        "dtype": "float64",
        "count": 1,
        "nodata": math.nan,
        "crs": "EPSG:4326",
        "transform": pixel_transform(lattice),
        "width": lattice.columns,
        "height": lattice.rows,
        "tiled": True,
        "blockxsize": STRIP_ROWS,
        "blockysize": STRIP_ROWS,
        "compress": "deflate",
        "predictor": 3,
        "bigtiff": "if_safer",
    }
