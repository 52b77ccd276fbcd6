"""Diffraction over a smooth spherical Earth.

Source: Recommendation ITU-R P.1812-8 (09/2025), equations (22) to (37).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from relays.propagation.p1812.inputs import Polarization


@dataclass(frozen=True, slots=True)
class GroundConstants:
    """Electrical constants of a ground."""

    relative_permittivity: float
    conductivity_s_m: float


LAND = GroundConstants(22.0, 0.003)
SEA_WATER = GroundConstants(80.0, 5.0)


@dataclass(frozen=True, slots=True)
class SmoothPath:
    """A path over a smooth Earth: antennas at effective heights in m above it."""

    length_km: float
    frequency_ghz: float
    wavelength_m: float
    polarization: Polarization
    sea_fraction: float
    tx_height_m: float
    rx_height_m: float


def loss_db(path: SmoothPath, radius_km: float) -> float:
    """Spherical-Earth diffraction loss for one effective Earth radius, dB, equations (22) to (27)."""
    tx, rx, length = path.tx_height_m, path.rx_height_m, path.length_km
    horizon_km = math.sqrt(2.0 * radius_km) * (math.sqrt(0.001 * tx) + math.sqrt(0.001 * rx))
    if length >= horizon_km:
        return _mixed_first_term_db(path, radius_km)
    clearance_m, tx_part_km, rx_part_km = _least_clearance(path, radius_km)
    needed_m = 17.456 * math.sqrt(tx_part_km * rx_part_km * path.wavelength_m / length)
    if clearance_m > needed_m:
        return 0.0
    marginal_radius_km = 500.0 * (length / (math.sqrt(tx) + math.sqrt(rx))) ** 2
    grazing_db = max(_mixed_first_term_db(path, marginal_radius_km), 0.0)
    return (1.0 - clearance_m / needed_m) * grazing_db


def _least_clearance(path: SmoothPath, radius_km: float) -> tuple[float, float, float]:
    """Smallest height of the ray above the Earth in m, and the km on either side of it, (23) and (24)."""
    tx, rx, length = path.tx_height_m, path.rx_height_m, path.length_km
    c = (tx - rx) / (tx + rx)
    m = 250.0 * length**2 / (radius_km * (tx + rx))
    # The cosine reaches 1 at m = 1/2 and c = 1, where rounding must not push it over.
    cosine = max(-1.0, min(1.0, 1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3)))
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + math.acos(cosine) / 3.0)
    tx_part = length / 2.0 * (1.0 + b)
    rx_part = length - tx_part
    clearance = (
        (tx - 500.0 * tx_part**2 / radius_km) * rx_part + (rx - 500.0 * rx_part**2 / radius_km) * tx_part
    ) / length
    return clearance, tx_part, rx_part


def _mixed_first_term_db(path: SmoothPath, radius_km: float) -> float:
    """First term of the residue series, land and sea mixed by their share of the path, (28), dB."""
    sea = path.sea_fraction
    mixed = 0.0
    if sea > 0.0:
        mixed += sea * first_term_db(path, radius_km, SEA_WATER)
    if sea < 1.0:
        mixed += (1.0 - sea) * first_term_db(path, radius_km, LAND)
    return mixed


def first_term_db(path: SmoothPath, radius_km: float, ground: GroundConstants) -> float:
    """First term of the residue series over one kind of ground, dB, equations (29) to (36)."""
    f = path.frequency_ghz
    loss_term = (18.0 * ground.conductivity_s_m / f) ** 2
    k = 0.036 * math.pow(radius_km * f, -1 / 3)
    k *= math.pow((ground.relative_permittivity - 1.0) ** 2 + loss_term, -0.25)
    if path.polarization == "vertical":
        k *= math.sqrt(ground.relative_permittivity**2 + loss_term)
    beta = (1.0 + 1.6 * k**2 + 0.67 * k**4) / (1.0 + 4.5 * k**2 + 1.53 * k**4)
    x = 21.88 * beta * math.cbrt(f / radius_km**2) * path.length_km
    y_per_metre = 0.9575 * beta * math.cbrt(f**2 / radius_km)
    tx_gain = _height_gain_db(beta * y_per_metre * path.tx_height_m, k)
    rx_gain = _height_gain_db(beta * y_per_metre * path.rx_height_m, k)
    return -_distance_term_db(x) - tx_gain - rx_gain


def _distance_term_db(x: float) -> float:
    if x >= 1.6:
        return 11.0 + 10.0 * math.log10(x) - 17.6 * x
    return -20.0 * math.log10(x) - 5.6488 * math.pow(x, 1.425)


def _height_gain_db(b: float, k: float) -> float:
    if b > 2.0:
        gain = 17.6 * math.sqrt(b - 1.1) - 5.0 * math.log10(b - 1.1) - 8.0
    else:
        gain = 20.0 * math.log10(b + 0.1 * b**3)
    return max(gain, 2.0 + 20.0 * math.log10(k))
