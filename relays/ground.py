"""The ground between two places: great circles over a mosaic, and the grid round a relay.

Heights come from `terrain_store.current_ground()`; nothing here knows where they are kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from relays.propagation.errors import CoordinateRangeError, NotPositiveError, PathLengthRangeError
from relays.propagation.mosaic import ElevationMosaic
from relays.propagation.p1812.inputs import INLAND, MINIMUM_POINTS, PATH_LENGTH_KM
from relays.propagation.profile import PathProfile
from relays.propagation.terrain import ElevationGrid, FloatArray, LeavesTerrain, NoTerrain

_WGS84 = Geod(ellps="WGS84")

# Shorter than the least degree of latitude (110.574 km on WGS 84), so that a box made with it is never too
# small.
_KM_A_DEGREE = 110.5

#: About 100 MB of float32: a square of 160 km at 1 arc second.
MOST_GRID_POSTS = 25_000_000

RelayEnd = Literal["first", "last", "neither"]


@dataclass(frozen=True, slots=True)
class GreatCircle:
    """Evenly spaced places on the shortest way between two; arrays of shape (n,), both ends included.

    bearing_deg: from the first end, 0 to 360 clockwise from true north; last_bearing_deg: the same way back
    from the last. spacing_m: between places.
    """

    distance_km: FloatArray = field(repr=False)
    latitude_deg: FloatArray = field(repr=False)
    longitude_deg: FloatArray = field(repr=False)
    bearing_deg: float = field(repr=False)
    last_bearing_deg: float = field(repr=False)
    spacing_m: float


def great_circle(
    first_latitude_deg: float,
    first_longitude_deg: float,
    last_latitude_deg: float,
    last_longitude_deg: float,
    *,
    spacing_m: float,
) -> GreatCircle:
    """The geodesic on WGS 84 between two places, in four or more equal steps of at most `spacing_m`.

    Source: C. F. F. Karney, Algorithms for geodesics, Journal of Geodesy 87, 2013, as PROJ has it. Trade and
    Recommendations say "great circle"; on the ellipsoid the geodesic is what they mean.

    Raises CoordinateRangeError off the globe, NotPositiveError for a spacing of 0 or less, and
    PathLengthRangeError where both ends are one place or farther apart than P.1812 covers (3000 km).
    """
    for name, value, limit_deg in (
        ("first_latitude_deg", first_latitude_deg, 90.0),
        ("first_longitude_deg", first_longitude_deg, 180.0),
        ("last_latitude_deg", last_latitude_deg, 90.0),
        ("last_longitude_deg", last_longitude_deg, 180.0),
    ):
        _on_the_globe(name, value, limit_deg)
    if not 0.0 < spacing_m < math.inf:
        raise NotPositiveError(
            "spacing_m",
            spacing_m,
            "more than 0 m",
            f"The spacing is {spacing_m:g} m; it must be more than 0 m.",
        )
    bearing_deg, last_bearing_deg, length_m = _WGS84.inv(
        first_longitude_deg, first_latitude_deg, last_longitude_deg, last_latitude_deg
    )
    _check_length(length_m / 1000.0)
    steps = max(MINIMUM_POINTS - 1, math.ceil(length_m / spacing_m))
    way = _WGS84.inv_intermediate(
        first_longitude_deg,
        first_latitude_deg,
        last_longitude_deg,
        last_latitude_deg,
        npts=steps + 1,
        initial_idx=0,
        terminus_idx=0,
        return_back_azimuth=False,
    )
    return GreatCircle(
        distance_km=np.linspace(0.0, length_m / 1000.0, steps + 1),
        latitude_deg=np.array(way.lats),
        longitude_deg=np.array(way.lons),
        bearing_deg=bearing_deg % 360.0,
        last_bearing_deg=last_bearing_deg % 360.0,
        spacing_m=length_m / steps,
    )


@dataclass(frozen=True, slots=True)
class Ground:
    """All imported ground at one moment.

    version: digest of the tiles it is made of (see `terrain_store.terrain_version`). heights: None before
    the first import. cover: heights of trees and buildings, where a land-cover raster was imported.
    clutter_m: what stands for them elsewhere.
    """

    version: str
    heights: ElevationMosaic | None
    cover: ElevationMosaic | None
    clutter_m: float

    def height_at(self, latitude_deg: float, longitude_deg: float) -> float | None:
        """Ground height above sea level at one place, m; None where no imported tile knows it."""
        _on_the_globe("latitude_deg", latitude_deg, 90.0)
        _on_the_globe("longitude_deg", longitude_deg, 180.0)
        height_m = float(self._known().at([latitude_deg], [longitude_deg])[0])
        return None if math.isnan(height_m) else height_m

    def profile_between(
        self,
        first_latitude_deg: float,
        first_longitude_deg: float,
        last_latitude_deg: float,
        last_longitude_deg: float,
        *,
        spacing_m: float,
        relay_end: RelayEnd = "neither",
    ) -> PathProfile:
        """The ground along the great circle, bilinear between posts, in steps of at most `spacing_m`.

        relay_end: which end is a relay, whose place is public. It decides only how LeavesTerrain speaks:
        from a relay it names distance and direction, between two stations neither.

        Every point is of zone 4, inland: no sea is imported. Clutter is that of the nearest post of the
        cover, or `clutter_m` where there is none. Raises what `great_circle` raises, NoTerrain and
        LeavesTerrain.
        """
        heights = self._known()
        way = great_circle(
            first_latitude_deg,
            first_longitude_deg,
            last_latitude_deg,
            last_longitude_deg,
            spacing_m=spacing_m,
        )
        ground_m = heights.at(way.latitude_deg, way.longitude_deg)
        if np.isnan(ground_m).any():
            raise _leaving(way, np.isnan(ground_m), relay_end)
        return PathProfile(
            distance_km=way.distance_km,
            ground_m=ground_m,
            clutter_m=self._clutter(way.latitude_deg, way.longitude_deg),
            zone=np.full(ground_m.size, INLAND, dtype=np.int64),
            latitude_deg=way.latitude_deg,
            longitude_deg=way.longitude_deg,
            spacing_m=way.spacing_m,
        )

    def grid_around(
        self,
        latitude_deg: float,
        longitude_deg: float,
        radius_km: float,
        *,
        most_posts: int = MOST_GRID_POSTS,
    ) -> ElevationGrid:
        """The posts in the box around a circle, cut off where the mosaic ends, NaN where it has holes.

        Where the box holds more than `most_posts`, every second, third, ... row and column is taken; the
        step of the grid's lattice says which. Heights are never averaged.

        Raises NoTerrain, CoordinateRangeError, PathLengthRangeError for a radius that is not above 0 and up
        to 3000 km, and LeavesTerrain where the centre itself is off the ground.
        """
        mosaic = self._known()
        if not 0.0 < radius_km <= PATH_LENGTH_KM[1]:
            allowed = f"more than 0 and up to {PATH_LENGTH_KM[1]:g} km"
            raise PathLengthRangeError(
                "radius_km", radius_km, allowed, f"The radius is {radius_km:g} km; it must be {allowed}."
            )
        if self.height_at(latitude_deg, longitude_deg) is None:
            raise LeavesTerrain(
                latitude_deg=latitude_deg,
                longitude_deg=longitude_deg,
                distance_km=0.0,
                bearing_deg=0.0,
                from_relay=True,
            )
        lattice = mosaic.lattice
        row, column = (float(at) for at in lattice.place(latitude_deg, longitude_deg))
        up = radius_km / _KM_A_DEGREE
        rows = _around(row, up / lattice.latitude_step_deg, lattice.rows)
        aside = _degrees_aside(latitude_deg, up)
        columns = _around(column, aside / lattice.longitude_step_deg, lattice.columns)
        posts = (rows.stop - rows.start) * (columns.stop - columns.start)
        every = max(1, math.ceil(math.sqrt(posts / most_posts)))
        return mosaic.window(slice(rows.start, rows.stop, every), slice(columns.start, columns.stop, every))

    def clutter_over(self, grid: ElevationGrid) -> npt.NDArray[np.float32]:
        """Height of trees and buildings over every post of a grid, m, of its shape."""
        if self.cover is None:
            return np.full(grid.heights_m.shape, self.clutter_m, dtype=np.float32)
        longitude = grid.lattice.longitude_deg
        rows = [
            self._clutter(np.full(longitude.size, latitude), longitude)
            for latitude in grid.lattice.latitude_deg
        ]
        return np.array(rows, dtype=np.float32)

    def _clutter(self, latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
        if self.cover is None:
            return np.full(latitude_deg.size, self.clutter_m)
        cover_m = self.cover.nearest(latitude_deg, longitude_deg)
        return np.where(np.isnan(cover_m), self.clutter_m, cover_m)

    def _known(self) -> ElevationMosaic:
        if self.heights is None:
            raise NoTerrain
        return self.heights


def _leaving(way: GreatCircle, unknown: npt.NDArray[np.bool_], relay_end: RelayEnd) -> LeavesTerrain:
    """The error for the first unknown ground met from the relay, or from the first end when there is none."""
    if relay_end == "last":
        first_unknown = int(np.argmax(unknown[::-1]))
        at = unknown.size - 1 - max(0, first_unknown - 1)
        distance_km, bearing_deg = float(way.distance_km[-1] - way.distance_km[at]), way.last_bearing_deg
    else:
        first_unknown = int(np.argmax(unknown))
        at = max(0, first_unknown - 1)
        distance_km, bearing_deg = float(way.distance_km[at]), way.bearing_deg
    return LeavesTerrain(
        latitude_deg=float(way.latitude_deg[at]),
        longitude_deg=float(way.longitude_deg[at]),
        distance_km=distance_km,
        bearing_deg=bearing_deg,
        from_relay=relay_end != "neither",
    )


def _around(centre: float, reach: float, count: int) -> slice:
    """Every position within reach, one more on each side, never fewer than two."""
    first = max(0, math.floor(centre - reach) - 1)
    last = min(count - 1, math.ceil(centre + reach) + 1)
    return slice(first, last + 1)


def _degrees_aside(latitude_deg: float, up_deg: float) -> float:
    """How far east and west a circle reaches that reaches `up_deg` north, degrees of longitude.

    Source: spherical geometry, sin(aside) = sin(radius) / cos(latitude); all the way round over a pole.
    """
    sine = math.sin(math.radians(up_deg)) / max(1e-12, math.cos(math.radians(latitude_deg)))
    return math.degrees(math.asin(sine)) * 1.01 if sine < 1.0 else 180.0


def _on_the_globe(name: str, value: float, limit_deg: float) -> None:
    if math.isfinite(value) and abs(value) <= limit_deg:
        return
    allowed = f"-{limit_deg:g} to {limit_deg:g} degrees"
    raise CoordinateRangeError(
        name, value, allowed, f"{name} is off the globe; it must be {allowed}. Are the two swapped?"
    )


def _check_length(length_km: float) -> None:
    if 0.0 < length_km <= PATH_LENGTH_KM[1]:
        return
    allowed = f"more than 0 and up to {PATH_LENGTH_KM[1]:g} km"
    told = "Both ends are the same place" if length_km == 0.0 else f"The path is {length_km:.0f} km long"
    raise PathLengthRangeError("path length", length_km, allowed, f"{told}; it must be {allowed} long.")
