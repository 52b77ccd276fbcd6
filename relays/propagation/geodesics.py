"""Geodesics of the WGS-84 ellipsoid from and to one place, compiled, in bulk.

Source: the formulas of T. Vincenty, "Direct and inverse solutions of geodesics on the ellipsoid with application
of nested equations", Survey Review 23 (1975). They are solved at a few nodes only: between nodes position is a
smooth function and `polar` interpolates it, in both directions to well under a metre out to 300 km on
rasters of 3 arc seconds (30 arc seconds: a few metres).

The kernels here call none of another file, because the compiler's cache on disk would not see it change.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_Kernel = TypeVar("_Kernel", bound=Callable[..., Any])

_ENTRY: dict[str, Any] = {"nogil": True, "cache": True}
# Pieces keep no array, so they need no counting of references between threads.
_PIECE: dict[str, Any] = {"nogil": True, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def _entry(function: _Kernel) -> _Kernel:
    compiled: _Kernel = numba.njit(**_ENTRY)(function)
    return compiled


def _piece(function: _Kernel) -> _Kernel:
    compiled: _Kernel = numba.njit(**_PIECE)(function)
    return compiled


_MAJOR_M = 6378137.0  # WGS-84
_FLATTENING = 1.0 / 298.257223563
_MINOR_M = _MAJOR_M * (1.0 - _FLATTENING)
_SECOND_ECCENTRICITY_2 = (_MAJOR_M**2 - _MINOR_M**2) / _MINOR_M**2
_ITERATIONS = 30  # both series gain three digits a turn; five turns are enough short of the antipodes
_CONVERGED = 1e-14
_NODES = 8  # of the polynomial that stands for a radial


@_piece
def _series(cos2_alpha: float) -> tuple[float, float]:
    """A and B of Vincenty's series."""
    u2 = cos2_alpha * _SECOND_ECCENTRICITY_2
    a = 1.0 + u2 / 16384.0 * (4096.0 + u2 * (-768.0 + u2 * (320.0 - 175.0 * u2)))
    b = u2 / 1024.0 * (256.0 + u2 * (-128.0 + u2 * (74.0 - 47.0 * u2)))
    return a, b


@_piece
def _arc_correction(b: float, sin_s: float, cos_s: float, cos_2m: float) -> float:
    """Vincenty's Delta sigma."""
    inner = cos_s * (2.0 * cos_2m * cos_2m - 1.0)
    inner -= b / 6.0 * cos_2m * (4.0 * sin_s * sin_s - 3.0) * (4.0 * cos_2m * cos_2m - 3.0)
    return b * sin_s * (cos_2m + b / 4.0 * inner)


@_piece
def _longitude_lag(
    sin_alpha: float, cos2_alpha: float, s: float, sin_s: float, cos_s: float, cos_2m: float
) -> float:
    """What the longitude on the auxiliary sphere has more than on the ellipsoid, rad."""
    c = _FLATTENING / 16.0 * cos2_alpha * (4.0 + _FLATTENING * (4.0 - 3.0 * cos2_alpha))
    inner = s + c * sin_s * (cos_2m + c * cos_s * (2.0 * cos_2m * cos_2m - 1.0))
    return (1.0 - c) * _FLATTENING * sin_alpha * inner


@_piece
def _direct(latitude: float, azimuth: float, distance_m: float) -> tuple[float, float]:
    """Latitude reached and longitude gained, rad; latitude and azimuth in rad, short of the poles."""
    tan_u = (1.0 - _FLATTENING) * math.tan(latitude)
    cos_u = 1.0 / math.sqrt(1.0 + tan_u * tan_u)
    sin_u = tan_u * cos_u
    sin_a, cos_a = math.sin(azimuth), math.cos(azimuth)
    s1 = math.atan2(tan_u, cos_a)
    sin_alpha = cos_u * sin_a
    cos2_alpha = 1.0 - sin_alpha * sin_alpha
    a, b = _series(cos2_alpha)
    first = distance_m / (_MINOR_M * a)
    s = first
    for _ in range(_ITERATIONS):
        before = s
        s = first + _arc_correction(b, math.sin(s), math.cos(s), math.cos(2.0 * s1 + s))
        if abs(s - before) < _CONVERGED:
            break
    sin_s, cos_s, cos_2m = math.sin(s), math.cos(s), math.cos(2.0 * s1 + s)
    across = sin_u * sin_s - cos_u * cos_s * cos_a
    reached = math.atan2(
        sin_u * cos_s + cos_u * sin_s * cos_a,
        (1.0 - _FLATTENING) * math.sqrt(sin_alpha * sin_alpha + across * across),
    )
    gained = math.atan2(sin_s * sin_a, cos_u * cos_s - sin_u * sin_s * cos_a)
    return reached, gained - _longitude_lag(sin_alpha, cos2_alpha, s, sin_s, cos_s, cos_2m)


