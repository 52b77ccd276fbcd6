"""Ground heights on a latitude-longitude lattice, and sampling between its posts.

A raster is read as *posts*: each number is the height at one point, the centre of its pixel. Row 0 is the
northernmost, arrays are indexed ``[row, column]``, and a post without a height holds NaN. Between posts the
ground is bilinear; beyond the outermost posts there is no ground, because extending it would be inventing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from relays.propagation.errors import PropagationError

FloatArray = npt.NDArray[np.float64]
HeightArray = npt.NDArray[np.float32]

# A place this close to a lattice line, in posts, is on it: a tenth of a millimetre at 3 arc seconds. Without
# it a site exactly on the edge of a tile would fall off by the last bit of its longitude.
_ON_THE_LINE = 1e-6

_COMPASS = (
    "north", "north-north-east", "north-east", "east-north-east", "east", "east-south-east", "south-east",
    "south-south-east", "south", "south-south-west", "south-west", "west-south-west", "west",
    "west-north-west", "north-west", "north-north-west",
)  # fmt: skip


class NoTerrain(PropagationError):
    """No ground heights are at hand at all."""

    def __init__(self) -> None:
        super().__init__(
            "terrain",
            None,
            "at least one imported tile of ground heights",
            "No terrain has been imported yet; an officer can add it with manage.py import_terrain.",
        )

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), ()


class LeavesTerrain(PropagationError):
    """A path runs over ground whose height is not known.

    latitude_deg, longitude_deg: the last place of known ground on the way, or the starting end itself when
    that has none. distance_km, bearing_deg: the same place seen from the end the path was followed from.
    from_relay: whether that end is a relay. Only then does the sentence say how far and in which of sixteen
    directions the ground ends; between two stations it says neither, because both ends may be homes. The
    coordinates are never in the sentence, in ``args`` or in ``repr()``.
    """

    def __init__(
        self,
        *,
        latitude_deg: float,
        longitude_deg: float,
        distance_km: float,
        bearing_deg: float,
        from_relay: bool,
    ) -> None:
        self.latitude_deg = latitude_deg
        self.longitude_deg = longitude_deg
        self.distance_km = distance_km
        self.bearing_deg = bearing_deg
        self.from_relay = from_relay
        super().__init__(
            "terrain",
            distance_km,
            "imported ground under the whole path",
            self._say(distance_km, bearing_deg),
        )

    def _say(self, distance_km: float, bearing_deg: float) -> str:
        if not self.from_relay:
            return (
                "The path leaves the imported terrain, so nothing can be said about it; "
                "import the ground between its ends."
            )
        if distance_km <= 0.0:
            return "The relay itself stands outside the imported terrain; import the ground around it."
        return (
            f"The path leaves the imported terrain {distance_km:.1f} km {compass_point(bearing_deg)} "
            "of the relay, so nothing can be said about it; import the ground beyond."
        )

    def __reduce__(self) -> tuple[Any, ...]:
        facts = (self.latitude_deg, self.longitude_deg, self.distance_km, self.bearing_deg, self.from_relay)
        return _leaves_terrain, facts


def _leaves_terrain(
    latitude_deg: float, longitude_deg: float, distance_km: float, bearing_deg: float, from_relay: bool
) -> LeavesTerrain:
    return LeavesTerrain(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        distance_km=distance_km,
        bearing_deg=bearing_deg,
        from_relay=from_relay,
    )


def compass_point(bearing_deg: float) -> str:
    """The nearest of sixteen compass points, in words: 62 degrees is "east-north-east"."""
    return _COMPASS[round(bearing_deg / 22.5) % 16]


@dataclass(frozen=True, slots=True)
class Lattice:
    """Where the posts of a raster stand. Degrees; the corners named are posts, not pixel edges.

    west_deg is in -180..180. A lattice may run on across the 180 degree meridian: its east_deg is then
    above 180, and places are found on it by either way of writing their longitude.
    """

    north_deg: float
    west_deg: float
    latitude_step_deg: float
    longitude_step_deg: float
    rows: int
    columns: int

    def __post_init__(self) -> None:
        if self.rows < 2 or self.columns < 2:
            raise ValueError(
                f"A lattice needs at least 2 x 2 posts; {self.rows} x {self.columns} were given."
            )
        if not (self.latitude_step_deg > 0 and self.longitude_step_deg > 0):
            raise ValueError("The steps of a lattice are positive: row 0 is north, column 0 is west.")

    @property
    def south_deg(self) -> float:
        return self.north_deg - (self.rows - 1) * self.latitude_step_deg

    @property
    def east_deg(self) -> float:
        return self.west_deg + (self.columns - 1) * self.longitude_step_deg

    @property
    def latitude_deg(self) -> FloatArray:
        """Latitude of every row, shape (rows,), north first."""
        return self.north_deg - np.arange(self.rows, dtype=np.float64) * self.latitude_step_deg

    @property
    def longitude_deg(self) -> FloatArray:
        """Longitude of every column, shape (columns,), west first, never wrapped back."""
        return self.west_deg + np.arange(self.columns, dtype=np.float64) * self.longitude_step_deg

    def place(
        self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Row and column of places, fractional, NaN in both where a place is beyond the outermost posts."""
        row = (self.north_deg - np.asarray(latitude_deg, dtype=np.float64)) / self.latitude_step_deg
        east = np.asarray(longitude_deg, dtype=np.float64) - self.west_deg
        slack = _ON_THE_LINE * self.longitude_step_deg
        column = (np.mod(east + slack, 360.0) - slack) / self.longitude_step_deg
        row, column = _within(row, self.rows), _within(column, self.columns)
        beyond = np.isnan(row) | np.isnan(column)
        return np.where(beyond, np.nan, row), np.where(beyond, np.nan, column)

    def part(self, rows: slice, columns: slice) -> Lattice:
        """The lattice of ``heights[rows, columns]``; slices may have a positive step."""
        row, row_end, row_step = rows.indices(self.rows)
        column, column_end, column_step = columns.indices(self.columns)
        west = self.west_deg + column * self.longitude_step_deg
        return Lattice(
            north_deg=self.north_deg - row * self.latitude_step_deg,
            west_deg=(west + 180.0) % 360.0 - 180.0 if west >= 180.0 else west,
            latitude_step_deg=self.latitude_step_deg * row_step,
            longitude_step_deg=self.longitude_step_deg * column_step,
            rows=len(range(row, row_end, row_step)),
            columns=len(range(column, column_end, column_step)),
        )


