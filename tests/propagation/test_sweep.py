"""The sweep against the reference cases and against the general implementation, path by path.

Source of the expected losses: fixtures/authorities/p1812_cases.json (computed with the reference
implementation of Recommendation ITU-R P.1812-8, 09/2025), and `p1812.predict`, which agrees with all of them.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from relays.propagation import errors
from relays.propagation.p1812.variability import location_loss_db
from relays.propagation.sweep import coast_distances_km, sweep_profile
from tests.propagation.radials import Case, random_case

ROOT = Path(__file__).parents[2]
CASES = json.loads((ROOT / "fixtures" / "authorities" / "p1812_cases.json").read_text("utf-8"))["cases"]

# The same arithmetic in another order; the sweep leaves out one term below 1e-8 dB.
SAME_DB = 1e-6


def evenly_spaced(case: dict[str, Any]) -> bool:
    steps = np.diff(case["inputs"]["d_km"])
    return bool(np.ptp(steps) < 1e-9)


def coast_by_zone(case: dict[str, Any]) -> bool:
    """The sweep finds the coast from the zones; one case states another distance that matters."""
    return bool(case["id"] != "syn-coast-to-ship-p1")


def bearing_deg(given: dict[str, Any]) -> float:
    tx, rx = math.radians(given["phi_t"]), math.radians(given["phi_r"])
    east = math.radians(given["lam_r"] - given["lam_t"])
    r = math.sin(tx) * math.sin(rx) + math.cos(tx) * math.cos(rx) * math.cos(east)
    return math.degrees(
        math.atan2(math.cos(tx) * math.cos(rx) * math.sin(east), math.sin(rx) - r * math.sin(tx))
    )


def sweep_of(given: dict[str, Any]) -> Any:
    return sweep_profile(
        frequency_ghz=given["f_GHz"],
        time_percent=given["p"],
        spacing_km=given["d_km"][-1] / (len(given["d_km"]) - 1),
        ground_m=given["h_m"],
        clutter_m=given["R_m"],
        zone=given["zone"],
        tx_height_m=given["htg_m"],
        rx_heights_m=(given["hrg_m"],),
        polarization={1: "horizontal", 2: "vertical"}[given["pol"]],
        latitude_deg=given["phi_t"],
        azimuth_deg=bearing_deg(given),
        delta_n=given["DN"],
        n0=given["N0"],
    )


@pytest.mark.parametrize(
    "case", [c for c in CASES if evenly_spaced(c) and coast_by_zone(c)], ids=lambda case: case["id"]
)
def test_the_last_sample_has_the_loss_of_the_reference_case(case: dict[str, Any]) -> None:
    given = case["inputs"]
    at_sea = given["zone"][-1] == 1
    location = 0.0 if at_sea else location_loss_db(given["pL"], given["sigmaL"])
    swept = sweep_of(given).loss_at_location_db(location)[0, -1]
    assert swept == pytest.approx(case["expected"]["Lb"], abs=SAME_DB)


def test_enough_reference_cases_have_equal_spacing_to_be_swept() -> None:
    assert sum(evenly_spaced(c) and coast_by_zone(c) for c in CASES) >= 25


def worst_difference_db(case: Case, samples: Any) -> float:
    swept = case.swept().loss_db
    worst = 0.0
    for k in samples:
        for row, height in enumerate(case.heights):
            path = case.directly(int(k), height)
            if not case.on_a_step(path):
                worst = max(worst, abs(path.loss_db - swept[row, k]))
    return worst


@pytest.mark.parametrize("seed", range(7000, 7048))
def test_every_sample_of_a_short_radial_has_the_loss_of_its_own_path(seed: int) -> None:
    case = random_case(seed, least=40, most=160)
    assert worst_difference_db(case, range(case.first_sample(), case.samples)) < SAME_DB


@pytest.mark.parametrize("seed", range(8000, 8120))
def test_samples_of_a_long_radial_have_the_loss_of_their_own_path(seed: int) -> None:
    case = random_case(seed, least=160, most=3000)
    samples = np.random.default_rng(seed).integers(case.first_sample(), case.samples, 25)
    assert worst_difference_db(case, samples) < SAME_DB


@pytest.mark.parametrize("seed", range(8200, 8280))
def test_receivers_between_samples_have_the_loss_of_their_own_path(seed: int) -> None:
    case = random_case(seed, least=40, most=1500)
    receivers = case.receivers(25, seed)
    swept = case.swept(receivers).loss_db
    for r in range(receivers.at.size):
        for row, height in enumerate(case.heights):
            path = case.directly_to(receivers, r, height)
            assert case.on_a_step(path) or abs(path.loss_db - swept[row, r]) < SAME_DB


def test_the_random_radials_meet_ducting_sight_and_both_radii() -> None:
    met = {"ducting": 0, "sight": 0, "between": 0, "anomalous": 0, "sea": 0}
    for seed in range(7000, 7048):
        case = random_case(seed, least=40, most=160)
        path = case.directly(case.samples - 1, case.heights[0])
        met["ducting"] += path.diffraction_or_ducting_loss_db < path.diffraction_loss_db
        met["sight"] += path.is_line_of_sight
        met["between"] += 1e-6 < path.time_factor < 1.0
        met["anomalous"] += path.time_factor == 1.0
        met["sea"] += 0.0 < path.sea_fraction < 1.0
    assert min(met.values()) >= 2, met


def test_several_receiver_heights_in_one_pass_equal_one_pass_each() -> None:
    case = random_case(8001)
    together = sweep_profile(**{**case.arguments, "rx_heights_m": (1.5, 10.0, 40.0)})
    for row, height in enumerate((1.5, 10.0, 40.0)):
        alone = sweep_profile(**{**case.arguments, "rx_heights_m": (height,)})
        assert np.array_equal(together.before_floor_db[row], alone.before_floor_db[0])
        assert np.array_equal(together.floor_db[row], alone.floor_db[0])


def test_a_prefix_of_a_radial_has_the_same_losses() -> None:
    case = random_case(8002)
    part = {
        name: value[:100] if name in {"ground_m", "clutter_m", "zone"} else value
        for name, value in case.arguments.items()
    }
    assert np.array_equal(sweep_profile(**part).loss_db, case.swept().loss_db[:, :100])


def test_horizons_are_those_of_the_path() -> None:
    case = random_case(8004)
    swept = case.swept()
    for k in range(case.first_sample(), case.samples, 40):
        path = case.directly(k, case.heights[0])
        if path.is_line_of_sight:
            assert swept.tx_horizon[0, k] == swept.rx_horizon[0, k] == -1
        else:
            assert (swept.tx_horizon[0, k], swept.rx_horizon[0, k]) == (
                path.tx_horizon_index,
                path.rx_horizon_index,
            )


def test_the_floor_applies_after_the_location_variability() -> None:
    swept = random_case(8003).swept()
    better_places = swept.loss_at_location_db(-20.0)
    assert np.all(better_places >= swept.floor_db)
    assert np.any(better_places == swept.floor_db)
    assert np.any(better_places == swept.before_floor_db - 20.0)


def test_the_coast_lies_half_way_between_land_and_sea() -> None:
    km = [0.0, 2.0, 4.0, 6.0, 8.0]
    assert coast_distances_km([4, 4, 1, 1, 4], km) == (3.0, 1.0)
    assert coast_distances_km([1, 4, 4, 4, 1], km) == (0.0, 0.0)
    assert coast_distances_km([4, 3, 4, 4, 4], km) == (500.0, 500.0)


PLAIN = """
import sys, numpy as np
from tests.propagation.radials import random_case
np.save(sys.argv[1], np.concatenate([random_case(s, 40, 120).swept().loss_db[0] for s in range(9000, 9012)]))
"""


def test_the_kernels_give_the_same_uncompiled(tmp_path: Path) -> None:
    target = tmp_path / "plain.npy"
    subprocess.run(
        [sys.executable, "-c", PLAIN, str(target)],
        check=True,
        cwd=ROOT,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )
    compiled = np.concatenate([random_case(s, 40, 120).swept().loss_db[0] for s in range(9000, 9012)])
    assert np.load(target) == pytest.approx(compiled, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"spacing_km": 90.0}, errors.SampleSpacingRangeError),
        ({"ground_m": [1.0, 2.0]}, errors.ProfileTooShortError),
        ({"ground_m": np.full(50, np.nan)}, errors.NotFiniteError),
        ({"ground_m": np.full(50, -32768.0)}, errors.GroundHeightRangeError),
        ({"rx_heights_m": (0.0,)}, errors.AntennaHeightRangeError),
        ({"tx_height_m": 5000.0}, errors.AntennaHeightRangeError),
        ({"time_percent": 60.0}, errors.TimePercentRangeError),
        ({"frequency_ghz": 146.0}, errors.FrequencyRangeError),
        ({"polarization": "circular"}, errors.PolarizationError),
    ],
)
def test_it_refuses_what_the_recommendation_does_not_cover(
    change: dict[str, Any], error: type[errors.PropagationError]
) -> None:
    arguments = {**random_case(1).arguments, "clutter_m": 0.0, "zone": 4, **change}
    with pytest.raises(error):
        sweep_profile(**arguments)
