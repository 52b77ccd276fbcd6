"""What must hold on any path, whatever the numbers."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relays.propagation.p1812 import predict
from tests.propagation.paths import inland, predicted

# Paths either way round sum the same terms in another order.
ROUNDING_DB = 1e-6

some = settings(max_examples=60, deadline=None)


@st.composite
def paths(draw: st.DrawFn, **fixed: Any) -> dict[str, Any]:
    points = draw(st.integers(5, 40))
    steps = draw(st.lists(st.floats(0.05, 2.0), min_size=points - 1, max_size=points - 1))
    metres = st.floats(0.0, 900.0)
    clutter = st.sampled_from([0.0, 5.0, 10.0, 20.0])
    arguments: dict[str, Any] = {
        "frequency_ghz": draw(st.sampled_from([0.05, 0.146, 0.44, 1.3, 5.8])),
        "time_percent": draw(st.sampled_from([1.0, 5.0, 10.0, 49.9, 50.0])),
        "distance_km": np.concatenate(([0.0], np.cumsum(steps) + 0.25)),
        "ground_m": np.array(draw(st.lists(metres, min_size=points, max_size=points))),
        "clutter_m": np.array(draw(st.lists(clutter, min_size=points, max_size=points))),
        "zone": np.array(draw(st.lists(st.sampled_from([1, 3, 4]), min_size=points, max_size=points))),
        "tx_height_m": draw(st.floats(1.0, 200.0)),
        "rx_height_m": draw(st.floats(1.0, 50.0)),
        "polarization": draw(st.sampled_from(["horizontal", "vertical"])),
        "tx_latitude_deg": draw(st.floats(-80.0, 80.0)),
        "tx_longitude_deg": 8.0,
        "rx_latitude_deg": 47.1,
        "rx_longitude_deg": 8.2,
        "location_percent": draw(st.sampled_from([5.0, 50.0, 95.0])),
        "location_sigma_db": draw(st.sampled_from([0.0, 5.5])),
        "tx_coast_km": draw(st.sampled_from([0.0, 3.0, 500.0])),
        "rx_coast_km": draw(st.sampled_from([0.0, 3.0, 500.0])),
    }
    return {**arguments, **fixed}


def reversed_path(arguments: dict[str, Any]) -> dict[str, Any]:
    other = dict(arguments)
    km = arguments["distance_km"]
    other["distance_km"] = km[-1] - km[::-1]
    for name in ("ground_m", "clutter_m", "zone"):
        other[name] = arguments[name][::-1]
    for name in ("height_m", "latitude_deg", "longitude_deg", "coast_km"):
        other[f"tx_{name}"], other[f"rx_{name}"] = arguments[f"rx_{name}"], arguments[f"tx_{name}"]
    return other


@some
@given(paths())
def test_every_figure_is_finite(arguments: dict[str, Any]) -> None:
    for name, value in dataclasses.asdict(predict(**arguments)).items():
        assert isinstance(value, (int, str)) or math.isfinite(value), name


@some
@given(paths())
def test_no_path_beats_line_of_sight(arguments: dict[str, Any]) -> None:
    result = predict(**arguments)
    assert result.loss_db >= result.line_of_sight_loss_db
    assert result.line_of_sight_loss_db <= result.free_space_loss_db
    assert result.median_diffraction_db >= result.median_actual_bullington_db >= 0


@some
@given(paths())
def test_field_and_loss_add_up(arguments: dict[str, Any]) -> None:
    result = predict(**arguments)
    total = 199.36 + 20 * math.log10(arguments["frequency_ghz"])
    assert result.loss_db + result.field_dbuv_m == pytest.approx(total, abs=1e-9)


@some
@given(paths())
def test_diffraction_is_the_same_both_ways(arguments: dict[str, Any]) -> None:
    there, back = predict(**arguments), predict(**reversed_path(arguments))
    assert there.median_diffraction_db == pytest.approx(back.median_diffraction_db, abs=ROUNDING_DB)
    assert there.anomalous_diffraction_db == pytest.approx(back.anomalous_diffraction_db, abs=ROUNDING_DB)
    assert there.path_type == back.path_type
    assert there.angular_distance_mrad == pytest.approx(back.angular_distance_mrad, abs=1e-9)
    assert there.tx_horizon_angle_mrad == pytest.approx(back.rx_horizon_angle_mrad, abs=1e-9)


@some
@given(paths(time_percent=50.0, zone=4, location_sigma_db=0.0))
def test_the_median_loss_inland_is_the_same_both_ways(arguments: dict[str, Any]) -> None:
    arguments["zone"] = np.full(arguments["distance_km"].size, 4)
    there, back = predict(**arguments), predict(**reversed_path(arguments))
    assert there.loss_db == pytest.approx(back.loss_db, abs=ROUNDING_DB)


@some
@given(paths(), st.floats(0.0, 1.0), st.floats(0.0, 200.0))
def test_a_higher_obstacle_never_costs_less_in_bullington(
    arguments: dict[str, Any], where: float, raised_m: float
) -> None:
    points = arguments["distance_km"].size
    index = 1 + int(where * (points - 3))
    higher = dict(arguments, ground_m=arguments["ground_m"].copy())
    higher["ground_m"][index] += raised_m
    before, after = predict(**arguments), predict(**higher)
    assert after.median_actual_bullington_db >= before.median_actual_bullington_db - 1e-9


@some
@given(paths(), st.floats(-200.0, 3000.0))
def test_only_heights_above_one_another_matter_to_diffraction(
    arguments: dict[str, Any], lifted_m: float
) -> None:
    lifted = dict(arguments, ground_m=arguments["ground_m"] + lifted_m)
    before, after = predict(**arguments), predict(**lifted)
    assert after.median_diffraction_db == pytest.approx(before.median_diffraction_db, abs=ROUNDING_DB)


@some
@given(paths())
def test_rarer_air_never_makes_scatter_or_ducting_worse(arguments: dict[str, Any]) -> None:
    rare = predict(**dict(arguments, time_percent=1.0))
    median = predict(**dict(arguments, time_percent=50.0))
    assert rare.line_of_sight_loss_db <= median.line_of_sight_loss_db
    assert rare.troposcatter_loss_db <= median.troposcatter_loss_db
    assert rare.ducting_loss_db <= median.ducting_loss_db


@some
@given(paths(location_sigma_db=5.5))
def test_more_places_cost_more(arguments: dict[str, Any]) -> None:
    losses = [predict(**dict(arguments, location_percent=p)).loss_db for p in (5, 50, 95)]
    assert losses == sorted(losses)


@some
@given(paths())
def test_lists_arrays_and_other_number_types_agree(arguments: dict[str, Any]) -> None:
    as_lists = dict(arguments)
    for name in ("distance_km", "ground_m", "clutter_m", "zone"):
        as_lists[name] = arguments[name].tolist()
    as_scalars = {k: np.float64(v) if isinstance(v, float) else v for k, v in arguments.items()}
    assert predict(**as_lists) == predict(**arguments) == predict(**as_scalars)


@pytest.mark.parametrize(
    ("name", "value"), [("ground_m", 250.0), ("clutter_m", 10), ("zone", 3)], ids=lambda x: str(x)
)
def test_one_number_stands_for_the_whole_path(name: str, value: float) -> None:
    assert predicted(**{name: value}) == predicted(**{name: np.full(81, value)})


def test_the_clutter_at_the_two_ends_is_not_used() -> None:
    ends = np.zeros(81)
    ends[[0, -1]] = 30.0
    assert predicted(clutter_m=ends) == predicted()


def test_a_path_east_or_west_of_another_has_the_same_loss() -> None:
    assert predicted(tx_longitude_deg=100.0, rx_longitude_deg=100.2).loss_db == pytest.approx(
        predicted().loss_db, abs=1e-9
    )


def test_nothing_given_is_changed() -> None:
    arguments = inland(clutter_m=np.full(81, 10.0))
    before = {k: np.copy(v) for k, v in arguments.items() if isinstance(v, np.ndarray)}
    predict(**arguments)
    assert all(np.array_equal(arguments[name], copy) for name, copy in before.items())


def test_a_prediction_cannot_be_altered() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        predicted().loss_db = 0.0  # type: ignore[misc]


def test_it_names_the_ridge_in_the_way() -> None:
    result = predicted(rx_height_m=2, tx_height_m=10)
    assert result.path_type == "trans-horizon"
    assert result.obstacle_km == pytest.approx(8.0, abs=1.0)
    assert result.obstacle_index == round(result.obstacle_km / 0.25)
    assert result.obstacle_above_ray_m > 0
    assert result.obstacle_nu > 0


def test_no_point_of_a_hill_is_nearer_to_the_ray_than_the_one_it_names() -> None:
    result = predicted(clutter_m=np.where(np.arange(81) == 40, 200.0, 0.0))
    assert (result.obstacle_index, result.obstacle_km) == (40, 10.0)


def test_a_terminal_at_sea_counts_as_on_the_coast() -> None:
    sea = {"zone": np.full(81, 1), "ground_m": 0.0}
    assert predicted(**sea, tx_coast_km=500, rx_coast_km=500) == predicted(
        **sea, tx_coast_km=0, rx_coast_km=0
    )


def test_places_do_not_vary_at_sea() -> None:
    result = predicted(zone=1, ground_m=0.0, location_percent=95, location_sigma_db=5.5)
    assert result.location_loss_db == 0.0


def test_scatter_undercuts_diffraction_between_low_antennas_on_flat_ground() -> None:
    flat = predicted(ground_m=300.0, tx_height_m=1.5, rx_height_m=1.5)
    assert flat.scatter_relief_db == pytest.approx(flat.without_scatter_loss_db - flat.loss_db)
    assert flat.scatter_relief_db > 10
    assert predicted(ground_m=300.0, tx_height_m=100, rx_height_m=30).scatter_relief_db < 0.1
