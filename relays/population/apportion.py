"""People in the cells of one lattice, shared out among the pixels of another by area.

Inside a cell people are taken to be spread evenly over the ground: a pixel gets of each cell the part of the
cell's area that lies in it. Between two lattices of latitude and longitude that part is a product, of the part of
the cell's zone between two parallels and the part of its width, so both are shared out one after the other.
Where pixels cover a cell wholly its people are all shared out and none is added.

Source of the area of a zone of the ellipsoid: Snyder, Map Projections: A Working Manual, USGS Professional
Paper 1395, 1987, equation 3-12 (q), with the constants of WGS 84; a zone has a² q / 2 for each radian of width.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from relays.propagation.terrain import Lattice

FloatArray = npt.NDArray[np.float64]

_SEMI_MAJOR_KM = 6378.137
_FLATTENING = 1.0 / 298.257223563
_E2 = _FLATTENING * (2.0 - _FLATTENING)
_E = math.sqrt(_E2)


def zone_km2(latitude_deg: npt.ArrayLike) -> FloatArray:
    """Area between the equator and a parallel for each radian of longitude, km², negative in the south."""
    sine = np.sin(np.radians(np.clip(np.asarray(latitude_deg, dtype=np.float64), -90.0, 90.0)))
    q = (1.0 - _E2) * (
        sine / (1.0 - _E2 * sine**2) - np.log((1.0 - _E * sine) / (1.0 + _E * sine)) / (2.0 * _E)
    )
    return np.asarray(0.5 * _SEMI_MAJOR_KM**2 * q, dtype=np.float64)


def row_edges_deg(lattice: Lattice) -> FloatArray:
    """Latitude of the edges of every row, shape (rows + 1,), north first."""
    return (
        lattice.north_deg - (np.arange(lattice.rows + 1, dtype=np.float64) - 0.5) * lattice.latitude_step_deg
    )


def column_edges_deg(lattice: Lattice) -> FloatArray:
    """Longitude of the edges of every column, shape (columns + 1,), west first; may run on beyond 180."""
    return (
        lattice.west_deg
        + (np.arange(lattice.columns + 1, dtype=np.float64) - 0.5) * lattice.longitude_step_deg
    )


def cell_km2(lattice: Lattice) -> FloatArray:
    """Area of one cell in each row, km², shape (rows,)."""
    return -np.diff(zone_km2(row_edges_deg(lattice))) * math.radians(lattice.longitude_step_deg)


def overlap(cells: Lattice, target: Lattice) -> tuple[slice, slice]:
    """Rows and columns of the cells that touch a pixel of the target; empty slices where none does."""
    down, across = _places(cells, target)
    return _touched(down), _touched(across)


def _touched(places: FloatArray) -> slice:
    return slice(math.floor(places[0]), math.ceil(places[-1]))


def apportioned(people: npt.NDArray[np.floating], cells: Lattice, target: Lattice) -> npt.NDArray[np.float32]:
    """People in every pixel of `target`, of its shape.

    people: in every cell of `cells`, of its shape, none of them NaN.
    """
    down, across = _places(cells, target)
    zones = _shared_out(np.asarray(people, dtype=np.float64), down)
    found = np.empty((target.rows, target.columns), dtype=np.float32)
    # A strip at a time: in double precision the whole would take twice the memory of the answer.
    for first in range(0, target.rows, 256):
        rows = slice(first, first + 256)
        found[rows] = _shared_out(np.ascontiguousarray(zones[rows].T), across).T
    return found


def _places(cells: Lattice, target: Lattice) -> tuple[FloatArray, FloatArray]:
    """Where the target's edges lie among the cells, in rows and in columns of equal area; clipped to the cells."""
    rows, columns = np.arange(cells.rows + 1.0), np.arange(cells.columns + 1.0)
    down = np.interp(-zone_km2(row_edges_deg(target)), -zone_km2(row_edges_deg(cells)), rows)
    middle_deg = 0.5 * (cells.west_deg + cells.east_deg)
    turns = round((middle_deg - 0.5 * (target.west_deg + target.east_deg)) / 360.0)
    across = np.interp(column_edges_deg(target) + 360.0 * turns, column_edges_deg(cells), columns)
    return down, across


def _shared_out(values: FloatArray, places: FloatArray) -> FloatArray:
    """Sums of `values` along axis 0 between each place and the next, cells cut by a place shared by length."""
    before = np.zeros((values.shape[0] + 1, values.shape[1]))
    np.cumsum(values, axis=0, out=before[1:])
    whole = np.minimum(places.astype(np.intp), values.shape[0] - 1)
    part = (places - whole)[:, np.newaxis]
    upto = before[whole] + part * values[whole]
    # Differences of long sums may fall below nought by their last bit.
    return np.maximum(np.diff(upto, axis=0), 0.0)
