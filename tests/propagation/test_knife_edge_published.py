"""Single knife edges against published values.

Sources: Recommendation ITU-R P.526-16 (11/2025), single knife-edge obstacle (J(nu), the same curve as
equation (12) of P.1812-8), and the Fresnel integral it approximates. Worked examples and table
values were computed from those two definitions apart from this project.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from itmlogic.diffraction_attenuation.aknfe import aknfe

from relays.propagation.errors import NotPositiveError
from relays.propagation.optics import knife_edge_loss_db, knife_edge_nu
from relays.propagation.p1812.diffraction import bullington_loss_db
from tests.propagation.paths import predicted

HALF_A_PRINTED_DIGIT_DB = 0.0005
HALF_A_HUNDREDTH_DB = 0.005
# How far the curve may stand from the integral it stands for, over -0.78 <= nu <= 10.
CURVE_ERROR_DB = 0.13
# The worked examples took the wavelength to the millimetre: 0.04 % of nu at 440 MHz, 0.004 dB.
MILLIMETRE_WAVELENGTH = 0.0004

NU = (-1.0, -0.7, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.4, 3.0, 5.0, 10.0)
J_DB = (0.0, 0.536, 1.959, 6.033, 10.288, 13.926, 16.784, 19.043, 20.539, 22.416, 26.814, 32.855)
INTEGRAL_DB = (-1.001, 0.466, 1.859, 6.021, 10.234, 13.864, 16.777, 19.091, 20.618, 22.522, 26.936, 32.954)


@pytest.mark.parametrize(("nu", "loss_db"), list(zip(NU, J_DB, strict=True)))
def test_the_curve_has_its_tabled_values(nu: float, loss_db: float) -> None:
    assert knife_edge_loss_db(nu) == pytest.approx(loss_db, abs=HALF_A_PRINTED_DIGIT_DB)


@pytest.mark.parametrize(("nu", "loss_db"), list(zip(NU, INTEGRAL_DB, strict=True))[1:])
def test_the_curve_stays_near_the_fresnel_integral(nu: float, loss_db: float) -> None:
    assert knife_edge_loss_db(nu) == pytest.approx(loss_db, abs=CURVE_ERROR_DB)


def test_the_curve_ends_at_minus_0_78_with_almost_no_step() -> None:
    assert knife_edge_loss_db(-0.78) == 0.0
    assert 0.0 < knife_edge_loss_db(math.nextafter(-0.78, 0.0)) < HALF_A_HUNDREDTH_DB


@pytest.mark.parametrize(
    ("frequency_mhz", "height_m", "tx_km", "rx_km", "nu", "loss_db"),
    [
        (146, 50, 10, 10, 0.698, 11.83),
        (146, 100, 5, 20, 1.561, 17.09),
        (440, 50, 10, 10, 1.212, 15.22),
        (440, 100, 5, 20, 2.709, 21.55),
        (146, -20, 10, 10, -0.279, 3.68),
    ],
)
def test_worked_edges(
    frequency_mhz: float, height_m: float, tx_km: float, rx_km: float, nu: float, loss_db: float
) -> None:
    found = knife_edge_nu(frequency_mhz, height_m, tx_km, rx_km)
    assert found == pytest.approx(nu, abs=0.0005 + MILLIMETRE_WAVELENGTH * abs(nu))
    assert knife_edge_loss_db(found) == pytest.approx(loss_db, abs=2 * HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize("nu", np.linspace(0.05, 8.0, 30))
def test_another_models_knife_edge_agrees(nu: float) -> None:
    # The irregular terrain model fits the same integral with a parabola and a logarithm: 0.3 dB.
    assert knife_edge_loss_db(nu) == pytest.approx(aknfe(nu**2), abs=0.3)


def test_a_path_over_one_sharp_edge_has_its_worked_loss() -> None:
    # A needle 50 m above the line, bulge and all, half-way along 20 km: nu 0.698, J 11.83 dB, to
    # which equation (21) adds [1 - exp(-J/6)] (10 + 0.02 D).
    km = np.linspace(0.0, 20.0, 5)
    bulge_m = 500.0 / (6371 * 157 / 112) * 10.0 * 10.0
    ground_m = np.array([0.0, 0.0, 550.0 - bulge_m, 0.0, 0.0])
    result = predicted(
        distance_km=km, ground_m=ground_m, clutter_m=0, zone=4, tx_height_m=500, rx_height_m=500
    )
    expected = 11.83 + (1 - math.exp(-11.83 / 6)) * (10 + 0.02 * 20)
    assert result.median_actual_bullington_db == pytest.approx(expected, abs=0.02)
    assert (result.obstacle_index, result.obstacle_km) == (2, 10.0)
    assert result.obstacle_above_ray_m == pytest.approx(50.0, abs=1e-6)
    # P.1812 rounds the speed of light.
    assert result.obstacle_nu == pytest.approx(knife_edge_nu(146, 50, 10, 10), rel=2e-5)


@pytest.mark.parametrize("middle_m", [10.0, 10.0 + 1e-15])
def test_exact_grazing_costs_the_six_db_of_the_curve(middle_m: float) -> None:
    # Edge and antennas in one line over a flat Earth: equations (18) and (19) as printed are 0/0.
    level = SimpleNamespace(
        from_tx_km=np.array([5.0, 10.0, 15.0]),
        from_rx_km=np.array([15.0, 10.0, 5.0]),
        length_km=20.0,
        wavelength_m=2.0,
    )
    loss = bullington_loss_db(level, np.array([0.0, middle_m, 0.0]), 10.0, 10.0, math.inf)
    assert loss == pytest.approx(6.033 + (1 - math.exp(-6.033 / 6)) * (10 + 0.02 * 20), abs=0.001)


def test_an_edge_at_an_antenna_is_refused() -> None:
    with pytest.raises(NotPositiveError, match="tx_distance_km"):
        knife_edge_nu(146, 10, 0, 10)
