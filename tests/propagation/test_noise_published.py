"""Noise against Recommendation ITU-R P.372: coefficients and deciles as in published code for P.372-17;
the business-area line from P.372-8. Values computed outside this project from those formulas."""

from __future__ import annotations

import pytest

from relays.propagation import noise
from relays.propagation.errors import PropagationError

# The table is printed to 0.01 dB.
HALF_A_HUNDREDTH_DB = 0.005

FIGURES = {
    # frequency_mhz: (city, residential, rural, quiet rural, galactic), dB above kT0B
    146.0: (16.85, 12.55, 7.25, -8.30, 2.22),
    440.0: (11.79, -0.72, -6.02, -22.00, -8.80),
}


@pytest.mark.parametrize(
    ("bandwidth_khz", "expected_dbm"),
    [
        (0.001, -173.975),
        (8.5, -134.68),
        (11.0, -133.56),
        (12.5, -133.01),
        (15.0, -132.21),
        (16.0, -131.93),
    ],
)
def test_thermal_noise_is_kt0b(bandwidth_khz: float, expected_dbm: float) -> None:
    assert noise.thermal_noise_dbm(bandwidth_khz) == pytest.approx(expected_dbm, abs=HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize("frequency_mhz", FIGURES)
def test_median_figures_of_every_class(frequency_mhz: float) -> None:
    for key, expected_db in zip(noise.NOISE_CLASSES, FIGURES[frequency_mhz], strict=True):
        found = noise.external_noise(key, frequency_mhz)
        assert found.figure_db == pytest.approx(expected_db, abs=HALF_A_HUNDREDTH_DB), key


def test_city_lines_of_both_editions_cross_at_128_9_mhz() -> None:
    # 76.8 - 27.7 x = 44.3 - 12.3 x, computed outside from the two printed lines.
    crossing_mhz = 128.9
    low = noise.external_noise("city", crossing_mhz).figure_db
    older_line = 44.3 - 12.3 * 2.110253
    assert low == pytest.approx(older_line, abs=0.01)


@pytest.mark.parametrize(
    ("key", "upper_db", "lower_db"),
    [("city", 11.0, 6.7), ("residential", 10.6, 5.3), ("rural", 9.2, 4.6), ("quiet_rural", 9.2, 4.6)],
)
def test_deciles_within_an_hour(key: str, upper_db: float, lower_db: float) -> None:
    found = noise.noise_class(key)
    assert (found.upper_decile_db, found.lower_decile_db) == (upper_db, lower_db)
    assert found.spread_db == pytest.approx((upper_db + lower_db) / 2.5631, abs=0.001)


@pytest.mark.parametrize(
    ("key", "expected_db"), [("city", 17.30), ("residential", 13.67), ("rural", 10.26), ("quiet_rural", 7.37)]
)
def test_combined_with_a_receiver_of_8_db_at_146_mhz(key: str, expected_db: float) -> None:
    external_db = noise.external_noise(key, 146.0).figure_db
    combined_db = noise.combined_noise_figure_db(external_db, 8.0)
    assert combined_db == pytest.approx(expected_db, abs=HALF_A_HUNDREDTH_DB)


def test_the_rise_is_the_combined_figure_less_the_receivers_own() -> None:
    # The same published combination, seen as a raised threshold with nothing between air and receiver.
    assert noise.noise_rise_db(16.85, 8.0) == pytest.approx(17.30 - 8.0, abs=0.01)


def test_sensitivity_agrees_with_noise_figure_and_carrier_to_noise() -> None:
    # -174 + 10 log 12500 + 8 + 5 gives -120.0 dBm, 0.224 µV; C/N near 5 dB at 12 dB SINAD is weakly attested.
    assert noise.implied_noise_figure_db(-120.0, 12.5) == pytest.approx(8.0, abs=0.05)


@pytest.mark.parametrize("key", ["city", "residential", "rural", "quiet_rural"])
def test_every_figure_at_440_mhz_says_it_is_outside_the_fit(key: str) -> None:
    found = noise.external_noise(key, 440.0)
    assert not found.within_fit
    assert "440 MHz" in found.caveat
    assert noise.external_noise(key, 146.0).caveat == ""


def test_noise_behind_a_lossy_line_raises_the_threshold_less() -> None:
    rises = [noise.noise_rise_db(12.55, 7.0, loss_db) for loss_db in (0.0, 3.0, 10.0, 40.0)]
    assert rises == sorted(rises, reverse=True)
    assert rises[-1] == pytest.approx(0.0, abs=0.01)


def test_a_place_quieter_than_the_generator_gains_nothing() -> None:
    assert noise.noise_rise_db(-8.3, 7.0) == 0.0
    assert noise.external_share(-8.3, 7.0) == 0.0


def test_the_two_editions_lie_8_db_apart_for_a_city_at_440_mhz() -> None:
    # P.372-8 gives 44.3 - 12.3 log 440 = 11.79 dB, the newer line carried on 76.8 - 27.7 log 440 = 3.58 dB.
    apart_db = noise.external_noise("city", 440.0).figure_db - (76.8 - 27.7 * 2.643453)
    assert apart_db == pytest.approx(noise.EDITIONS_APART_DB, abs=0.3)


def test_a_doubtful_figure_matters_less_behind_a_lossy_antenna() -> None:
    # By hand: 10 log{[6.31 + (10^2 - 1)] / [6.31 + (10^1.2 - 1)]} for 12 and 20 dB on a receiver of 8 dB.
    open_db = noise.rise_in_doubt_db(12.0, 8.0)
    assert open_db == pytest.approx(6.97, abs=HALF_A_HUNDREDTH_DB)
    assert noise.rise_in_doubt_db(12.0, 8.0, 20.0) < 1.0 < open_db


def test_the_share_is_the_slope_of_the_rise() -> None:
    step_db = 0.001
    slope = (noise.noise_rise_db(10 + step_db, 7, 2) - noise.noise_rise_db(10 - step_db, 7, 2)) / (
        2 * step_db
    )
    assert noise.external_share(10, 7, 2) == pytest.approx(slope, abs=1e-5)


@pytest.mark.parametrize("bandwidth_khz", [0.0, -1.0, float("nan"), float("inf")])
def test_it_refuses_an_impossible_bandwidth(bandwidth_khz: float) -> None:
    with pytest.raises(noise.ReceiverNoiseError, match="kHz"):
        noise.thermal_noise_dbm(bandwidth_khz)


@pytest.mark.parametrize("frequency_mhz", [0.2, 1200.0, float("nan"), -146.0])
def test_it_refuses_a_frequency_no_line_covers(frequency_mhz: float) -> None:
    with pytest.raises(noise.NoiseFrequencyRangeError) as caught:
        noise.external_noise("rural", frequency_mhz)
    assert caught.value.value is frequency_mhz


def test_it_refuses_unknown_surroundings_and_names_the_known_ones() -> None:
    with pytest.raises(noise.UnknownNoiseClassError, match="residential") as caught:
        noise.external_noise("moon", 146.0)
    assert isinstance(caught.value, PropagationError)
    assert caught.value.value == "moon"


def test_it_refuses_a_receiver_better_than_thermal_noise() -> None:
    with pytest.raises(noise.ReceiverNoiseError, match=r"best possible is -128\.0 dBm, 0\.089 µV"):
        noise.implied_noise_figure_db(-135.0, 12.5)
    with pytest.raises(noise.ReceiverNoiseError, match="0 dB or more"):
        noise.combined_noise_figure_db(10.0, -1.0)
