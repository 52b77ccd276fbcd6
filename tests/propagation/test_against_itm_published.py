"""P.1812 beside the irregular terrain model (Longley-Rice; see other_model.py).

Where both define one thing they must agree to rounding. Over flat ground with antennas clear of it both
solve the same diffraction problem by different mathematics and must agree to a decibel or two. Over
mountains each simplifies in its own way, one equivalent edge here against two there, so only the middle
of many real paths is compared, with a bound that says how little more can be asked.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from itmlogic.misc.qerfi import qerfi
from itmlogic.preparatory_subroutines.hzns import hzns

from relays.propagation.p1812.variability import inverse_normal
from tests.propagation import other_model
from tests.propagation.paths import predicted

FLAT_GROUND_DB = 2.0
PLANE_EARTH_DB = 1.5  # the law leaves out the Earth's curve and the ground's constants
# Less than a wavelength above ground its constants matter, and each model treats them in its own way.
LOW_ANTENNA_DB = 7.0
# Six draws of 300 profiles gave medians of -0.7 to -2.4 dB, 5th to 95th percentile -14 to 8 dB.
MOUNTAIN_MEDIAN_DB = 4.0
MASTS_M = (30.0, 10.0)
# The other deviate is rounded to four digits.
FOUR_DIGITS = 0.0001

BANDS = pytest.mark.parametrize("frequency_ghz", [0.146, 0.44])


def ours(frequency_ghz, km, ground_m, heights_m, polarization="vertical"):
    return predicted(
        frequency_ghz=frequency_ghz,
        distance_km=km,
        ground_m=ground_m,
        clutter_m=0,
        zone=4,
        tx_height_m=heights_m[0],
        rx_height_m=heights_m[1],
        polarization=polarization,
        delta_n=other_model.DELTA_N,
    )


def flat(distance_km: float):
    return np.linspace(0, distance_km, 201), np.full(201, 200.0)


def test_both_models_see_the_same_horizons() -> None:
    for km, ground_m in other_model.mountain_profiles(60, seed=11):
        result = ours(0.146, km, ground_m, MASTS_M)
        workings = other_model.run(0.146, km, ground_m, MASTS_M)
        slopes, metres = hzns(workings["pfl"], 1000 * km[-1], MASTS_M, workings["gme"])
        # The other model keeps the slope where P.1812 keeps its angle.
        assert math.tan(result.tx_horizon_angle_mrad / 1000) == pytest.approx(slopes[0], abs=1e-9)
        assert math.tan(result.rx_horizon_angle_mrad / 1000) == pytest.approx(slopes[1], abs=1e-9)
        if not result.is_line_of_sight:
            assert result.tx_horizon_km == pytest.approx(metres[0] / 1000, abs=1e-9)
            assert result.rx_horizon_km == pytest.approx(metres[1] / 1000, abs=1e-9)


@pytest.mark.parametrize("probability", [0.01, 0.1, 0.3, 0.7, 0.9, 0.99])
def test_both_models_use_the_same_normal_deviate(probability: float) -> None:
    assert inverse_normal(probability) == pytest.approx(qerfi([probability])[0], abs=FOUR_DIGITS)


@BANDS
@pytest.mark.parametrize("polarization", ["horizontal", "vertical"])
@pytest.mark.parametrize("heights_m", [(30, 10), (100, 10)])
@pytest.mark.parametrize("distance_km", [1.6, 5, 10, 20, 30, 50])
def test_flat_ground_from_free_space_to_beyond_the_horizon(
    frequency_ghz, polarization, heights_m, distance_km
) -> None:
    path = (frequency_ghz, *flat(distance_km), heights_m, polarization)
    assert ours(*path).loss_db == pytest.approx(other_model.loss_db(*path), abs=FLAT_GROUND_DB)


@BANDS
@pytest.mark.parametrize(
    ("heights_m", "distance_km"),
    [((30, 10), 10), ((30, 1.5), 5), ((30, 1.5), 10), ((10, 2), 5), ((10, 2), 10)],
)
def test_flat_ground_follows_the_two_ray_law(frequency_ghz, heights_m, distance_km) -> None:
    # Plane Earth, far beyond the last lobe: 40 log d - 20 log(h1 h2), metres. A textbook formula.
    law = 40 * math.log10(1000 * distance_km) - 20 * math.log10(heights_m[0] * heights_m[1])
    result = ours(frequency_ghz, *flat(distance_km), heights_m, "horizontal")
    assert result.loss_db == pytest.approx(law, abs=PLANE_EARTH_DB)


@BANDS
@pytest.mark.parametrize("polarization", ["horizontal", "vertical"])
@pytest.mark.parametrize("distance_km", [1.6, 5, 10, 20, 30])
def test_between_handhelds_on_flat_ground_it_is_the_loss_without_scatter_that_agrees(
    frequency_ghz, polarization, distance_km
) -> None:
    path = (frequency_ghz, *flat(distance_km), (1.5, 1.5), polarization)
    other = other_model.loss_db(*path)
    assert ours(*path).without_scatter_loss_db == pytest.approx(other, abs=LOW_ANTENNA_DB)


@pytest.fixture(scope="module")
def mountains():
    return other_model.mountain_profiles(300, seed=12)


def both_losses(frequency_ghz, profiles):
    here = [ours(frequency_ghz, *profile, MASTS_M).loss_db for profile in profiles]
    there = [other_model.loss_db(frequency_ghz, *profile, MASTS_M) for profile in profiles]
    return np.array(here), np.array(there)


def test_over_mountains_the_medians_agree_at_vhf(mountains) -> None:
    here, there = both_losses(0.146, mountains)
    assert abs(np.median(here - there)) < MOUNTAIN_MEDIAN_DB


@BANDS
def test_over_mountains_both_models_rank_the_paths_alike(frequency_ghz, mountains) -> None:
    ranks = [np.argsort(np.argsort(losses)) for losses in both_losses(frequency_ghz, mountains)]
    assert np.corrcoef(*ranks)[0, 1] > 0.85
