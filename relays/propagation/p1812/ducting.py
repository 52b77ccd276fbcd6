"""Ducting and layer reflection: Recommendation ITU-R P.1812-8 (09/2025), equations (46) to (56)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from relays.propagation.p1812.climate import Climate
from relays.propagation.p1812.inputs import Path
from relays.propagation.p1812.profile_analysis import Horizons, SmoothSurface, roughness_m

_COAST_REACH_KM = 5.0
_MOSTLY_SEA = 0.75
_SMOOTH_UP_TO_M = 10.0


@dataclass(frozen=True, slots=True)
class Ducting:
    """Basic loss by ducting in dB, and the terrain figures that went into it, m."""

    tx_effective_m: float
    rx_effective_m: float
    roughness_m: float
    loss_db: float


def ducting(path: Path, climate: Climate, surface: SmoothSurface, seen: Horizons) -> Ducting:
    """Basic transmission loss by ducting not exceeded for p % of time, equation (46)."""
    tx_effective = path.tx_height_m + float(path.ground_m[0]) - surface.ducting_tx_m
    rx_effective = path.rx_height_m + float(path.ground_m[-1]) - surface.ducting_rx_m
    rough = roughness_m(path, surface, seen)
    percent = _duct_time_percent(path, climate, seen, tx_effective, rx_effective, rough)
    loss = (
        _coupling_db(path, climate, seen)
        + _angular_loss_db(path, climate, seen)
        + _time_loss_db(path, percent)
    )
    return Ducting(tx_effective_m=tx_effective, rx_effective_m=rx_effective, roughness_m=rough, loss_db=loss)


def _coupling_db(path: Path, climate: Climate, seen: Horizons) -> float:
    """Fixed loss of getting into the duct and out again, equations (47) to (49)."""
    f = path.frequency_ghz
    low_band = 45.375 - 137.0 * f + 92.5 * f**2 if f < 0.5 else 0.0
    sea = climate.sea_fraction
    return (
        102.45
        + 20.0 * math.log10(f)
        + 20.0 * math.log10(seen.tx_distance_km + seen.rx_distance_km)
        + low_band
        + _site_shielding_db(f, seen.tx_angle_mrad, seen.tx_distance_km)
        + _site_shielding_db(f, seen.rx_angle_mrad, seen.rx_distance_km)
        + _over_sea_db(path.tx_coast_km, seen.tx_distance_km, path.tx_amsl_m, sea)
        + _over_sea_db(path.rx_coast_km, seen.rx_distance_km, path.rx_amsl_m, sea)
    )


def _site_shielding_db(frequency_ghz: float, angle_mrad: float, horizon_km: float) -> float:
    excess = angle_mrad - 0.1 * horizon_km
    if excess <= 0.0:
        return 0.0
    spread = 20.0 * math.log10(1.0 + 0.361 * excess * math.sqrt(frequency_ghz * horizon_km))
    return float(spread + 0.264 * excess * frequency_ghz ** (1 / 3))


def _over_sea_db(coast_km: float, horizon_km: float, antenna_amsl_m: float, sea_fraction: float) -> float:
    if coast_km > _COAST_REACH_KM or coast_km > horizon_km or sea_fraction < _MOSTLY_SEA:
        return 0.0
    return -3.0 * math.exp(-0.25 * coast_km**2) * (1.0 + math.tanh(0.07 * (50.0 - antenna_amsl_m)))


def _angular_loss_db(path: Path, climate: Climate, seen: Horizons) -> float:
    """Loss along the duct by angular distance, equations (51) and (52)."""
    per_mrad = 5e-5 * climate.median_radius_km * path.frequency_ghz ** (1 / 3)
    tx_angle = min(seen.tx_angle_mrad, 0.1 * seen.tx_distance_km)
    rx_angle = min(seen.rx_angle_mrad, 0.1 * seen.rx_distance_km)
    return float(per_mrad * (1000.0 * path.length_km / climate.median_radius_km + tx_angle + rx_angle))


def _duct_time_percent(
    path: Path, climate: Climate, seen: Horizons, tx_effective: float, rx_effective: float, rough: float
) -> float:
    """Percentage of time the duct is there over this terrain, equations (54) to (56).

    Terrain within the accepted heights keeps it above 1e-80, so that its logarithm is always defined.
    """
    length = path.length_km
    between = min(length - seen.tx_distance_km - seen.rx_distance_km, 40.0)
    mu3 = 1.0
    if rough > _SMOOTH_UP_TO_M:
        mu3 = math.exp(-4.6e-5 * (rough - _SMOOTH_UP_TO_M) * (43.0 + 6.0 * between))
    alpha = max(-0.6 - 3.5e-9 * length**3.1 * climate.inland_weight, -3.4)
    heights = (math.sqrt(tx_effective) + math.sqrt(rx_effective)) ** 2
    mu2 = min((500.0 / climate.median_radius_km * length**2 / heights) ** alpha, 1.0)
    return float(climate.anomalous_time_percent * mu2 * mu3)


def _time_loss_db(path: Path, percent: float) -> float:
    """Loss by time percentage, equation (53)."""
    log_percent = math.log10(percent)
    gamma = 1.076 / (2.0058 - log_percent) ** 1.012
    gamma *= math.exp(-(9.51 - 4.8 * log_percent + 0.198 * log_percent**2) * 1e-6 * path.length_km**1.13)
    ratio = path.time_percent / percent
    return float(-12.0 + (1.2 + 3.7e-3 * path.length_km) * math.log10(ratio) + 12.0 * ratio**gamma)
