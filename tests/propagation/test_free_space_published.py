"""Free-space loss and field strength against published values.

Sources: Recommendation ITU-R P.525-5 (11/2024), 32.4 + 20 log f + 20 log d, values to two places computed
from it apart from this project; Recommendation ITU-R P.1546, maximum field 106.9 - 20 log d for
1 kW e.r.p. (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from relays.propagation.errors import NotFiniteError, NotPositiveError
from relays.propagation.optics import free_space_loss_db
from relays.propagation.units import dbm_from_field, field_dbuv_m_from_eirp
from tests.propagation.paths import predicted

HALF_A_HUNDREDTH_DB = 0.005
# 32.4 in the Recommendation, 32.4478 with the exact speed of light.
ROUNDED_CONSTANT_DB = 0.06

DISTANCES_KM = (1, 10, 30, 50, 100)
TABLE_DB = {
    145: (75.63, 95.63, 105.17, 109.61, 115.63),
    146: (75.69, 95.69, 105.23, 109.67, 115.69),
    433: (85.13, 105.13, 114.67, 119.11, 125.13),
    440: (85.27, 105.27, 114.81, 119.25, 125.27),
}
ROWS = [(mhz, km, db) for mhz, row in TABLE_DB.items() for km, db in zip(DISTANCES_KM, row, strict=True)]


@pytest.mark.parametrize(("frequency_mhz", "distance_km", "loss_db"), ROWS)
def test_the_table_of_free_space_losses(frequency_mhz: float, distance_km: float, loss_db: float) -> None:
    ours = free_space_loss_db(frequency_mhz, distance_km)
    assert ours == pytest.approx(loss_db, abs=HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize(("frequency_mhz", "distance_km", "loss_db"), ROWS)
def test_the_exact_speed_of_light_is_no_more_than_the_rounding_away(
    frequency_mhz: float, distance_km: float, loss_db: float
) -> None:
    exact = 20 * math.log10(4 * math.pi * distance_km * 1e3 * frequency_mhz * 1e6 / 299_792_458)
    assert free_space_loss_db(frequency_mhz, distance_km) == pytest.approx(exact, abs=ROUNDED_CONSTANT_DB)
    assert loss_db == pytest.approx(exact, abs=ROUNDED_CONSTANT_DB)


def test_twice_the_distance_or_the_frequency_costs_six_db() -> None:
    base = free_space_loss_db(146, 10)
    assert free_space_loss_db(146, 20) - base == pytest.approx(6.02, abs=HALF_A_HUNDREDTH_DB)
    assert free_space_loss_db(292, 10) - base == pytest.approx(6.02, abs=HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize("frequency_mhz", [145, 146, 433, 440])
@pytest.mark.parametrize("distance_km", [10, 30, 50, 100])
def test_a_level_path_has_the_same_free_space_loss_in_p1812(frequency_mhz: float, distance_km: float) -> None:
    result = predicted(
        frequency_ghz=frequency_mhz / 1000,
        distance_km=np.linspace(0, distance_km, 11),
        ground_m=0,
        clutter_m=0,
        zone=4,
        tx_height_m=30,
        rx_height_m=30,
    )
    same = free_space_loss_db(frequency_mhz, distance_km)
    assert result.free_space_loss_db == pytest.approx(same, abs=1e-9)


def test_a_clear_path_between_masts_has_free_space_loss_and_nothing_more() -> None:
    result = predicted(
        distance_km=np.linspace(0, 2, 41), ground_m=0, clutter_m=0, zone=4, tx_height_m=300, rx_height_m=300
    )
    assert result.is_line_of_sight
    assert result.loss_db == pytest.approx(free_space_loss_db(146, 2), abs=HALF_A_HUNDREDTH_DB)
    assert result.loss_db >= result.free_space_loss_db


@pytest.mark.parametrize("distance_km", [1, 10, 50])
def test_the_field_of_one_kilowatt_agrees_with_p1546(distance_km: float) -> None:
    # 1 kW e.r.p. is 2.15 dB more e.i.r.p.; P.1546 rounds to 0.1 dB.
    assert field_dbuv_m_from_eirp(30 + 2.15, distance_km) == pytest.approx(
        106.9 - 20 * math.log10(distance_km), abs=0.06
    )


def test_field_and_loss_tell_the_same_power() -> None:
    # The received power from the field for 1 kW e.r.p. and from the loss of the path are one thing.
    result = predicted()
    from_field = dbm_from_field(result.field_dbuv_m, 146)
    from_loss = 60 + 2.15 - result.loss_db
    assert from_field == pytest.approx(from_loss, abs=0.05)


@pytest.mark.parametrize("distance_km", [0.0, -1.0])
def test_no_distance_is_refused(distance_km: float) -> None:
    with pytest.raises(NotPositiveError, match="distance_km"):
        free_space_loss_db(146, distance_km)


def test_an_infinite_frequency_is_refused() -> None:
    with pytest.raises(NotFiniteError, match="frequency_mhz"):
        free_space_loss_db(math.inf, 1)
