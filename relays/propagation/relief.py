"""Shaded relief: the ground as a picture, lit from the north-west, for the map's base."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from relays.propagation.terrain import ElevationGrid, FloatArray, HeightArray, Lattice

# Defining constants of WGS 84: semi-major axis, and eccentricity squared from its flattening.
_SEMI_MAJOR_M = 6_378_137.0
_FLATTENING = 1.0 / 298.257223563
_ECCENTRICITY_SQUARED = _FLATTENING * (2.0 - _FLATTENING)

#: Marks a post without a height; shaded ground is 1 (facing away) to 255 (facing the light).
NO_GROUND = 0

_STRIP_ROWS = 64


def post_spacing_m(lattice: Lattice) -> tuple[FloatArray, FloatArray]:
    """Metres between rows and between columns, at every row; both of shape (rows,).

    Source: radii of curvature of the ellipsoid in the meridian and the prime vertical (Snyder, Map
    Projections: A Working Manual, USGS Professional Paper 1395, 1987, equations 4-18 and 4-20) with the
    constants of WGS 84.
    """
    latitude = np.radians(lattice.latitude_deg)
    root = np.sqrt(1.0 - _ECCENTRICITY_SQUARED * np.sin(latitude) ** 2)
    meridian_m = _SEMI_MAJOR_M * (1.0 - _ECCENTRICITY_SQUARED) / root**3
    parallel_m = _SEMI_MAJOR_M / root * np.cos(latitude)
    return meridian_m * np.radians(lattice.latitude_step_deg), parallel_m * np.radians(
        lattice.longitude_step_deg
    )


def shaded(
    grid: ElevationGrid, *, azimuth_deg: float = 315.0, altitude_deg: float = 45.0, exaggeration: float = 1.0
) -> npt.NDArray[np.uint8]:
    """The shaded relief of a grid, uint8 of its shape: `hillshade` with the spacing of its lattice."""
    row_m, column_m = post_spacing_m(grid.lattice)
    return hillshade(
        grid.heights_m,
        row_m,
        column_m,
        azimuth_deg=azimuth_deg,
        altitude_deg=altitude_deg,
        exaggeration=exaggeration,
    )


def hillshade(
    heights_m: HeightArray,
    row_spacing_m: FloatArray | float,
    column_spacing_m: FloatArray | float,
    *,
    azimuth_deg: float = 315.0,
    altitude_deg: float = 45.0,
    exaggeration: float = 1.0,
) -> npt.NDArray[np.uint8]:
    """Cosine of the angle between the ground and the light, as 1 to 255; 0 where a height is NaN.

    Source: B. K. P. Horn, Hill shading and the reflectance map, Proceedings of the IEEE 69 (1), 1981:
    gradient over the eight neighbours weighed 1 2 1. Beyond an edge and over a void the ground is carried
    on from the nearest post.

    heights_m: shape (rows, columns), row 0 north. Spacings in m, one number or one for each row.
    azimuth_deg: where the light comes from, clockwise from north. altitude_deg: of the light above the
    horizon.
    """
    rows = heights_m.shape[0]
    row_m = np.broadcast_to(np.asarray(row_spacing_m, dtype=np.float32), (rows,))[:, None]
    column_m = np.broadcast_to(np.asarray(column_spacing_m, dtype=np.float32), (rows,))[:, None]
    padded = np.pad(heights_m * np.float32(exaggeration), 1, mode="edge")
    light = _light(azimuth_deg, altitude_deg)
    shade = np.empty(heights_m.shape, dtype=np.uint8)
    # In strips, so that the intermediates of a big map fit into the processor's cache.
    for first in range(0, rows, _STRIP_ROWS):
        strip = slice(first, min(rows, first + _STRIP_ROWS))
        east, north = _gradient(padded[strip.start : strip.stop + 2])
        shade[strip] = _shade(east / (8.0 * column_m[strip]), north / (8.0 * row_m[strip]), light)
    shade[np.isnan(heights_m)] = NO_GROUND
    return shade


def _light(azimuth_deg: float, altitude_deg: float) -> tuple[float, float, float]:
    """East, north and up of a unit vector toward the light."""
    azimuth, altitude = math.radians(azimuth_deg), math.radians(altitude_deg)
    level = math.cos(altitude)
    return level * math.sin(azimuth), level * math.cos(azimuth), math.sin(altitude)


def _shade(
    slope_east: HeightArray, slope_north: HeightArray, light: tuple[float, float, float]
) -> npt.NDArray[np.uint8]:
    east, north, up = light
    steepness = np.sqrt(1.0 + slope_east**2 + slope_north**2)
    cosine = (up - east * slope_east - north * slope_north) / steepness
    # A void may have no slope at all; what it gets here is overwritten.
    shade: npt.NDArray[np.uint8] = np.clip(np.rint(255.0 * np.nan_to_num(cosine)), 1.0, 255.0).astype(
        np.uint8
    )
    return shade


def _gradient(padded: HeightArray) -> tuple[HeightArray, HeightArray]:
    """Eight times the rise per post to the east and to the north, over neighbours weighed 1 2 1.

    padded: the heights with one more row and column on each side; the results are without them.
    """
    if np.isnan(padded).any():
        return _gradient_past_voids(padded)
    down = padded[:-2] + 2.0 * padded[1:-1] + padded[2:]
    along = padded[:, :-2] + 2.0 * padded[:, 1:-1] + padded[:, 2:]
    return down[:, 2:] - down[:, :-2], along[:-2] - along[2:]


def _gradient_past_voids(padded: HeightArray) -> tuple[HeightArray, HeightArray]:
    """The same where a neighbour may be void: it is taken to be as high as the middle."""
    rows, columns = padded.shape[0] - 2, padded.shape[1] - 2
    middle = padded[1:-1, 1:-1]
    east, north = np.zeros_like(middle), np.zeros_like(middle)
    for down in (0, 1, 2):
        for right in (0, 1, 2):
            neighbour = padded[down : down + rows, right : right + columns]
            height = np.where(np.isnan(neighbour), middle, neighbour)
            east += (right - 1) * (2 - abs(down - 1)) * height
            north += (1 - down) * (2 - abs(right - 1)) * height
    return east, north
