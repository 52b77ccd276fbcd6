"""Profiles between two places, and what is said where the ground is not known."""

from __future__ import annotations

import logging
import math
import pickle
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from relays import terrain_store
from relays.ground import great_circle
from relays.propagation import optics, p1812
from relays.propagation.errors import (
    CoordinateRangeError,
    NotPositiveError,
    PathLengthRangeError,
    ProfileShapeError,
    ProfileTooShortError,
)
from relays.propagation.p1812.inputs import INLAND
from relays.propagation.profile import MEDIAN_RADIUS_KM, PathProfile, sight
from relays.propagation.terrain import LeavesTerrain, NoTerrain
from relays.terrain_report import ImportReport
from tests.terrain.rasters import THREE_SECONDS, slope, write_geotiff

ONE_MILLIMETRE = 0.001
HOME, RELAY = (36.47, -84.38), (36.70, -84.10)
# Reading a profile from its other end moves its points by rounding only.
ROUNDING_M = 1e-6


def level(ground: Any, *, clutter_m: float = 0.0, length_km: float = 20.0) -> PathProfile:
    ground_m = np.asarray(ground, dtype=np.float64)
    points = ground_m.size
    return PathProfile(
        distance_km=np.linspace(0.0, length_km, points),
        ground_m=ground_m,
        clutter_m=np.full(points, clutter_m),
        zone=np.full(points, INLAND),
        latitude_deg=np.linspace(50.0, 50.1, points),
        longitude_deg=np.linspace(10.0, 10.2, points),
        spacing_m=1000.0 * length_km / (points - 1),
    )


@pytest.mark.parametrize("spacing_m", [10.0, 45.0, 500.0])
def test_points_are_evenly_spaced_and_never_wider_than_asked(spacing_m: float) -> None:
    way = great_circle(*HOME, *RELAY, spacing_m=spacing_m)
    steps = np.diff(way.distance_km) * 1000.0
    assert steps.max() <= spacing_m + ROUNDING_M
    assert steps.max() - steps.min() < ONE_MILLIMETRE
    assert way.spacing_m == pytest.approx(steps[0], abs=ONE_MILLIMETRE)


def test_both_ends_are_exactly_the_places_given() -> None:
    way = great_circle(*HOME, *RELAY, spacing_m=45.0)
    assert (way.latitude_deg[0], way.longitude_deg[0]) == pytest.approx(HOME, abs=1e-12)
    assert (way.latitude_deg[-1], way.longitude_deg[-1]) == pytest.approx(RELAY, abs=1e-12)


def test_a_short_path_still_has_the_five_points_p1812_needs() -> None:
    assert great_circle(36.5, -84.3, 36.503, -84.3, spacing_m=500.0).distance_km.size == 5


