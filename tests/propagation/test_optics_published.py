"""Horizons, Fresnel zones, effective Earth radii and place variability against published values.

Sources: Recommendation ITU-R P.526-16 (11/2025), Fresnel ellipsoids (constant 550) and the 8500 km default
radius; Federal Standard 1037C, smooth-Earth radio horizon; Recommendation ITU-R P.1812-8
(09/2025), equations (6) and (7a) and the location variability of section 4. Tabled digits were
computed from those formulas apart from this project.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import pytest
from pyproj import Geod

from relays.propagation.errors import NotPositiveError, RefractivityRangeError
from relays.propagation.geodesy import path_centre_latitude_deg
from relays.propagation.optics import (
    earth_bulge_m,
    effective_radius_factor,
    effective_radius_km,
    fresnel_radius_m,
    horizon_km,
)
from relays.propagation.p1812 import sigma_location_db
from relays.propagation.p1812.variability import inverse_normal

# The usual constants 4.12 and 550 are rounded to this.
HORIZON_SHARE = 0.003
FRESNEL_SHARE = 0.006


@pytest.mark.parametrize(
    ("tx_m", "rx_m", "km"),
    [(30, 2, 28.39), (100, 2, 47.03), (100, 10, 54.23), (300, 2, 77.19), (500, 1.5, 97.17)],
)
def test_smooth_horizons(tx_m: float, rx_m: float, km: float) -> None:
    assert horizon_km(tx_m, rx_m) == pytest.approx(km, rel=HORIZON_SHARE)


def test_the_horizon_in_nautical_miles() -> None:
    assert horizon_km(100) / 1.852 == pytest.approx(2.23 * 10, rel=HORIZON_SHARE)


def test_the_horizon_without_bending_has_the_constant_3_57() -> None:
    assert horizon_km(1, radius_factor=1) == pytest.approx(3.57, abs=0.005)


def test_two_antennas_on_their_horizon_just_graze() -> None:
    # Where the sight line touches the sphere, the bulge at that point equals the line's height there.
    one, other = horizon_km(100), horizon_km(10)
    chord_m = (100 * other + 10 * one) / (one + other)
    assert earth_bulge_m(one, other) == pytest.approx(chord_m, rel=1e-9)


@pytest.mark.parametrize(
    ("mhz", "d1_km", "d2_km", "by_17_3", "exact", "by_550", "six_tenths"),
    [
        (146, 10, 10, 101.24, 101.33, 101.78, 60.7),
        (146, 25, 25, 160.08, 160.21, 160.93, 96.1),
        (440, 10, 10, 58.32, 58.37, 58.63, 35.0),
        (440, 25, 25, 92.21, 92.29, 92.70, 55.3),
        (146, 1, 49, 44.82, 44.86, 45.06, 26.9),
    ],
)
def test_first_fresnel_zones(mhz, d1_km, d2_km, by_17_3, exact, by_550, six_tenths) -> None:
    radius = fresnel_radius_m(mhz, d1_km, d2_km)
    assert radius == pytest.approx(exact, abs=0.0051)
    assert radius == pytest.approx(by_550, rel=FRESNEL_SHARE)
    assert radius == pytest.approx(by_17_3, rel=FRESNEL_SHARE)
    assert 0.6 * radius == pytest.approx(six_tenths, abs=0.1)


def test_the_fourth_zone_is_twice_as_wide_as_the_first() -> None:
    assert fresnel_radius_m(146, 3, 7, zone=4) == pytest.approx(2 * fresnel_radius_m(146, 3, 7))


@pytest.mark.parametrize(
    ("delta_n", "factor", "km"),
    [
        (39, 1.3305, 8476.7),
        (40, 1.3419, 8549.1),
        (45, 1.4018, 8930.8),
        (50, 1.4673, 9348.1),
        (60, 1.6186, 10311.8),
    ],
)
def test_effective_earth_radii(delta_n: float, factor: float, km: float) -> None:
    assert effective_radius_factor(delta_n) == pytest.approx(factor, abs=0.00005)
    assert effective_radius_km(delta_n) == pytest.approx(km, abs=0.05)


@pytest.mark.parametrize("delta_n", [157, 200, math.nan])
def test_air_that_ducts_has_no_effective_radius(delta_n: float) -> None:
    with pytest.raises(RefractivityRangeError, match="less than 157"):
        effective_radius_factor(delta_n)


def test_an_antenna_below_ground_has_no_horizon() -> None:
    with pytest.raises(NotPositiveError, match="rx_height_m"):
        horizon_km(10, -1)


@pytest.mark.parametrize(
    ("frequency_ghz", "side_m", "sigma_db"),
    [
        (0.146, 50, 1.565),
        (0.146, 100, 1.901),
        (0.146, 500, 2.983),
        (0.146, 1000, 3.622),
        (0.44, 50, 1.587),
        (0.44, 100, 1.926),
        (0.44, 500, 3.023),
        (0.44, 1000, 3.671),
    ],
)
def test_place_to_place_spread(frequency_ghz: float, side_m: float, sigma_db: float) -> None:
    assert sigma_location_db(frequency_ghz, side_m, 1.5, 10) == pytest.approx(sigma_db, abs=0.0005)


@pytest.mark.parametrize(("height_m", "share"), [(9.9, 1.0), (10, 1.0), (15, 0.5), (20, 0.0), (50, 0.0)])
def test_the_spread_fades_out_ten_metres_above_the_clutter(height_m: float, share: float) -> None:
    low = sigma_location_db(0.146, 100, 1.5, 10)
    assert sigma_location_db(0.146, 100, height_m, 10) == pytest.approx(share * low)


@pytest.mark.parametrize("probability", [0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99])
def test_the_normal_deviate_is_as_good_as_its_approximation_promises(probability: float) -> None:
    # Abramowitz and Stegun, formula 26.2.23: error below 4.5e-4.
    assert inverse_normal(probability) == pytest.approx(-NormalDist().inv_cdf(probability), abs=4.5e-4)


@pytest.mark.parametrize(
    ("tx", "rx"),
    [((47, 8), (47.1, 8.2)), ((60, -179.9), (60.5, 179.8)), ((-35, 150), (-34, 150)), ((70, 20), (70, 60))],
)
def test_the_path_centre_agrees_with_a_geodesy_library(tx, rx) -> None:
    sphere = Geod(a=6371000.0, b=6371000.0)
    azimuth, _, metres = sphere.inv(tx[1], tx[0], rx[1], rx[0])
    _, latitude, _ = sphere.fwd(tx[1], tx[0], azimuth, metres / 2)
    ours = path_centre_latitude_deg(
        tx_latitude_deg=tx[0],
        tx_longitude_deg=tx[1],
        rx_latitude_deg=rx[0],
        rx_longitude_deg=rx[1],
        path_length_km=metres / 1000,
    )
    assert ours == pytest.approx(latitude, abs=1e-9)


def test_two_terminals_in_one_place_still_have_a_centre() -> None:
    ours = path_centre_latitude_deg(
        tx_latitude_deg=47, tx_longitude_deg=8, rx_latitude_deg=47, rx_longitude_deg=8, path_length_km=10
    )
    assert ours == pytest.approx(47, abs=0.05)
