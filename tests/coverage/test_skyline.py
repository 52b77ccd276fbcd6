"""How steeply places look up to their horizons, against the paths computed for the places alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from relays import paths
from relays.coverage import live, rasters, walls
from relays.models import CoverageRun, Relay
from relays.propagation.entry import building_entry_median_db
from relays.reach.radios import typical
from relays.reach.thresholds import reach

# The ground is read on the way from the place itself and the horizon's distance on the nearer radial.
HALF_A_DEGREE = 0.5
# A table of a quarter of a degree, and the stored angle's hundredth.
HUNDREDTH = 0.01


def some_places(raster: rasters.LossRaster, count: int) -> list[tuple[int, int, float, float]]:
    """(row, column, latitude, longitude) of known posts, none nearer to the relay than 0.3 km."""
    lattice = raster.lattice
    found = []
    for row, column in np.random.default_rng(3).permutation(np.argwhere(~np.isnan(raster.loss_db))):
        latitude, longitude = float(lattice.latitude_deg[row]), float(lattice.longitude_deg[column])
        if abs(latitude - 35.953) + abs(longitude + 83.948) > 0.005:
            found.append((row, column, latitude, longitude))
    return found[:count]


def test_angles_are_those_of_the_paths(done_run: CoverageRun, hill_relay: Relay) -> None:
    raster = rasters.read(Path(done_run.raster.path), 1.5, wants_elevation=True)
    assert raster.elevation_deg is not None
    apart = []
    for row, column, latitude, longitude in some_places(raster, 80):
        station = typical("handheld_in_hand", hill_relay, latitude_deg=latitude, longitude_deg=longitude)
        alone_deg = np.degrees(paths.compute(station, hill_relay).talk_in.tx_horizon_angle_mrad / 1000)
        apart.append(abs(raster.elevation_deg[row, column] - alone_deg))
    assert np.quantile(apart, 0.95) < HALF_A_DEGREE


def test_a_higher_receiver_looks_less_steeply_up(done_run: CoverageRun) -> None:
    low, high = (
        rasters.read(Path(done_run.raster.path), height_m, wants_elevation=True).elevation_deg
        for height_m in (1.5, 10.0)
    )
    assert low is not None
    assert high is not None
    known = ~np.isnan(low)
    assert np.median(low[known] - high[known]) > 0


def test_what_is_not_known_has_no_angle(done_run: CoverageRun) -> None:
    raster = rasters.read(Path(done_run.raster.path), 1.5, wants_elevation=True)
    assert raster.elevation_deg is not None
    assert np.array_equal(np.isnan(raster.elevation_deg), np.isnan(raster.loss_db))


@pytest.mark.parametrize("building", ["traditional", "thermally_efficient"])
def test_walls_take_what_the_recommendation_says_at_the_angle(building: str, done_run: CoverageRun) -> None:
    """P.2109-2 itself, called for each place (`propagation.entry`, checked against its published values)."""
    raster = rasters.read(Path(done_run.raster.path), 1.5, wants_elevation=True)
    indoors = walls.entered(raster, building)
    assert raster.elevation_deg is not None
    for row, column, *_ in some_places(raster, 40):
        angle = float(raster.elevation_deg[row, column])
        more_db = building_entry_median_db(146.43, building, angle) - building_entry_median_db(
            146.43, building
        )
        assert indoors.loss_db[row, column] - raster.loss_db[row, column] == pytest.approx(
            more_db, abs=HUNDREDTH
        )


def test_outdoors_nothing_is_added(done_run: CoverageRun) -> None:
    raster = rasters.read(Path(done_run.raster.path), 1.5)
    assert walls.entered(raster, None) is raster


@pytest.mark.parametrize("antenna_m", [None, 24.0], ids=["stored", "swept"])
def test_indoors_the_map_agrees_with_paths_computed_alone(
    antenna_m: float | None, done_run: CoverageRun, hill_relay: Relay
) -> None:
    asked = live.question(
        hill_relay, antenna_height_m=antenna_m, receiver_height_m=1.5, building="traditional"
    )
    assert (asked.run is None) == (antenna_m is not None)
    raster = live.loss(asked)
    hill_relay.antenna_height_m = antenna_m or hill_relay.antenna_height_m
    apart = []
    for row, column, latitude, longitude in some_places(raster, 60):
        station = typical("handheld_indoors", hill_relay, latitude_deg=latitude, longitude_deg=longitude)
        margin_db = reach(station, hill_relay).talk_in.largest_loss_db - raster.loss_db[row, column]
        apart.append(margin_db - paths.compute(station, hill_relay).link.talk_in.margin_db)
    assert np.quantile(np.abs(apart), 0.95) < 1.0
    assert abs(np.median(apart)) < 0.1


def test_indoors_and_outdoors_are_two_answers(done_run: CoverageRun, hill_relay: Relay) -> None:
    keys = {
        live.question(hill_relay, receiver_height_m=1.5, building=building).key
        for building in (None, "outdoors", "traditional", "thermally_efficient")
    }
    assert len(keys) == 3
