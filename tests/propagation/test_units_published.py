"""Conversions between the trade's units against published values.

Sources: a receiver maker's printed table of microvolts and dBm in 50 ohms (three digits); half-wave
dipole gain 1.64 = 2.15 dBi (OET Bulletin 65, edition 97-01); the rest is arithmetic.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relays.propagation import units
from relays.propagation.errors import NotFiniteError, NotPositiveError

# Three printed digits of the smallest voltage, 0.158, are good to 0.03 dB.
THREE_DIGITS_DB = 0.03
HALF_A_HUNDREDTH_DB = 0.005
HALF_A_TENTH_DB = 0.05

PRINTED = [
    (0.707, -110),
    (0.398, -115),
    (0.354, -116),
    (0.316, -117),
    (0.282, -118),
    (0.251, -119),
    (0.224, -120),
    (0.199, -121),
    (0.178, -122),
    (0.158, -123),
    (70.71, -70),
]
COMPUTED = [(0.2, -120.97), (0.25, -119.03), (0.35, -116.11), (0.5, -113.01), (1, -106.99), (50, -73.01)]


@pytest.mark.parametrize(("microvolts", "dbm"), PRINTED)
def test_the_printed_table_of_microvolts(microvolts: float, dbm: float) -> None:
    assert units.dbm_from_microvolts(microvolts) == pytest.approx(dbm, abs=THREE_DIGITS_DB)
    assert units.microvolts_from_dbm(dbm) == pytest.approx(microvolts, rel=0.005)


@pytest.mark.parametrize(("microvolts", "dbm"), COMPUTED)
def test_microvolts_to_two_places(microvolts: float, dbm: float) -> None:
    assert units.dbm_from_microvolts(microvolts) == pytest.approx(dbm, abs=HALF_A_HUNDREDTH_DB)


def test_seventy_five_ohms_take_less_power_from_the_same_voltage() -> None:
    less = units.dbm_from_microvolts(1) - units.dbm_from_microvolts(1, impedance_ohms=75)
    assert less == pytest.approx(10 * math.log10(75 / 50))


@pytest.mark.parametrize(("watts", "dbm"), [(0.001, 0), (1, 30), (5, 37.0), (25, 44), (50, 47.0), (100, 50)])
def test_the_powers_of_common_radios(watts: float, dbm: float) -> None:
    assert units.dbm_from_watts(watts) == pytest.approx(dbm, abs=HALF_A_TENTH_DB)


@pytest.mark.parametrize(("low", "high", "db"), [(5, 8, 2.0), (5, 10, 3.0)])
def test_what_more_power_buys(low: float, high: float, db: float) -> None:
    assert units.dbm_from_watts(high) - units.dbm_from_watts(low) == pytest.approx(db, abs=HALF_A_TENTH_DB)


def test_a_dipole_has_two_point_one_five_dbi() -> None:
    assert units.dbi_from_dbd(0) == 2.15
    assert units.dbd_from_dbi(2.15) == 0
    assert units.dbi_from_dbd(0) == pytest.approx(units.db_from_ratio(1.64), abs=HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize(("mhz", "metres"), [(146, 2.0534), (440, 0.6813), (299.792458, 1.0)])
def test_wavelengths(mhz: float, metres: float) -> None:
    assert units.wavelength_m(mhz) == pytest.approx(metres, abs=0.00005)


@settings(max_examples=50, deadline=None)
@given(st.floats(-200, 100))
def test_every_conversion_comes_back(level: float) -> None:
    assert units.dbm_from_watts(units.watts_from_dbm(level)) == pytest.approx(level, abs=1e-9)
    assert units.dbm_from_microvolts(units.microvolts_from_dbm(level)) == pytest.approx(level, abs=1e-9)
    assert units.db_from_ratio(units.ratio_from_db(level)) == pytest.approx(level, abs=1e-9)
    assert units.dbd_from_dbi(units.dbi_from_dbd(level)) == pytest.approx(level, abs=1e-9)


@pytest.mark.parametrize(
    "convert", [units.dbm_from_watts, units.dbm_from_microvolts, units.db_from_ratio, units.wavelength_m]
)
def test_nothing_and_less_than_nothing_are_refused(convert) -> None:
    for value in (0, -1):
        with pytest.raises(NotPositiveError):
            convert(value)
    with pytest.raises(NotFiniteError):
        convert(math.nan)
