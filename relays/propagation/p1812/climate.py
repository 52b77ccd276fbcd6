"""Zones along the path and what they say of the air: sections 3 and 4 of the calculation.

Source: Recommendation ITU-R P.1812-8 (09/2025), equations (2) to (7).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from relays.propagation.geodesy import EARTH_RADIUS_KM, path_centre_latitude_deg
from relays.propagation.p1812.inputs import COASTAL_LAND, INLAND, SEA, FloatArray, Path

#: Ratio of effective to true Earth radius exceeded for the anomalous percentage of time, equation (7b).
ANOMALOUS_RADIUS_FACTOR = 3.0
_HIGH_LATITUDE_DEG = 70.0


@dataclass(frozen=True, slots=True)
class Climate:
    """Equations (2) to (7); see Prediction for the meaning of each."""

    centre_latitude_deg: float
    sea_fraction: float
    longest_land_km: float
    longest_inland_km: float
    inland_weight: float  # tau
    anomalous_time_percent: float
    median_radius_factor: float
    median_radius_km: float
    anomalous_radius_km: float


def analyse(path: Path) -> Climate:
    """Zone statistics, the percentage of anomalous time and the two effective Earth radii."""
    latitude = path_centre_latitude_deg(
        tx_latitude_deg=path.tx_latitude_deg,
        tx_longitude_deg=path.tx_longitude_deg,
        rx_latitude_deg=path.rx_latitude_deg,
        rx_longitude_deg=path.rx_longitude_deg,
        path_length_km=path.length_km,
    )
    sea = path.zone == SEA
    inland = path.zone == INLAND
    sea_runs_km = run_lengths_km(path.distance_km, sea)
    land_runs_km = run_lengths_km(path.distance_km, inland | (path.zone == COASTAL_LAND))
    inland_runs_km = run_lengths_km(path.distance_km, inland)
    longest_land_km = float(land_runs_km.max(initial=0.0))
    longest_inland_km = float(inland_runs_km.max(initial=0.0))
    weight = 1.0 - math.exp(-4.12e-4 * longest_inland_km**2.41)
    factor = median_radius_factor(path.delta_n)
    return Climate(
        centre_latitude_deg=latitude,
        sea_fraction=float(sea_runs_km.sum()) / path.length_km,
        longest_land_km=longest_land_km,
        longest_inland_km=longest_inland_km,
        inland_weight=weight,
        anomalous_time_percent=_anomalous_time_percent(latitude, longest_land_km, weight),
        median_radius_factor=factor,
        median_radius_km=EARTH_RADIUS_KM * factor,
        anomalous_radius_km=EARTH_RADIUS_KM * ANOMALOUS_RADIUS_FACTOR,
    )


def run_lengths_km(distance_km: FloatArray, inside: npt.NDArray[np.bool_]) -> FloatArray:
    """Length of every unbroken run of marked points, km; a run reaches half-way to its neighbours."""
    padded = np.zeros(inside.size + 2, dtype=np.int8)
    padded[1:-1] = inside
    change = np.diff(padded)
    first = np.flatnonzero(change == 1)
    last = np.flatnonzero(change == -1) - 1
    middles = (distance_km[:-1] + distance_km[1:]) / 2.0
    edges = np.concatenate((distance_km[:1], middles, distance_km[-1:]))
    return np.asarray(edges[last + 1] - edges[first], dtype=np.float64)


def median_radius_factor(delta_n: float) -> float:
    """Median effective Earth radius over the true one, equation (6); delta_n below 157 N-units/km."""
    return 157.0 / (157.0 - delta_n)


def _anomalous_time_percent(latitude_deg: float, longest_land_km: float, weight: float) -> float:
    mu1 = (
        10.0 ** (-longest_land_km / (16.0 - 6.6 * weight)) + 10.0 ** (-5.0 * (0.496 + 0.354 * weight))
    ) ** 0.2
    mu1 = min(mu1, 1.0)
    latitude = abs(latitude_deg)
    if latitude <= _HIGH_LATITUDE_DEG:
        mu4 = mu1 ** (-0.935 + 0.0176 * latitude)
        percent = 10.0 ** (-0.015 * latitude + 1.67) * mu1 * mu4
    else:
        mu4 = mu1**0.3
        percent = 4.17 * mu1 * mu4
    return float(percent)