@dataclass(frozen=True, slots=True)
class ElevationGrid:
    """Heights in m on a lattice: float32, shape (rows, columns), row 0 north, NaN where there is none."""

    lattice: Lattice
    heights_m: HeightArray = field(repr=False)

    def __post_init__(self) -> None:
        if self.heights_m.shape != (self.lattice.rows, self.lattice.columns):
            raise ValueError(
                f"The heights are {self.heights_m.shape}; the lattice has "
                f"{self.lattice.rows} rows and {self.lattice.columns} columns."
            )

    def at(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> FloatArray:
        """Bilinear heights in m, of the shape of the places; NaN off the grid or next to a void."""
        return bilinear(self.heights_m, *self.lattice.place(latitude_deg, longitude_deg))

    def nearest(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> FloatArray:
        """The value of the nearest post, for quantities that must not be blended; NaN off the grid."""
        return nearest(self.heights_m, *self.lattice.place(latitude_deg, longitude_deg))

    @property
    def covered_share(self) -> float:
        """The share of posts that have a height, 0 to 1."""
        return float(np.isfinite(self.heights_m).mean())


Sampler = Callable[[HeightArray, FloatArray, FloatArray], FloatArray]


def bilinear(heights_m: HeightArray, row: FloatArray, column: FloatArray) -> FloatArray:
    """Heights between posts, m, float64, of the shape of `row` and `column` (fractional; NaN gives NaN).

    The four posts around a place weigh as the opposite areas. A post with no weight may be void: a place
    exactly on a post or between two posts needs only those.
    """
    known = ~np.isnan(row)
    top = np.clip(np.floor(np.where(known, row, 0.0)), 0, heights_m.shape[0] - 2).astype(np.intp)
    left = np.clip(np.floor(np.where(known, column, 0.0)), 0, heights_m.shape[1] - 2).astype(np.intp)
    down, right = row - top, column - left
    total = np.zeros(np.shape(row))
    for below, down_weight in ((0, 1.0 - down), (1, down)):
        for aside, right_weight in ((0, 1.0 - right), (1, right)):
            weight = down_weight * right_weight
            height = heights_m[top + below, left + aside].astype(np.float64)
            total += np.where(weight == 0.0, 0.0, weight * height)
    return total


def nearest(heights_m: HeightArray, row: FloatArray, column: FloatArray) -> FloatArray:
    """The value of the nearest post, float64, of the shape of `row` and `column` (NaN gives NaN)."""
    known = ~np.isnan(row)
    at = (
        np.rint(np.where(known, row, 0.0)).astype(np.intp),
        np.rint(np.where(known, column, 0.0)).astype(np.intp),
    )
    return np.where(known, heights_m[at].astype(np.float64), np.nan)


def _within(position: FloatArray, count: int) -> FloatArray:
    inside = (position >= -_ON_THE_LINE) & (position <= count - 1 + _ON_THE_LINE)
    return np.where(inside, np.clip(position, 0.0, count - 1.0), np.nan)
