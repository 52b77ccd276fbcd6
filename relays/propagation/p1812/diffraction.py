"""Diffraction by the delta-Bullington method.

Source: Recommendation ITU-R P.1812-8 (09/2025), equations (12) to (21) and (38) to (43).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from relays.propagation.optics import knife_edge_loss_db
from relays.propagation.p1812 import spherical_earth
from relays.propagation.p1812.climate import Climate
from relays.propagation.p1812.free_space import LineOfSight
from relays.propagation.p1812.inputs import FloatArray, Path
from relays.propagation.p1812.profile_analysis import SmoothSurface
from relays.propagation.p1812.variability import inverse_normal


@dataclass(frozen=True, slots=True)
class RadiusLoss:
    """Diffraction for one effective Earth radius, dB."""

    actual_bullington_db: float
    smooth_bullington_db: float
    spherical_earth_db: float
    loss_db: float


@dataclass(frozen=True, slots=True)
class Diffraction:
    """Diffraction for the median radius, for the anomalous one, and for p % of time between them."""

    tx_effective_m: float
    rx_effective_m: float
    median: RadiusLoss
    anomalous: RadiusLoss
    time_factor: float
    loss_db: float
    median_basic_db: float
    basic_db: float


def diffraction(path: Path, climate: Climate, surface: SmoothSurface, sight: LineOfSight) -> Diffraction:
    """Diffraction loss for p % of time and the basic losses that rest on it, (40) to (43)."""
    smooth = spherical_earth.SmoothPath(
        length_km=path.length_km,
        frequency_ghz=path.frequency_ghz,
        wavelength_m=path.wavelength_m,
        polarization=path.polarization,
        sea_fraction=climate.sea_fraction,
        tx_height_m=path.tx_amsl_m - surface.diffraction_tx_m,
        rx_height_m=path.rx_amsl_m - surface.diffraction_rx_m,
    )
    median = for_radius(path, smooth, climate.median_radius_km)
    anomalous = for_radius(path, smooth, climate.anomalous_radius_km)
    factor = time_factor(path.time_percent, climate.anomalous_time_percent)
    # At 50 % the approximate deviate is 1e-9, not 0; the Recommendation takes the median as it is.
    share = 0.0 if path.time_percent == 50.0 else factor
    loss = median.loss_db + share * (anomalous.loss_db - median.loss_db)
    return Diffraction(
        tx_effective_m=smooth.tx_height_m,
        rx_effective_m=smooth.rx_height_m,
        median=median,
        anomalous=anomalous,
        time_factor=factor,
        loss_db=loss,
        median_basic_db=sight.free_space_db + median.loss_db,
        basic_db=sight.loss_db + loss,
    )


def time_factor(time_percent: float, anomalous_time_percent: float) -> float:
    """How far from the median towards the anomalous case the wanted time percentage lies, (40)."""
    if time_percent <= anomalous_time_percent:
        return 1.0
    return inverse_normal(time_percent / 100.0) / inverse_normal(anomalous_time_percent / 100.0)


def for_radius(path: Path, smooth: spherical_earth.SmoothPath, radius_km: float) -> RadiusLoss:
    """Delta-Bullington diffraction loss, equation (39): what the real edges cost, and what a round
    Earth costs beyond the edges of a smooth one."""
    actual = bullington_loss_db(path, path.surface_m[1:-1], path.tx_amsl_m, path.rx_amsl_m, radius_km)
    bare = np.zeros_like(path.from_tx_km)
    level = bullington_loss_db(path, bare, smooth.tx_height_m, smooth.rx_height_m, radius_km)
    sphere = spherical_earth.loss_db(smooth, radius_km)
    return RadiusLoss(
        actual_bullington_db=actual,
        smooth_bullington_db=level,
        spherical_earth_db=sphere,
        loss_db=actual + max(sphere - level, 0.0),
    )


def bullington_loss_db(
    path: Path, heights_m: FloatArray, tx_m: float, rx_m: float, radius_km: float
) -> float:
    """Loss of the one edge that stands for a whole profile, dB, equations (13) to (21).

    heights_m: shape (n - 1,), the interior points; tx_m, rx_m: the antennas above the same level.
    """
    ahead, behind, length = path.from_tx_km, path.from_rx_km, path.length_km
    curved = heights_m + 500.0 / radius_km * ahead * behind
    steepest_tx = float(((curved - tx_m) / ahead).max())
    direct = (rx_m - tx_m) / length
    if steepest_tx < direct:
        above = curved - (tx_m * behind + rx_m * ahead) / length
        nu = float((above * np.sqrt(0.002 * length / (path.wavelength_m * ahead * behind))).max())
    else:
        steepest_rx = float(((curved - rx_m) / behind).max())
        # Equations (18) and (19) reduce to this product of the two slopes over the direct line. It
        # needs no division, so exact grazing gives 0, its limit, where they would give 0/0.
        over_tx = steepest_tx - direct
        over_rx = max(steepest_rx + direct, 0.0)
        nu = math.sqrt(0.002 * length * over_tx * over_rx / path.wavelength_m)
    edge = knife_edge_loss_db(nu)
    return edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * length)
