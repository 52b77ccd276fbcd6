"""Shaded relief: the ground as a picture, lit from the north-west, for the map's base."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from relays.propagation.terrain import ElevationGrid, FloatArray, HeightArray, Lattice

# Defining constants of WGS 84: semi-major axis, and eccentricity squared from its flattening.
_SEMI_MAJOR_M = 6_378_137.0
_FLATTENING = 1.0 / 298.257223563
_ECCENTRICITY_SQUARED = _FLATTENING * (2.0 - _FLATTENING)

#: Marks a post without a height; shaded ground is 1 (facing away) to 255 (facing the light).
NO_GROUND = 0


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
    north, centre, south = _three_rows(heights_m * np.float32(exaggeration))
    row_m = np.broadcast_to(np.asarray(row_spacing_m, dtype=np.float32), heights_m.shape[:1])[:, None]
    column_m = np.broadcast_to(np.asarray(column_spacing_m, dtype=np.float32), heights_m.shape[:1])[:, None]
    eastward = sum(weight * (row[2] - row[0]) for weight, row in ((1, north), (2, centre), (1, south)))
    northward = sum(weight * (north[i] - south[i]) for i, weight in enumerate((1, 2, 1)))
    slope_east = eastward / (8.0 * column_m)
    slope_north = northward / (8.0 * row_m)
    azimuth, altitude = np.radians(azimuth_deg), np.radians(altitude_deg)
    toward_light = slope_east * np.sin(azimuth) + slope_north * np.cos(azimuth)
    cosine = (np.sin(altitude) - np.cos(altitude) * toward_light) / np.sqrt(
        1.0 + slope_east**2 + slope_north**2
    )
    shade = np.clip(np.rint(255.0 * cosine), 1.0, 255.0)
    return np.where(np.isnan(heights_m), NO_GROUND, np.nan_to_num(shade)).astype(np.uint8)


def _three_rows(heights_m: HeightArray) -> tuple[tuple[HeightArray, HeightArray, HeightArray], ...]:
    """The nine neighbours of every post, by row from the north and in each from the west."""
    rows, columns = heights_m.shape
    padded = np.pad(heights_m, 1, mode="edge")

    def shifted(down: int, right: int) -> HeightArray:
        neighbour = padded[down : down + rows, right : right + columns]
        return np.where(np.isnan(neighbour), heights_m, neighbour)

    return tuple((shifted(down, 0), shifted(down, 1), shifted(down, 2)) for down in range(3))
