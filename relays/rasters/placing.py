"""Which latitude-longitude lattice a given raster is to be put on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from affine import Affine
from pyproj import Geod, Transformer

from relays.propagation.terrain import Lattice
from relays.rasters.opening import MOST_POSTS, Given
from relays.rasters.refusal import RasterRefused

_WGS84 = Geod(ellps="WGS84")
_SECOND_DEG = 1.0 / 3600.0
# An arc second of the mean sphere; of latitude it is 30.72 m at the equator and 31.03 m at the poles.
_SECOND_M = 30.89

# Steps of a reprojected raster, arc seconds. With posts at whole multiples of these, tiles that came in
# separate pieces of one map grid meet post on post, and meet .hgt tiles too.
_STEPS_SECONDS = (1 / 3, 1 / 2, 3 / 4, 1.0, 1.5, 2.0, 3.0, 5.0, 6.0, 10.0, 15.0, 20.0, 30.0, 60.0)
#: Finer posts are thinned to this: a profile takes one height every 45 m or so, and 10 m loses it nothing.
FINEST_SECONDS = _STEPS_SECONDS[0]
#: Coarser posts say nothing about a path of a few kilometres.
COARSEST_M = 2000.0
# In posts: a raster that WGS 84 would move by less than this is taken as being on it.
_STAYS_PUT = 0.01
_NEARLY = 1.05


@dataclass(frozen=True, slots=True)
class Placing:
    """lattice: where the posts go. reprojected: whether they had to move. thinned: whether fewer are kept.

    post_km2: the ground one given post stands for.
    """

    lattice: Lattice
    reprojected: bool
    thinned: bool
    post_km2: float


def place(given: Given) -> Placing:
    """The lattice for a raster: its own where that is north-up on WGS 84 (or a datum that agrees with it to a
    hundredth of a post) and no finer than a third of an arc second; else whole multiples of a round step.

    RasterRefused where it is off the globe, across the 180 degree meridian, or coarser than 2 km.
    """
    to_wgs84 = Transformer.from_crs(given.crs, "EPSG:4326", always_xy=True)
    across_m, down_m = post_size_m(given, to_wgs84)
    finest_m = min(across_m, down_m)
    if finest_m > COARSEST_M:
        raise RasterRefused(
            given.name,
            f"{given.name} has a height every {finest_m / 1000:,.1f} km only; "
            f"every {COARSEST_M / 1000:g} km is the least that says anything about a path.",
        )
    post_km2 = across_m * down_m / 1e6
    own = own_lattice(given, to_wgs84)
    if own is not None and own.latitude_step_deg >= FINEST_SECONDS * _SECOND_DEG / _NEARLY:
        return Placing(own, reprojected=False, thinned=False, post_km2=post_km2)
    fitting = [s for s in _STEPS_SECONDS if s * _SECOND_M <= finest_m * _NEARLY]
    step = max(fitting, default=FINEST_SECONDS)
    lattice = _round_lattice(given, to_wgs84, step * _SECOND_DEG)
    return Placing(lattice, reprojected=True, thinned=not fitting, post_km2=post_km2)


def own_lattice(given: Given, to_wgs84: Transformer) -> Lattice | None:
    """Its own lattice where it lies north-up on WGS 84 or on a datum that agrees with it, else None."""
    t = given.transform
    if not given.crs.is_geographic or t.b != 0.0 or t.d != 0.0 or t.a <= 0.0 or t.e >= 0.0:
        return None
    for column, row in ((0, 0), (given.columns, 0), (0, given.rows), (given.columns, given.rows)):
        x, y = _at(t, column, row)
        longitude, latitude = to_wgs84.transform(x, y)
        moved = abs(math.remainder(longitude - x, 360.0)) / t.a + abs(latitude - y) / -t.e
        if not moved < _STAYS_PUT:
            return None
    west, north = _at(t, 0.5, 0.5)
    return Lattice(
        north_deg=north,
        west_deg=(west + 180.0) % 360.0 - 180.0 if not -180.0 <= west < 180.0 else west,
        latitude_step_deg=-t.e,
        longitude_step_deg=t.a,
        rows=given.rows,
        columns=given.columns,
    )


def _round_lattice(given: Given, to_wgs84: Transformer, step_deg: float) -> Lattice:
    corners = [_at(given.transform, column, row) for column in (0, given.columns) for row in (0, given.rows)]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    west, south, east, north = to_wgs84.transform_bounds(min(xs), min(ys), max(xs), max(ys), densify_pts=41)
    check_bounds(given.name, west, south, east, north)
    first_row, last_row = math.floor(north / step_deg), math.ceil(south / step_deg)
    first_column, last_column = math.ceil(west / step_deg), math.floor(east / step_deg)
    rows, columns = first_row - last_row + 1, last_column - first_column + 1
    if rows < 2 or columns < 2:
        raise RasterRefused(given.name, f"{given.name} covers less ground than lies between four posts.")
    if rows * columns > MOST_POSTS:
        raise RasterRefused(
            given.name,
            f"{given.name} would need {rows:,} × {columns:,} posts on latitude and longitude; "
            "cut it into parts.",
        )
    return Lattice(first_row * step_deg, first_column * step_deg, step_deg, step_deg, rows, columns)


def post_size_m(given: Given, to_wgs84: Transformer) -> tuple[float, float]:
    """Metres from the middle of the raster to the next post along a row and along a column."""
    column, row = given.columns / 2, given.rows / 2
    places = [
        to_wgs84.transform(*_at(given.transform, *at))
        for at in ((column, row), (column + 1, row), (column, row + 1))
    ]
    _check_on_the_globe(given, places)
    (x, y), (x_across, y_across), (x_down, y_down) = places
    return _WGS84.inv(x, y, x_across, y_across)[2], _WGS84.inv(x, y, x_down, y_down)[2]


def _check_on_the_globe(given: Given, middle: list[tuple[float, float]]) -> None:
    on_it = all(math.isfinite(number) for place_ in middle for number in place_)
    if given.crs.is_geographic:
        corners = [_at(given.transform, c, r) for c in (0, given.columns) for r in (0, given.rows)]
        degree = given.crs.axis_info[0].unit_conversion_factor * 180.0 / math.pi
        # Half a post beyond a pole or a whole turn is only the outer edge of the outermost pixel.
        slack_x, slack_y = abs(given.transform.a) * degree, abs(given.transform.e) * degree
        on_it &= all(
            abs(x * degree) <= 360.0 + slack_x and abs(y * degree) <= 90.0 + slack_y for x, y in corners
        )
    if not on_it:
        raise RasterRefused(
            given.name,
            f"{given.name} lies off the globe by its own coordinates; the reference system it names "
            f"({given.crs.name}) is probably not the one its numbers are in.",
        )


def check_bounds(name: str, west: float, south: float, east: float, north: float) -> None:
    """Refuse what is off the globe, round a pole or across the 180 degree meridian. Degrees."""
    on_it = all(math.isfinite(edge) for edge in (west, south, east, north))
    if not on_it or abs(south) > 90.0 or abs(north) > 90.0:
        raise RasterRefused(name, f"{name} lies off the globe by its own coordinates.")
    if east <= west or east - west >= 180.0:
        raise RasterRefused(
            name, f"{name} crosses the 180 degree meridian or a pole; cut it in two along that meridian."
        )


def _at(transform: Affine, column: float, row: float) -> tuple[float, float]:
    return (
        transform.a * column + transform.b * row + transform.c,
        transform.d * column + transform.e * row + transform.f,
    )