@_piece
def _inverse(from_latitude: float, to_latitude: float, east: float) -> tuple[float, float]:
    """Distance times sine and cosine of the azimuth, m: where a place lies as seen from another.

    Latitudes and the longitude between them in rad, the places not nearly antipodal.
    """
    tan_1 = (1.0 - _FLATTENING) * math.tan(from_latitude)
    tan_2 = (1.0 - _FLATTENING) * math.tan(to_latitude)
    cos_1, cos_2 = 1.0 / math.sqrt(1.0 + tan_1 * tan_1), 1.0 / math.sqrt(1.0 + tan_2 * tan_2)
    sin_1, sin_2 = tan_1 * cos_1, tan_2 * cos_2
    turn = east
    s, sin_s, cos_s, cos_2m, cos2_alpha = 0.0, 0.0, 1.0, 0.0, 1.0
    for _ in range(_ITERATIONS):
        across, along = cos_2 * math.sin(turn), cos_1 * sin_2 - sin_1 * cos_2 * math.cos(turn)
        sin_s = math.sqrt(across * across + along * along)
        if sin_s < 1e-15:
            return 0.0, 0.0
        cos_s = sin_1 * sin_2 + cos_1 * cos_2 * math.cos(turn)
        s = math.atan2(sin_s, cos_s)
        sin_alpha = cos_1 * cos_2 * math.sin(turn) / sin_s
        cos2_alpha = 1.0 - sin_alpha * sin_alpha
        cos_2m = cos_s - 2.0 * sin_1 * sin_2 / cos2_alpha if cos2_alpha > 1e-12 else 0.0
        before = turn
        turn = east + _longitude_lag(sin_alpha, cos2_alpha, s, sin_s, cos_s, cos_2m)
        if abs(turn - before) < _CONVERGED:
            break
    a, b = _series(cos2_alpha)
    distance = _MINOR_M * a * (s - _arc_correction(b, sin_s, cos_s, cos_2m))
    across, along = cos_2 * math.sin(turn), cos_1 * sin_2 - sin_1 * cos_2 * math.cos(turn)
    return distance * across / sin_s, distance * along / sin_s


def node_matrix() -> tuple[FloatArray, FloatArray]:
    """Where on a radial of length 1 its nodes lie, and the matrix from values there to coefficients."""
    nodes = 0.5 * (1.0 - np.cos(np.pi * np.arange(_NODES) / (_NODES - 1)))
    return nodes, np.asarray(np.linalg.inv(np.vander(nodes, increasing=True)), dtype=np.float64)


@_entry
def radial_polynomials(
    latitude_deg: float,
    first: int,
    radials: int,
    length_m: float,
    nodes: FloatArray,
    matrix: FloatArray,
    out: FloatArray,
    cos_azimuth: FloatArray,
) -> None:
    """Polynomials that stand for radials first, first + 1, ... of the given length.

    radials: into how many the circle is divided; number 0 points north, the others follow clockwise. nodes,
    matrix: from `node_matrix`. out: (2 count, nodes), filled: rows 2 j and 2 j + 1 hold the coefficients of the
    latitude and the longitude gained, degrees, over the share of the length. cos_azimuth: (count,), filled.
    """
    latitude = math.radians(latitude_deg)
    out[:] = 0.0
    for j in range(cos_azimuth.shape[0]):
        azimuth = 2.0 * math.pi * ((first + j) % radials) / radials
        cos_azimuth[j] = math.cos(azimuth)
        for i in range(1, nodes.shape[0]):  # node 0 is the centre itself, where nothing is gained
            reached, gained = _direct(latitude, azimuth, nodes[i] * length_m)
            for c in range(nodes.shape[0]):
                out[2 * j, c] += matrix[c, i] * math.degrees(reached - latitude)
                out[2 * j + 1, c] += matrix[c, i] * math.degrees(gained)


@_entry
def place_nodes(
    lattice: FloatArray,
    stride: int,
    latitude_deg: float,
    longitude_deg: float,
    east: FloatArray,
    north: FloatArray,
) -> None:
    """Where every stride-th pixel of a raster lies as seen from the centre, m.

    lattice: north, west, latitude step, longitude step of the raster, degrees. east, north: (down, across),
    distance times sine and cosine of the azimuth.
    """
    latitude = math.radians(latitude_deg)
    for down in range(east.shape[0]):
        to_latitude = math.radians(lattice[0] - down * stride * lattice[2])
        for across in range(east.shape[1]):
            gained = lattice[1] + across * stride * lattice[3] - longitude_deg
            gained = (gained + 180.0) % 360.0 - 180.0
            x, y = _inverse(latitude, to_latitude, math.radians(gained))
            east[down, across] = x
            north[down, across] = y
