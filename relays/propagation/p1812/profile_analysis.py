"""What the bare terrain looks like from both ends: smooth surface, horizons, roughness.

Source: Recommendation ITU-R P.1812-8 (09/2025), attachment on path profile analysis,
equations (76) to (95).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from relays.propagation.p1812.inputs import FloatArray, Path

PathType = Literal["line-of-sight", "trans-horizon"]


@dataclass(frozen=True, slots=True)
class SmoothSurface:
    """The straight line fitted to the terrain, and its heights at the two ends, m above sea level."""

    fitted_tx_m: float
    fitted_rx_m: float
    diffraction_tx_m: float
    diffraction_rx_m: float
    ducting_tx_m: float
    ducting_rx_m: float


@dataclass(frozen=True, slots=True)
class Horizons:
    """What each end sees. Angles in mrad above the local horizontal, distances in km from that end."""

    path_type: PathType
    tx_angle_mrad: float
    rx_angle_mrad: float
    tx_distance_km: float
    rx_distance_km: float
    tx_index: int
    rx_index: int
    angular_distance_mrad: float


@dataclass(frozen=True, slots=True)
class Obstacle:
    """The profile point that reaches farthest into the Fresnel zones of the straight ray."""

    index: int
    distance_km: float
    nu: float
    height_above_ray_m: float


def smooth_surface(path: Path) -> SmoothSurface:
    """Least-squares line through the bare terrain, equations (85) to (92)."""
    step = np.diff(path.distance_km)
    near, far = path.distance_km[:-1], path.distance_km[1:]
    near_m, far_m = path.ground_m[:-1], path.ground_m[1:]
    length = path.length_km
    v1 = float(np.sum(step * (far_m + near_m)))
    v2 = float(np.sum(step * (far_m * (2.0 * far + near) + near_m * (far + 2.0 * near))))
    fitted_tx = (2.0 * v1 * length - v2) / length**2
    fitted_rx = (v2 - v1 * length) / length**2
    tx_cut, rx_cut = _obstruction_cuts_m(path)
    tx_ground, rx_ground = float(path.ground_m[0]), float(path.ground_m[-1])
    return SmoothSurface(
        fitted_tx_m=fitted_tx,
        fitted_rx_m=fitted_rx,
        diffraction_tx_m=min(fitted_tx - tx_cut, tx_ground),
        diffraction_rx_m=min(fitted_rx - rx_cut, rx_ground),
        ducting_tx_m=min(fitted_tx, tx_ground),
        ducting_rx_m=min(fitted_rx, rx_ground),
    )


def _obstruction_cuts_m(path: Path) -> tuple[float, float]:
    """How far the highest obstruction lowers the smooth surface at each end, (89) and (90), m."""
    above = path.ground_m[1:-1] - _straight_line_m(path)
    highest = float(above.max())
    if highest <= 0.0:
        return 0.0, 0.0
    tx_slope = float((above / path.from_tx_km).max())
    rx_slope = float((above / path.from_rx_km).max())
    return highest * tx_slope / (tx_slope + rx_slope), highest * rx_slope / (tx_slope + rx_slope)


def horizons(path: Path, radius_km: float) -> Horizons:
    """Horizon angles and distances and the path type, equations (76) to (84), on bare terrain."""
    length = path.length_km
    rise = (path.rx_amsl_m - path.tx_amsl_m) / (1000.0 * length)
    droop = length / (2.0 * radius_km)
    tx_to_rx = _mrad(rise - droop)
    rx_to_tx = _mrad(-rise - droop)
    seen_from_tx = _elevations_mrad(path.ground_m[1:-1], path.tx_amsl_m, path.from_tx_km, radius_km)
    highest = float(seen_from_tx.max())
    if highest > tx_to_rx:
        seen_from_rx = _elevations_mrad(path.ground_m[1:-1], path.rx_amsl_m, path.from_rx_km, radius_km)
        tx_index = int(np.argmax(seen_from_tx)) + 1
        rx_index = last_argmax(seen_from_rx) + 1
        tx_angle, rx_angle = highest, float(seen_from_rx.max())
        path_type: PathType = "trans-horizon"
    else:
        # With both ends in sight "the horizon" is the point nearest to cutting the ray.
        tx_index = rx_index = last_argmax(fresnel_nu(path, path.ground_m[1:-1], radius_km)) + 1
        tx_angle, rx_angle = tx_to_rx, rx_to_tx
        path_type = "line-of-sight"
    return Horizons(
        path_type=path_type,
        tx_angle_mrad=tx_angle,
        rx_angle_mrad=rx_angle,
        tx_distance_km=float(path.distance_km[tx_index]),
        rx_distance_km=length - float(path.distance_km[rx_index]),
        tx_index=tx_index,
        rx_index=rx_index,
        angular_distance_mrad=1000.0 * length / radius_km + tx_angle + rx_angle,
    )


def roughness_m(path: Path, surface: SmoothSurface, seen: Horizons) -> float:
    """Greatest height of the terrain above the ducting model's smooth surface, (93) and (95), m."""
    between = slice(seen.tx_index, seen.rx_index + 1)
    slope = (surface.ducting_rx_m - surface.ducting_tx_m) / path.length_km
    line = surface.ducting_tx_m + slope * path.distance_km[between]
    return float((path.ground_m[between] - line).max())


def dominating_obstacle(path: Path, radius_km: float) -> Obstacle:
    """The point, clutter included, with the greatest knife-edge parameter on the straight ray.

    Not a step of the Recommendation: it names the place a person would point at.
    """
    nu = fresnel_nu(path, path.surface_m[1:-1], radius_km)
    at = int(np.argmax(nu))
    bulge_m = 500.0 / radius_km * path.from_tx_km[at] * path.from_rx_km[at]
    above_m = path.surface_m[at + 1] + bulge_m - _straight_line_m(path)[at]
    return Obstacle(
        index=at + 1,
        distance_km=float(path.from_tx_km[at]),
        nu=float(nu[at]),
        height_above_ray_m=float(above_m),
    )


def fresnel_nu(path: Path, heights_m: FloatArray, radius_km: float) -> FloatArray:
    """Knife-edge parameter of every interior point against the ray between the antennas.

    heights_m: shape (n - 1,), m above sea level. The form of equation (15).
    """
    both_ways = path.from_tx_km * path.from_rx_km
    above = heights_m + 500.0 / radius_km * both_ways - _straight_line_m(path)
    return np.asarray(above * np.sqrt(0.002 * path.length_km / (path.wavelength_m * both_ways)))


def last_argmax(values: FloatArray) -> int:
    """Index of the last of the greatest values."""
    return values.size - 1 - int(np.argmax(values[::-1]))


def _straight_line_m(path: Path) -> FloatArray:
    """Height of the line between the antennas over every interior point, m above sea level."""
    return (path.tx_amsl_m * path.from_rx_km + path.rx_amsl_m * path.from_tx_km) / path.length_km


def _elevations_mrad(
    heights_m: FloatArray, eye_m: float, distance_km: FloatArray, radius_km: float
) -> FloatArray:
    slope = (heights_m - eye_m) / (1000.0 * distance_km) - distance_km / (2.0 * radius_km)
    return np.asarray(1000.0 * np.arctan(slope))


def _mrad(slope: float) -> float:
    # The same arctangent as for the terrain, so that exact grazing compares equal.
    return float(1000.0 * np.arctan(slope))
