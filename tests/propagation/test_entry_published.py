"""Building entry loss against Recommendation ITU-R P.2109 Annex 1 section 3 (coefficients of P.2109-2).

SG3_WORKBOOK: figures of the building entry workbook on the ITU-R Study Group 3 software page, to 0.001 dB,
quoted by the validation script published with the reference implementation of P.2109-1 (2017; the equation
and its coefficients are those of P.2109-2). VHF_UHF: computed outside this project from the same equation,
where two published implementations agree.
"""

from __future__ import annotations

from statistics import NormalDist

import pytest

from relays.propagation import entry

# The workbook prints 0.001 dB and its probabilities to seven digits.
WORKBOOK_DB = 0.001
HALF_A_HUNDREDTH_DB = 0.005

SG3_WORKBOOK = [
    # frequency_mhz, elevation_deg, building, probability, loss_db
    (28_000.0, 0.0, "traditional", 0.01, 2.769),
    (28_000.0, 0.0, "traditional", 0.10, 6.891),
    (28_000.0, 0.0, "traditional", 0.5011872, 20.218),
    (28_000.0, 0.0, "traditional", 0.8912509, 35.448),
    (28_000.0, 0.0, "thermally_efficient", 0.01, 9.369),
    (28_000.0, 0.0, "thermally_efficient", 0.10, 19.484),
    (28_000.0, 0.0, "thermally_efficient", 0.5011872, 41.732),
    (28_000.0, 0.0, "thermally_efficient", 0.8912509, 65.040),
    (2_000.0, 45.0, "traditional", 0.01, 3.508),
    (2_000.0, 45.0, "traditional", 0.10, 11.251),
    (2_000.0, 45.0, "traditional", 0.5011872, 23.556),
    (2_000.0, 45.0, "traditional", 0.8912509, 35.991),
    (2_000.0, 45.0, "thermally_efficient", 0.01, 8.605),
    (2_000.0, 45.0, "thermally_efficient", 0.10, 20.566),
    (2_000.0, 45.0, "thermally_efficient", 0.5011872, 37.995),
    (2_000.0, 45.0, "thermally_efficient", 0.8912509, 55.724),
]

VHF_UHF = {
    # (frequency_mhz, building): loss_db at probability 0.1, 0.5, 0.8, 0.9, 0.95
    (146.0, "traditional"): (5.86, 14.06, 19.87, 22.98, 25.58),
    (146.0, "thermally_efficient"): (24.11, 37.52, 46.34, 50.97, 54.79),
    (440.0, "traditional"): (5.73, 13.95, 20.29, 23.81, 26.80),
    (440.0, "thermally_efficient"): (18.37, 32.66, 42.26, 47.34, 51.56),
}


@pytest.mark.parametrize(
    ("frequency_mhz", "elevation_deg", "building", "probability", "loss_db"), SG3_WORKBOOK
)
def test_it_agrees_with_the_study_group_workbook(
    frequency_mhz: float, elevation_deg: float, building: str, probability: float, loss_db: float
) -> None:
    found = entry.building_entry_loss_db(frequency_mhz, building, probability, elevation_deg)
    assert found == pytest.approx(loss_db, abs=WORKBOOK_DB)


@pytest.mark.parametrize(("frequency_mhz", "building"), VHF_UHF)
def test_losses_at_146_and_440_mhz(frequency_mhz: float, building: str) -> None:
    expected = VHF_UHF[frequency_mhz, building]
    for probability, loss_db in zip((0.1, 0.5, 0.8, 0.9, 0.95), expected, strict=True):
        found = entry.building_entry_loss_db(frequency_mhz, building, probability)
        assert found == pytest.approx(loss_db, abs=HALF_A_HUNDREDTH_DB), probability


def test_the_median_is_not_the_horizontal_term_alone() -> None:
    # The horizontal term at 146 MHz, traditional, is 10.20 dB; the whole median is 14.06 dB.
    assert entry.building_entry_median_db(146.0, "traditional") == pytest.approx(
        14.06, abs=HALF_A_HUNDREDTH_DB
    )


@pytest.mark.parametrize(("frequency_mhz", "building"), VHF_UHF)
def test_the_equivalent_normal_spread_has_the_published_width(frequency_mhz: float, building: str) -> None:
    low, *_, high, _ = VHF_UHF[frequency_mhz, building]
    expected = (high - low) / (NormalDist().inv_cdf(0.9) - NormalDist().inv_cdf(0.1))
    assert entry.building_entry_spread_db(frequency_mhz, building) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("frequency_mhz", "building"), VHF_UHF)
def test_a_normal_distribution_of_that_spread_stays_within_one_db(
    frequency_mhz: float, building: str
) -> None:
    median = entry.building_entry_median_db(frequency_mhz, building)
    spread = entry.building_entry_spread_db(frequency_mhz, building)
    for percent in range(10, 91, 5):
        normal = median + spread * NormalDist().inv_cdf(percent / 100)
        exact = entry.building_entry_loss_db(frequency_mhz, building, percent / 100)
        assert exact == pytest.approx(normal, abs=1.0)


def test_a_path_from_above_loses_more_and_both_signs_are_alike() -> None:
    level, up, down = (entry.building_entry_median_db(146.0, "traditional", angle) for angle in (0, 30, -30))
    assert up == down
    assert up > level


@pytest.mark.parametrize(
    ("frequency_mhz", "probability", "elevation_deg", "quantity"),
    [
        (79.0, 0.5, 0.0, "frequency_mhz"),
        (float("nan"), 0.5, 0.0, "frequency_mhz"),
        (146.0, 0.0, 0.0, "probability"),
        (146.0, 1.0, 0.0, "probability"),
        (146.0, 50.0, 0.0, "probability"),
        (146.0, 0.5, 91.0, "elevation_deg"),
    ],
)
def test_it_refuses_what_the_recommendation_does_not_cover(
    frequency_mhz: float, probability: float, elevation_deg: float, quantity: str
) -> None:
    with pytest.raises(entry.EntryRangeError) as caught:
        entry.building_entry_loss_db(frequency_mhz, "traditional", probability, elevation_deg)
    assert caught.value.quantity == quantity


def test_it_refuses_an_unknown_building() -> None:
    with pytest.raises(entry.UnknownBuildingError, match="traditional or thermally_efficient"):
        entry.building_entry_median_db(146.0, "tent")