def test_a_profile_has_the_ground_below_every_point(demo_ground: ImportReport) -> None:
    profile = terrain_store.profile_between(*HOME, *RELAY)
    ground = terrain_store.current_ground()
    for at in (0, 7, profile.ground_m.size // 2, -1):
        expected = ground.height_at(profile.latitude_deg[at], profile.longitude_deg[at])
        assert profile.ground_m[at] == expected
    assert set(profile.zone) == {INLAND}
    assert profile.spacing_m <= 45.0


def test_the_path_backward_is_the_path_reversed(demo_ground: ImportReport) -> None:
    there = terrain_store.profile_between(*HOME, *RELAY)
    back = terrain_store.profile_between(*RELAY, *HOME).reversed()
    # 1e-9 degrees of rounding on a slope of one in one.
    assert np.abs(there.ground_m - back.ground_m).max() < ONE_MILLIMETRE
    assert np.abs(there.distance_km - back.distance_km).max() < 1e-9


def test_a_profile_serves_the_recommendation(demo_ground: ImportReport) -> None:
    profile = terrain_store.profile_between(*HOME, *RELAY)
    result = p1812.predict(
        frequency_ghz=0.146, time_percent=50.0, tx_height_m=6.0, rx_height_m=30.0, polarization="vertical",
        **profile.arguments(),
    )  # fmt: skip
    assert 90.0 < result.loss_db < 220.0


def test_the_worst_obstacle_is_the_one_the_recommendation_names(demo_ground: ImportReport) -> None:
    profile = terrain_store.profile_between(*HOME, *RELAY)
    seen = sight(profile, tx_height_m=6.0, rx_height_m=30.0, frequency_mhz=146.0)
    result = p1812.predict(
        frequency_ghz=0.146, time_percent=50.0, tx_height_m=6.0, rx_height_m=30.0, polarization="vertical",
        **profile.arguments(),
    )  # fmt: skip
    assert seen.obstacle.index == result.obstacle_index
    # The Recommendation's wavelength is 0.2998 / f, 25 parts in a million longer than ours.
    assert seen.obstacle.nu == pytest.approx(result.obstacle_nu, rel=1e-4)
    assert -seen.obstacle.clearance_m == pytest.approx(result.obstacle_above_ray_m, abs=ONE_MILLIMETRE)


def test_sight_looks_the_same_from_both_ends(demo_ground: ImportReport) -> None:
    profile = terrain_store.profile_between(*HOME, *RELAY)
    there = sight(profile, tx_height_m=6.0, rx_height_m=30.0, frequency_mhz=440.0)
    back = sight(profile.reversed(), tx_height_m=30.0, rx_height_m=6.0, frequency_mhz=440.0)
    assert np.allclose(there.clearance_m, back.clearance_m[::-1], atol=ROUNDING_M)
    assert there.obstacle.from_tx_km == pytest.approx(back.obstacle.from_rx_km, abs=1e-9)
    assert (there.obstacle.latitude_deg, there.obstacle.longitude_deg) == (
        back.obstacle.latitude_deg,
        back.obstacle.longitude_deg,
    )


def test_sight_draws_the_bulge_and_the_zone_that_optics_gives() -> None:
    profile = level(np.zeros(41))
    seen = sight(profile, tx_height_m=100.0, rx_height_m=50.0, frequency_mhz=146.0)
    for at in (1, 13, 20, 39):
        d1, d2 = profile.distance_km[at], 20.0 - profile.distance_km[at]
        radius_factor = MEDIAN_RADIUS_KM / 6371.0
        assert seen.bulge_m[at] == pytest.approx(optics.earth_bulge_m(d1, d2, radius_factor), abs=ROUNDING_M)
        assert seen.zone_radius_m[at] == pytest.approx(optics.fresnel_radius_m(146.0, d1, d2), abs=ROUNDING_M)
        assert seen.line_m[at] == pytest.approx(100.0 - 50.0 * d1 / 20.0, abs=ROUNDING_M)
        assert seen.zone_high_m[at] - seen.zone_low_m[at] == pytest.approx(2 * seen.zone_radius_m[at])
    assert seen.bulge_m[0] == seen.bulge_m[-1] == seen.zone_radius_m[0] == seen.zone_radius_m[-1] == 0.0


def test_a_ridge_blocks_and_a_mast_over_a_plain_is_clear() -> None:
    ridge = np.zeros(41)
    ridge[12] = 200.0
    blocked = sight(level(ridge), tx_height_m=10.0, rx_height_m=10.0, frequency_mhz=146.0).obstacle
    assert (blocked.index, blocked.surface_m) == (12, 200.0)
    assert blocked.blocks
    assert blocked.nu > 0.0
    clear = sight(level(np.zeros(41)), tx_height_m=200.0, rx_height_m=200.0, frequency_mhz=146.0).obstacle
    assert clear.is_clear
    assert not clear.blocks
    assert clear.nu < 0.0


def test_trees_stand_along_the_path_but_not_under_the_antennas() -> None:
    seen = sight(level(np.zeros(41), clutter_m=15.0), tx_height_m=10.0, rx_height_m=10.0, frequency_mhz=146.0)
    assert (seen.surface_m[0], seen.surface_m[-1]) == (0.0, 0.0)
    assert seen.surface_m[1] == pytest.approx(15.0 + seen.bulge_m[1])
    assert seen.obstacle.blocks


def test_a_path_off_the_terrain_says_where_it_leaves(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain) as left:
        terrain_store.profile_between(*RELAY, 36.70, -83.9, relay_end="first")
    edge = demo_ground.tile.east_deg - THREE_SECONDS / 2
    # The last known point lies within one spacing of the outermost posts.
    assert edge - 0.0006 < left.value.longitude_deg <= edge
    assert left.value.distance_km == pytest.approx(1.93, abs=0.05)
    assert left.value.bearing_deg == pytest.approx(90.0, abs=0.2)
    assert "1.9 km east of the relay" in str(left.value)


def test_it_is_told_from_the_relay_whichever_end_that_is(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain) as forward:
        terrain_store.profile_between(*RELAY, 36.9, -84.2, relay_end="first")
    with pytest.raises(LeavesTerrain) as backward:
        terrain_store.profile_between(36.9, -84.2, *RELAY, relay_end="last")
    assert str(backward.value) == str(forward.value)
    assert "north-north-west of the relay" in str(backward.value)
    assert backward.value.distance_km == pytest.approx(forward.value.distance_km, abs=0.05)


def test_a_relay_off_the_terrain_is_named_as_the_reason(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain, match="The relay itself stands outside") as left:
        terrain_store.profile_between(*HOME, 40.0, -84.2, relay_end="last")
    assert left.value.distance_km == 0.0


def test_between_two_stations_neither_place_nor_distance_is_told(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain) as left:
        terrain_store.profile_between(*HOME, 36.9, -84.2)
    assert not re.search(r"\d", str(left.value))


def test_no_coordinate_gets_into_the_words(demo_ground: ImportReport) -> None:
    home = (36.987654, -84.123456)
    for relay_end in ("first", "last", "neither"):
        with pytest.raises(LeavesTerrain) as left:
            terrain_store.profile_between(*home, *RELAY, relay_end=relay_end)
        for words in (str(left.value), repr(left.value), repr(left.value.args)):
            assert "36." not in words
            assert "84." not in words


def test_a_profile_in_a_log_line_gives_no_home_away(demo_ground: ImportReport, caplog: Any) -> None:
    profile = terrain_store.profile_between(*HOME, *RELAY)
    seen = sight(profile, tx_height_m=6.0, rx_height_m=30.0, frequency_mhz=146.0)
    way = great_circle(*HOME, *RELAY, spacing_m=45.0)
    with caplog.at_level(logging.INFO):
        logging.getLogger(__name__).info("%r %r %r", profile, seen, way)
    assert "36." not in caplog.text
    assert "84." not in caplog.text


def test_the_errors_survive_a_trip_to_a_worker(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain) as left:
        terrain_store.profile_between(*RELAY, 36.9, -84.2, relay_end="first")
    back = pickle.loads(pickle.dumps(left.value))
    assert vars(back) == vars(left.value)
    assert str(pickle.loads(pickle.dumps(NoTerrain()))) == str(NoTerrain())


def test_before_the_first_import_it_says_how_to_get_terrain(store: Path) -> None:
    with pytest.raises(NoTerrain, match="import_terrain"):
        terrain_store.profile_between(*HOME, *RELAY)


def test_a_path_cannot_cross_a_hole(take: Any, tmp_path: Path) -> None:
    heights = slope(100, 100)
    heights[:, 40:80] = np.nan
    take(write_geotiff(tmp_path / "a.tif", heights))
    with pytest.raises(LeavesTerrain) as left:
        terrain_store.profile_between(35.97, -83.99, 35.97, -83.925, relay_end="first")
    assert left.value.longitude_deg == pytest.approx(-84.0 + 39.5 * THREE_SECONDS, abs=0.0006)


@pytest.mark.parametrize("place", [(91.0, 0.0), (0.0, 181.0), (math.nan, 0.0), (0.0, math.inf)])
def test_a_place_off_the_globe_is_refused_without_naming_it(place: tuple[float, float]) -> None:
    with pytest.raises(CoordinateRangeError) as refused:
        great_circle(*place, *RELAY, spacing_m=45.0)
    assert not re.search(r"\b(91|181|nan|inf)\b", str(refused.value))


def test_two_ends_at_one_place_are_no_path() -> None:
    with pytest.raises(PathLengthRangeError, match="Both ends are the same place"):
        great_circle(*HOME, *HOME, spacing_m=45.0)


def test_a_path_longer_than_the_recommendation_covers_is_refused() -> None:
    with pytest.raises(PathLengthRangeError, match="up to 3000 km"):
        great_circle(*HOME, 60.0, 10.0, spacing_m=45.0)


@pytest.mark.parametrize("spacing_m", [0.0, -45.0, math.nan, math.inf])
def test_a_spacing_must_be_a_positive_number(spacing_m: float) -> None:
    with pytest.raises(NotPositiveError):
        great_circle(*HOME, *RELAY, spacing_m=spacing_m)


def test_a_profile_of_unequal_arrays_is_refused() -> None:
    with pytest.raises(ProfileShapeError, match="ground_m must have 5 numbers"):
        PathProfile(np.arange(5.0), np.zeros(4), np.zeros(5), np.full(5, 4), np.zeros(5), np.zeros(5), 1.0)
    with pytest.raises(ProfileTooShortError):
        level(np.zeros(2))
