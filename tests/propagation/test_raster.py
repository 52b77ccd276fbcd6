"""The raster: where its pixels lie, what they hold, and what they leave empty.

Positions are checked with PROJ's geodesics on WGS-84 (pyproj.Geod: C. F. F. Karney, "Algorithms for geodesics",
Journal of Geodesy 87, 2013), an implementation and a method independent of ours.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pyproj
import pytest

from relays.propagation import geodesics, polar, raster
from relays.propagation.errors import PropagationError
from relays.propagation.p1812 import predict
from relays.propagation.raster import CoverageCancelled, CoverageRequest, cover
from relays.propagation.sweep import sweep_profile
from relays.propagation.terrain import ElevationGrid, Lattice, LeavesTerrain
from tests.propagation.radials import mountain_grid

WGS84 = pyproj.Geod(ellps="WGS84")
ONE_METRE_KM = 0.001
POST = 1.0 / 1200.0  # 3 arc seconds
# float32 at 150 dB, twice.
SINGLE_DB = 5e-5
# What a millimetre of position does to the loss on ground that changes by 60 m from post to post.
A_MILLIMETRE_DB = 0.005


def mountains() -> ElevationGrid:
    """The real grid on an invented place; lopsided in every direction."""
    heights = mountain_grid()
    return ElevationGrid(Lattice(36.7, -84.4, POST, POST, *heights.shape), heights)


def request(**changes: Any) -> CoverageRequest:
    arguments: dict[str, Any] = {
        "latitude_deg": 36.7 - 171.3 * POST,
        "longitude_deg": -84.4 + 200.6 * POST,
        "antenna_height_m": 30.0,
        "receiver_heights_m": (2.0,),
        "frequency_mhz": 146.0,
        "radius_km": 6.0,
    }
    return CoverageRequest(**{**arguments, **changes})


def distances_km(asked: CoverageRequest, lattice: Lattice) -> np.ndarray:
    longitude, latitude = np.meshgrid(lattice.longitude_deg, lattice.latitude_deg)
    own = np.full(longitude.shape, asked.longitude_deg), np.full(latitude.shape, asked.latitude_deg)
    return np.asarray(WGS84.inv(*own, longitude, latitude)[2] / 1000.0)


def azimuths_deg(asked: CoverageRequest, lattice: Lattice) -> np.ndarray:
    longitude, latitude = np.meshgrid(lattice.longitude_deg, lattice.latitude_deg)
    own = np.full(longitude.shape, asked.longitude_deg), np.full(latitude.shape, asked.latitude_deg)
    return np.asarray(WGS84.inv(*own, longitude, latitude)[0])


@pytest.mark.parametrize("latitude", [-45.0, 0.0, 36.6, 60.0, 80.0])
@pytest.mark.parametrize("azimuth", [0, 37, 90, 200, 301])
def test_samples_lie_where_the_geodesic_runs(latitude: float, azimuth: int) -> None:
    places = np.empty((2, 1501))
    polynomials = np.empty((2, 8))
    nodes, matrix = geodesics.node_matrix()
    geodesics.radial_polynomials(latitude, azimuth, 360, 300e3, nodes, matrix, polynomials, np.empty(1))
    polar.radial_places(polynomials, 0, places)
    s = 200.0 * np.arange(1501)
    same = np.full(s.shape, 10.0), np.full(s.shape, latitude)
    east, north, _ = WGS84.fwd(*same, np.full(s.shape, float(azimuth)), s)
    off = WGS84.inv(places[1] + 10.0, places[0] + latitude, east, north)[2]
    assert off.max() / 1000.0 < ONE_METRE_KM


@pytest.mark.parametrize("latitude", [-45.0, 0.0, 36.6, 60.0, 80.0])
@pytest.mark.parametrize("off_deg", [(0.03, -0.05), (-0.4, 0.2), (1.2, 0.9), (-1.9, -1.5)])
def test_pixels_lie_where_the_geodesic_says(latitude: float, off_deg: tuple[float, float]) -> None:
    """Rasters of 3 arc seconds around the relay and up to 270 km away from it."""
    lattice = Lattice(latitude + off_deg[0], 12.0 + off_deg[1], POST, POST, 65, 97)
    here = request(latitude_deg=latitude + 0.0001, longitude_deg=12.00007)
    east, north = np.empty((4, 5)), np.empty((4, 5))
    corner = np.array([lattice.north_deg, lattice.west_deg, POST, POST])
    geodesics.place_nodes(corner, polar.BLOCK, here.latitude_deg, here.longitude_deg, east, north)
    away, azimuth = np.full(65 * 97, np.nan), np.full(65 * 97, np.nan)
    for first in (0, 90, 180, 270):
        pixel, turn, steps = polar.find_pixels(first, 90, 360, 1000.0, 300e3, 65, 97, east, north)
        assert np.isnan(away[pixel]).all()  # no pixel belongs to two sectors
        away[pixel], azimuth[pixel] = steps, turn + first
    expected_km, expected_deg = distances_km(here, lattice).ravel(), azimuths_deg(here, lattice).ravel()
    assert np.isfinite(away).all()
    assert np.abs(away - expected_km).max() < ONE_METRE_KM
    turned = np.radians((azimuth - expected_deg + 180.0) % 360.0 - 180.0)
    assert np.abs(turned * expected_km).max() < ONE_METRE_KM


def path_to(grid: ElevationGrid, asked: CoverageRequest, row: int, column: int, spacing_km: float) -> Any:
    """Ground and geometry of the path from the relay to one post, sampled for that path alone."""
    latitude, longitude = grid.lattice.latitude_deg[row], grid.lattice.longitude_deg[column]
    azimuth, _, metres = WGS84.inv(asked.longitude_deg, asked.latitude_deg, longitude, latitude)
    steps = max(4, math.ceil(metres / 1000.0 / spacing_km))
    step_m = metres / steps
    east, north, _ = WGS84.fwd(
        *(np.full(steps + 1, v) for v in (asked.longitude_deg, asked.latitude_deg, azimuth)),
        step_m * np.arange(steps + 1),
    )
    return step_m / 1000.0, azimuth, grid.at(north, east), (latitude, longitude)


def test_nineteen_pixels_of_twenty_are_within_one_db_of_their_own_path() -> None:
    grid, asked = mountains(), request(radius_km=13.0)
    found = cover(grid, asked)
    rng = np.random.default_rng(4)
    off = []
    window_row = round((grid.lattice.north_deg - found.lattice.north_deg) / POST)
    window_column = round((found.lattice.west_deg - grid.lattice.west_deg) / POST)
    for row, column in rng.integers(0, found.loss_db.shape[1:], (1500, 2)):
        if np.isnan(found.loss_db[0, row, column]):
            continue
        step_km, azimuth, ground, _ = path_to(
            grid, asked, row + window_row, column + window_column, found.resolution.spacing_km
        )
        own = sweep_profile(
            frequency_ghz=0.146,
            time_percent=50.0,
            spacing_km=step_km,
            ground_m=ground,
            tx_height_m=30.0,
            rx_heights_m=(2.0,),
            polarization="vertical",
            latitude_deg=asked.latitude_deg,
            azimuth_deg=azimuth,
        )
        off.append(found.loss_db[0, row, column] - own.loss_db[0, -1])
    assert len(off) > 800
    assert np.quantile(np.abs(off), 0.95) < 1.0
    assert abs(np.mean(off)) < 0.1


def test_a_pixel_on_a_radial_has_the_loss_of_the_direct_path() -> None:
    """Due north of the relay nothing is blended: the pixel is a path of P.1812 like any other."""
    heights = np.random.default_rng(3).uniform(100.0, 160.0, (61, 61)).astype(np.float32)
    grid = ElevationGrid(Lattice(10.0, 20.0, POST, POST, 61, 61), heights)
    south, middle = 10.0 - 60 * POST, 20.0 + 30 * POST
    asked = request(latitude_deg=south, longitude_deg=middle, radius_km=5.0, spacing_km=0.05)
    found = cover(grid, asked)
    for row in (5, 20, 41):
        metres = WGS84.inv(middle, south, middle, found.lattice.latitude_deg[row])[2]
        steps = metres / 50.0
        at = np.append(np.arange(math.ceil(steps) - 1), (steps - 1.0, steps))
        own = np.full(at.size, middle), np.full(at.size, south)
        east, north, _ = WGS84.fwd(*own, np.zeros(at.size), 50.0 * at)
        direct = predict(
            frequency_ghz=0.146,
            time_percent=50.0,
            distance_km=0.05 * at,
            ground_m=grid.at(north, east),
            clutter_m=0.0,
            zone=4,
            tx_height_m=30.0,
            rx_height_m=2.0,
            polarization="vertical",
            tx_latitude_deg=south,
            tx_longitude_deg=middle,
            rx_latitude_deg=float(north[-1]),
            rx_longitude_deg=middle,
        )
        column = round((middle - found.lattice.west_deg) / POST)
        assert found.loss_db[0, row, column] == pytest.approx(direct.loss_db, abs=A_MILLIMETRE_DB)


def test_a_hill_shades_what_lies_behind_it_and_nothing_else() -> None:
    heights = np.zeros((241, 241), dtype=np.float32)
    heights[88:96, 146:154] = 100.0  # north-east of the relay
    asked = request(latitude_deg=36.6, longitude_deg=-84.3)
    flat = np.zeros_like(heights)
    lattice = Lattice(36.7, -84.4, POST, POST, 241, 241)
    with_hill, without = (
        cover(ElevationGrid(lattice, heights), asked),
        cover(ElevationGrid(lattice, flat), asked),
    )
    added = with_hill.loss_db[0] - without.loss_db[0]
    middle = added.shape[0] // 2
    quarters = {
        "north-west": added[:middle, :middle],
        "north-east": added[:middle, middle:],
        "south-west": added[middle:, :middle],
        "south-east": added[middle:, middle:],
    }
    shaded = {name: float((part > 10.0).sum()) for name, part in quarters.items()}
    assert shaded["north-east"] > 50
    assert shaded["north-west"] == shaded["south-west"] == shaded["south-east"] == 0


def test_nothing_is_said_beyond_the_radius() -> None:
    asked = request()
    found = cover(mountains(), asked)
    known = np.isfinite(found.loss_db[0])
    assert np.array_equal(known, distances_km(asked, found.lattice) <= asked.radius_km)
    assert not found.ends_early


def test_nothing_is_said_beyond_the_terrain() -> None:
    asked = request(latitude_deg=36.7 - 20 * POST)
    found = cover(mountains(), asked)
    assert found.lattice.north_deg == pytest.approx(36.7)
    assert found.ends_early
    north, south = found.reach_km[0], found.reach_km[found.resolution.radial_count // 2]
    assert north == pytest.approx(20 * POST * 110.98, abs=0.1)
    assert south >= asked.radius_km
    assert np.isfinite(found.loss_db[0, 60]).any()


def test_nothing_is_said_behind_a_void() -> None:
    heights = mountain_grid().copy()
    heights[130:135, 195:205] = np.nan
    asked = request()
    grid = ElevationGrid(mountains().lattice, heights)
    behind = np.isnan(cover(grid, asked).loss_db[0]) & np.isfinite(cover(mountains(), asked).loss_db[0])
    rows, _ = np.nonzero(behind)
    assert behind.sum() > 100
    assert rows.max() < behind.shape[0] // 2  # the void lies north of the relay


def test_a_relay_off_the_terrain_is_refused() -> None:
    with pytest.raises(LeavesTerrain, match="relay itself stands outside"):
        cover(mountains(), request(latitude_deg=37.2))


def test_the_result_does_not_depend_on_the_number_of_threads() -> None:
    asked = request(wants_floor=True, wants_horizons=True)
    one, *others = (cover(mountains(), asked, threads=n) for n in (1, 2, 5))
    for other in others:
        for name in ("loss_db", "floor_db", "horizon_km", "reach_km"):
            assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)


def test_the_result_does_not_depend_on_how_radials_are_grouped(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = cover(mountains(), request())
    monkeypatch.setattr(raster, "_SECTOR", (17, 17))
    assert np.array_equal(whole.loss_db, cover(mountains(), request()).loss_db, equal_nan=True)


def test_several_receiver_heights_equal_one_raster_each() -> None:
    together = cover(mountains(), request(receiver_heights_m=(1.5, 10.0)))
    for index, height in enumerate((1.5, 10.0)):
        alone = cover(mountains(), request(receiver_heights_m=(height,)))
        assert np.array_equal(together.loss_db[index], alone.loss_db[0], equal_nan=True)


def test_the_floor_and_the_horizons_come_when_asked_for() -> None:
    found = cover(mountains(), request(wants_floor=True, wants_horizons=True))
    assert found.floor_db is not None
    assert found.horizon_km is not None
    known = np.isfinite(found.loss_db)
    assert np.all(found.loss_db[known] >= found.floor_db[known] - SINGLE_DB)
    from_relay, from_receiver = found.horizon_km[0][known], found.horizon_km[1][known]
    assert np.array_equal(np.isnan(from_relay), np.isnan(from_receiver))
    hidden = np.isfinite(from_relay)
    assert 0.2 < hidden.mean() < 1.0
    assert np.all(from_relay[hidden] + from_receiver[hidden] <= 6.1)
    # Where both see one another there is little more than free space.
    excess = (found.loss_db - found.floor_db)[known]
    assert np.median(excess[~hidden]) + 5.0 < np.median(excess[hidden])


def test_trees_and_water_are_taken_into_account() -> None:
    grid, asked = mountains(), request(time_percent=10.0)
    bare = cover(grid, asked).loss_db
    trees = np.full(grid.heights_m.shape, 15.0, dtype=np.float32)
    trees[0, 0] = np.nan
    assert np.nanmean(cover(grid, asked, clutter_m=trees).loss_db - bare) > 5.0
    water = np.full(grid.heights_m.shape, 1, dtype=np.uint8)
    assert np.nanmean(np.abs(cover(grid, asked, zone=water).loss_db - bare)) > 0.1
    inland, lawn = np.full(grid.heights_m.shape, 4, dtype=np.uint8), np.zeros_like(trees)
    assert np.array_equal(cover(grid, asked, zone=inland, clutter_m=lawn).loss_db, bare, equal_nan=True)


def test_a_map_across_the_date_line_is_like_any_other() -> None:
    heights = mountain_grid()
    plain = cover(mountains(), request())
    lattice = dataclasses.replace(mountains().lattice, west_deg=179.9)
    shifted = request(longitude_deg=179.9 + 200.6 * POST - 360.0)
    across = cover(ElevationGrid(lattice, heights), shifted)
    assert across.loss_db.shape == plain.loss_db.shape
    assert np.nanmax(np.abs(across.loss_db - plain.loss_db)) < SINGLE_DB


def test_both_directions_share_one_raster() -> None:
    """The middle of a 0.6 MHz pair stands for both ends of it to within a few tenths of a dB."""
    middle = cover(mountains(), request(frequency_mhz=146.0)).loss_db
    for end in (145.7, 146.3):
        off = np.abs(cover(mountains(), request(frequency_mhz=end)).loss_db - middle)
        assert np.nanmean(off) < 0.03
        assert np.nanmax(off) < 0.2


def test_progress_counts_every_radial() -> None:
    steps: list[tuple[int, int]] = []
    found = cover(mountains(), request(), progress=lambda done, total: steps.append((done, total)))
    assert [done for done, _ in steps] == sorted({done for done, _ in steps})
    assert steps[-1] == (found.resolution.radial_count, found.resolution.radial_count)


def test_a_cancelled_run_gives_no_result_and_stops_early() -> None:
    steps: list[int] = []
    with pytest.raises(CoverageCancelled):
        cover(
            mountains(),
            request(radial_count=20_000),
            threads=1,
            progress=lambda done, total: steps.append(done),
            cancelled=lambda: len(steps) >= 3,
        )
    assert len(steps) == 3


def test_an_error_in_the_progress_callback_reaches_the_caller() -> None:
    def broken(done: int, total: int) -> None:
        raise RuntimeError("no more room for the progress line")

    with pytest.raises(RuntimeError, match="progress line"):
        cover(mountains(), request(), progress=broken)


def test_a_stopwatch_times_the_stages() -> None:
    ticks = iter(range(10**6))
    found = cover(mountains(), request(), threads=1, stopwatch=lambda: float(next(ticks)))
    sectors = math.ceil(found.resolution.radial_count / 128)
    assert found.seconds == {"ground": sectors, "sweep": sectors, "pixels": 2 * sectors}


def test_the_default_puts_samples_closer_than_posts() -> None:
    found = raster.resolution(mountains().lattice, request(radius_km=40.0))
    assert found.spacing_km == pytest.approx(POST / 3.0 * 111.195)
    assert found.samples * found.spacing_km >= 40.0
    assert found.radial_count == pytest.approx(2.0 * math.pi * 40.0 / (POST / 3.0 * 111.195), abs=1)


@pytest.mark.parametrize(
    ("change", "quantity"),
    [
        ({"radius_km": 10_000.0}, "radius_km"),
        ({"radius_km": math.nan}, "radius_km"),
        ({"latitude_deg": 89.0}, "latitude_deg"),
        ({"longitude_deg": 200.0}, "longitude_deg"),
        ({"antenna_height_m": 0.0}, "tx_height_m"),
        ({"receiver_heights_m": (2.0, -1.0)}, "rx_height_m"),
        ({"frequency_mhz": 0.146}, "frequency_ghz"),
        ({"spacing_km": 90.0}, "spacing_km"),
        ({"radial_count": 2}, "radial_count"),
        ({"spacing_km": 0.001, "radius_km": 300.0}, "samples along a radial"),
        ({"time_percent": 0.1}, "time_percent"),
    ],
)
def test_it_refuses_what_cannot_be_computed(change: dict[str, Any], quantity: str) -> None:
    with pytest.raises(PropagationError) as refused:
        cover(mountains(), request(**change))
    assert refused.value.quantity == quantity


def test_a_layer_of_another_shape_is_refused() -> None:
    with pytest.raises(PropagationError, match="shape"):
        cover(mountains(), request(), clutter_m=np.zeros((3, 3), dtype=np.float32))


def test_the_relay_s_place_stays_out_of_the_text() -> None:
    asked = request()
    assert "36.5" not in repr(asked)
    assert "84.2" not in repr(asked)
