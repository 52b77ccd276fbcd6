"""Every figure of the reference cases against Recommendation ITU-R P.1812-8 (09/2025).

Source: fixtures/authorities/p1812_cases.json, computed with the reference implementation of ITU-R
Study Group 3; its meta block says how.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from relays.propagation.p1812 import Prediction, predict

CASES = json.loads(
    (Path(__file__).parents[2] / "fixtures" / "authorities" / "p1812_cases.json").read_text("utf-8")
)["cases"]

LOSS_TOLERANCE_DB = 1e-6

# What the cases call a figure, what a Prediction calls it.
NAMES = {
    "phi_path": "centre_latitude_deg",
    "omega": "sea_fraction",
    "dtm": "longest_land_km",
    "dlm": "longest_inland_km",
    "beta0": "anomalous_time_percent",
    "ae": "median_radius_km",
    "ab": "anomalous_radius_km",
    "hts": "tx_amsl_m",
    "hrs": "rx_amsl_m",
    "hst_uncorrected": "fitted_tx_amsl_m",
    "hsr_uncorrected": "fitted_rx_amsl_m",
    "hst": "ducting_smooth_tx_amsl_m",
    "hsr": "ducting_smooth_rx_amsl_m",
    "hstd": "diffraction_smooth_tx_amsl_m",
    "hsrd": "diffraction_smooth_rx_amsl_m",
    "hte": "ducting_tx_effective_m",
    "hre": "ducting_rx_effective_m",
    "hm": "roughness_m",
    "dlt": "tx_horizon_km",
    "dlr": "rx_horizon_km",
    "theta_t": "tx_horizon_angle_mrad",
    "theta_r": "rx_horizon_angle_mrad",
    "theta": "angular_distance_mrad",
    "Lbfs": "free_space_loss_db",
    "Lb0p": "line_of_sight_loss_db",
    "Lb0b": "anomalous_line_of_sight_loss_db",
    "Lbulla50": "median_actual_bullington_db",
    "Lbulls50": "median_smooth_bullington_db",
    "Ldsph50": "median_spherical_earth_db",
    "Ld50": "median_diffraction_db",
    "Lbulla_beta": "anomalous_actual_bullington_db",
    "Lbulls_beta": "anomalous_smooth_bullington_db",
    "Ldsph_beta": "anomalous_spherical_earth_db",
    "Ldb": "anomalous_diffraction_db",
    "Ldp": "diffraction_db",
    "Lbd50": "median_diffraction_loss_db",
    "Lbd": "diffraction_loss_db",
    "Lba": "ducting_loss_db",
    "Lbs": "troposcatter_loss_db",
    "Lminb0p": "least_unducted_loss_db",
    "Lminbap": "least_ducted_loss_db",
    "Lbda": "diffraction_or_ducting_loss_db",
    "Lbam": "without_scatter_loss_db",
    "Lbc": "median_place_loss_db",
    "Fj": "angle_blend",
    "Fk": "distance_blend",
    "Lb": "loss_db",
    "Ep": "field_dbuv_m",
}
PATH_TYPES = {"los": "line-of-sight", "transhorizon": "trans-horizon"}

PRINTED_DIGITS = 13
TEN_DIGITS = {"Lminb0p", "Lminbap", "Lbda", "Lbam", "Lbc", "Fj", "Fk"}
# Double precision on heights of a thousand metres leaves about this much, in any of the units.
ROUNDING = 1e-11

every_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])


def predicted(given: dict[str, Any]) -> Prediction:
    return predict(
        frequency_ghz=given["f_GHz"],
        time_percent=given["p"],
        distance_km=given["d_km"],
        ground_m=given["h_m"],
        clutter_m=given["R_m"],
        zone=given["zone"],
        tx_height_m=given["htg_m"],
        rx_height_m=given["hrg_m"],
        polarization="horizontal" if given["pol"] == 1 else "vertical",
        tx_latitude_deg=given["phi_t"],
        tx_longitude_deg=given["lam_t"],
        rx_latitude_deg=given["phi_r"],
        rx_longitude_deg=given["lam_r"],
        delta_n=given["DN"],
        n0=given["N0"],
        location_percent=given["pL"],
        location_sigma_db=given["sigmaL"],
        tx_coast_km=given["dct_km"],
        rx_coast_km=given["dcr_km"],
    )


def last_printed_unit(value: float, digits: int) -> float:
    return 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1) if value else 0.0


@every_case
def test_the_loss_agrees_with_the_reference(case: dict[str, Any]) -> None:
    result = predicted(case["inputs"])
    assert result.loss_db == pytest.approx(case["expected"]["Lb"], rel=0, abs=LOSS_TOLERANCE_DB)


@every_case
def test_every_printed_figure_agrees_to_its_last_digit(case: dict[str, Any]) -> None:
    result = predicted(case["inputs"])
    expected = dict(case["expected"])
    assert result.path_type == PATH_TYPES[expected.pop("path_type")]
    wrong = {}
    for name, value in expected.items():
        digits = 10 if name in TEN_DIGITS else PRINTED_DIGITS
        ours = getattr(result, NAMES[name])
        if not abs(ours - value) <= last_printed_unit(value, digits) + ROUNDING:
            wrong[name] = (ours, value)
    assert wrong == {}


def test_the_cases_reach_every_branch_that_matters() -> None:
    figures = [case["expected"] for case in CASES]
    given = [case["inputs"] for case in CASES]
    assert {f["path_type"] for f in figures} == {"los", "transhorizon"}
    assert {g["p"] for g in given} >= {1.0, 10.0, 50.0}
    assert {g["pol"] for g in given} == {1, 2}
    assert {z for g in given for z in g["zone"]} == {1, 3, 4}
    assert any(f["phi_path"] > 70 for f in figures)
    assert any(g["p"] < f["beta0"] for g, f in zip(given, figures, strict=True))
    assert any(f["Lbda"] < f["Lbd"] for f in figures)
    assert any(f["Ldsph50"] == 0 for f in figures)


def test_the_reference_cases_are_all_there() -> None:
    assert len(CASES) == 35
    assert all(set(case["expected"]) == {*NAMES, "path_type"} for case in CASES)
