"""Several tiles as one ground: seams, overlaps, gaps, and the cache over them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st

from relays import terrain_store
from relays.models import TerrainTile
from relays.propagation.errors import PathLengthRangeError
from relays.propagation.mosaic import ElevationMosaic, common_lattice, lay, needed
from relays.propagation.terrain import ElevationGrid, Lattice, LeavesTerrain
from relays.terrain_report import ImportReport
from relays.terrain_store import TerrainLost
from tests.terrain.conftest import NOW
from tests.terrain.rasters import ONE_SECOND, THREE_SECONDS, slope, write_geotiff, write_hgt

ONE_MILLIMETRE = 0.001
FIVE_CENTIMETRES = 0.05
# Metres by which the plane of these tests falls over one degree.
SOUTHWARD, EASTWARD = 240.0, 480.0


def plane(latitude: Any, longitude: Any) -> Any:
    return 300.0 + SOUTHWARD * (37.0 - np.asarray(latitude)) + EASTWARD * (np.asarray(longitude) + 85.0)


def plane_tile(path: Path, west: float, north: float, rows: int, columns: int, step: float) -> Path:
    """A pixel-is-area tile of the plane; west and north are its outer edges."""
    latitude = north - (np.arange(rows) + 0.5) * step
    longitude = west + (np.arange(columns) + 0.5) * step
    heights = plane(latitude[:, None], longitude[None, :]).astype(np.float32)
    return write_geotiff(path, heights, west=west, north=north, step=step)


def hgt(folder: Path, name: str, *, west_posts: int) -> Path:
    """A tile of whole metres whose columns count on from a neighbour's."""
    return write_hgt(folder / name, slope(1201, 1201, south=1.0, east=2.0, base=300.0 + 2.0 * west_posts))


def height(latitude: float, longitude: float) -> float | None:
    return terrain_store.current_ground().height_at(latitude, longitude)


def test_the_seam_of_two_adjoining_tiles_is_ordinary_ground(take: Any, tmp_path: Path) -> None:
    take(plane_tile(tmp_path / "a.tif", -85.0, 37.0, 60, 60, THREE_SECONDS))
    take(plane_tile(tmp_path / "b.tif", -84.95, 37.0, 60, 60, THREE_SECONDS))
    profile = terrain_store.profile_between(36.98, -84.99, 36.96, -84.91, spacing_m=20.0)
    expected = plane(profile.latitude_deg, profile.longitude_deg)
    assert np.abs(profile.ground_m - expected).max() < ONE_MILLIMETRE


def test_tiles_that_share_their_edge_posts_join(take: Any, tmp_path: Path) -> None:
    take(hgt(tmp_path, "N36W085.hgt", west_posts=0))
    take(hgt(tmp_path, "N36W084.hgt", west_posts=1200))
    heights = terrain_store.current_ground().heights
    assert heights is not None
    assert (heights.lattice.rows, heights.lattice.columns) == (1201, 2401)
    profile = terrain_store.profile_between(36.51, -84.01, 36.49, -83.99, spacing_m=20.0)
    expected = 300.0 + 1200.0 * (37.0 - profile.latitude_deg) + 2400.0 * (profile.longitude_deg + 85.0)
    assert np.abs(profile.ground_m - expected).max() < ONE_MILLIMETRE


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_tiles_of_unlike_step_meet_without_a_gap(take: Any, tmp_path: Path, order: tuple[int, int]) -> None:
    tiles = [
        plane_tile(tmp_path / "a.tif", -85.0, 37.0, 60, 60, THREE_SECONDS),
        plane_tile(tmp_path / "b.tif", -84.95, 37.0, 180, 180, ONE_SECOND),
    ]
    for at in order:
        take(tiles[at])
    profile = terrain_store.profile_between(36.98, -84.99, 36.96, -84.91, spacing_m=20.0)
    off = np.abs(profile.ground_m - plane(profile.latitude_deg, profile.longitude_deg))
    seam = np.abs(profile.longitude_deg + 84.95) < THREE_SECONDS
    # Along the seam the ground may be carried on flat for half a post of the coarser tile.
    assert off[seam].max() < THREE_SECONDS / 2 * (EASTWARD + SOUTHWARD)
    assert off[~seam].max() < ONE_MILLIMETRE


def test_pieces_of_a_map_grid_join_askew_seams_and_all(take: Any, tmp_path: Path) -> None:
    to_grid = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32617", always_xy=True)
    x, y = to_grid.transform(-84.8, 36.9)
    for name, columns in (("a.tif", (0, 200)), ("b.tif", (200, 400))):
        heights = slope(200, 400, south=0.3, east=0.2)[:, slice(*columns)]
        placed = Affine(30, 0, x + 30 * columns[0], 0, -30, y)
        take(write_geotiff(tmp_path / name, heights, crs="EPSG:32617", transform=placed))
    profile = terrain_store.profile_between(36.88, -84.78, 36.87, -84.69, spacing_m=10.0)
    xs, ys = to_grid.transform(profile.longitude_deg, profile.latitude_deg)
    expected = 300.0 + 0.3 * ((y - ys) / 30 - 0.5) + 0.2 * ((xs - x) / 30 - 0.5)
    off = np.abs(profile.ground_m - expected)
    # At the slanting seam a height may stand for a place up to one post aside, 0.5 m on this slope.
    assert off.max() < 0.5
    assert np.median(off) < FIVE_CENTIMETRES


def test_the_finer_tile_counts_where_two_overlap(take: Any, tmp_path: Path) -> None:
    take(write_geotiff(tmp_path / "fine.tif", np.full((90, 90), 500.0, np.float32), step=ONE_SECOND))
    take(
        write_geotiff(tmp_path / "coarse.tif", np.full((60, 60), 300.0, np.float32), step=THREE_SECONDS),
        now=NOW + timedelta(hours=1),
    )
    assert height(35.99, -83.99) == 500.0
    assert height(35.96, -83.96) == 300.0


@pytest.mark.parametrize(("hours", "expected"), [((0, 1), 400.0), ((1, 0), 300.0)])
def test_of_equally_fine_tiles_the_one_imported_last_counts(
    take: Any, tmp_path: Path, hours: tuple[int, int], expected: float
) -> None:
    for hour, tall in zip(hours, (300.0, 400.0), strict=True):
        path = write_geotiff(tmp_path / f"{tall}.tif", np.full((60, 60), tall, np.float32))
        take(path, now=NOW + timedelta(hours=hour))
    assert height(35.97, -83.97) == expected


def test_a_hole_in_the_finer_tile_shows_the_coarser_one(take: Any, tmp_path: Path) -> None:
    fine = np.full((300, 300), 500.0, np.float32)
    fine[50:250, 50:250] = np.nan
    take(write_geotiff(tmp_path / "fine.tif", fine, step=ONE_SECOND))
    take(write_geotiff(tmp_path / "coarse.tif", np.full((120, 120), 300.0, np.float32)))
    assert height(36.0 - 150 * ONE_SECOND, -84.0 + 150 * ONE_SECOND) == 300.0
    assert height(36.0 - 20 * ONE_SECOND, -84.0 + 20 * ONE_SECOND) == 500.0


def test_whole_ground_is_taken_before_ground_with_a_corner_missing() -> None:
    target = Lattice(50.0, 10.0, 0.01, 0.01, 4, 4)
    torn = np.full((6, 6), 500.0, dtype=np.float32)
    torn[3, 3] = np.nan
    preferred = ElevationGrid(Lattice(50.005, 9.995, 0.01, 0.01, 6, 6), torn)
    whole = ElevationGrid(Lattice(50.013, 9.987, 0.01, 0.01, 8, 8), np.full((8, 8), 300.0, np.float32))
    heights = lay(target, [preferred, whole])
    assert np.all(heights[2:, 2:] == 300.0)
    assert np.all(heights[:2, :] == 500.0)
    assert np.all(lay(target, [preferred]) == 500.0)


def test_a_path_crosses_the_180_degree_meridian(take: Any, tmp_path: Path) -> None:
    take(hgt(tmp_path, "S17E179.hgt", west_posts=0))
    take(hgt(tmp_path, "S17W180.hgt", west_posts=1200))
    profile = terrain_store.profile_between(-16.5, 179.9, -16.4, -179.9)
    assert profile.length_km < 30.0
    east = (profile.longitude_deg - 179.0) % 360.0
    expected = 300.0 + 1200.0 * (-16.0 - profile.latitude_deg) + 2400.0 * east
    assert np.abs(profile.ground_m - expected).max() < ONE_MILLIMETRE
    grid = terrain_store.grid_around(-16.5, 179.99, 20.0)
    assert grid.covered_share == 1.0
    assert grid.lattice.east_deg > 180.0


def test_between_tiles_apart_there_is_no_ground(take: Any, tmp_path: Path) -> None:
    take(plane_tile(tmp_path / "a.tif", -85.0, 37.0, 60, 60, THREE_SECONDS))
    take(plane_tile(tmp_path / "b.tif", -84.9, 37.0, 60, 60, THREE_SECONDS))
    assert height(36.98, -84.92) is None
    with pytest.raises(LeavesTerrain) as left:
        terrain_store.profile_between(36.98, -84.99, 36.98, -84.87, relay_end="first")
    assert left.value.longitude_deg == pytest.approx(-84.95, abs=THREE_SECONDS)


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 40), st.integers(1, 5), st.randoms(use_true_random=False))
def test_neither_the_size_of_blocks_nor_how_many_are_kept_matters(posts: int, kept: int, chance: Any) -> None:
    lattice = Lattice(50.0, 10.0, 0.01, 0.02, 61, 47)
    whole = ElevationGrid(lattice, np.random.default_rng(1).normal(300, 60, (61, 47)).astype(np.float32))

    def read(target: Lattice) -> list[ElevationGrid]:
        window = needed(target, lattice)
        return [] if window is None else [ElevationGrid(lattice.part(*window), whole.heights_m[window])]

    mosaic = ElevationMosaic(common_lattice([lattice]), read, block_posts=posts, blocks_kept=kept)
    latitude = np.array([chance.uniform(49.4, 50.0) for _ in range(50)])
    longitude = np.array([chance.uniform(10.0, 10.92) for _ in range(50)])
    assert np.allclose(mosaic.at(latitude, longitude), whole.at(latitude, longitude), atol=1e-6)
    rows, columns = slice(3, 60, chance.randint(1, 4)), slice(0, 47, chance.randint(1, 4))
    assert np.array_equal(mosaic.window(rows, columns).heights_m, whole.heights_m[rows, columns])


def test_many_threads_see_the_same_ground(take: Any, tmp_path: Path) -> None:
    heights = np.random.default_rng(2).normal(300, 60, (1400, 1400)).astype(np.float32)
    take(write_geotiff(tmp_path / "a.tif", heights))
    ground = terrain_store.current_ground()
    ends = [(35.95 - 0.01 * i, -83.95, 34.9 + 0.01 * i, -82.9) for i in range(16)]

    def walk(end: tuple[float, float, float, float]) -> Any:
        return ground.profile_between(*end, spacing_m=90.0).ground_m

    with ThreadPoolExecutor(8) as pool:
        together = list(pool.map(walk, ends))
    for end, found in zip(ends, together, strict=True):
        assert np.array_equal(found, walk(end))


def test_ground_once_read_is_not_read_again(demo_ground: ImportReport, store: Path) -> None:
    before = terrain_store.profile_between(36.5, -84.3, 36.6, -84.2)
    Path(demo_ground.tile.file.path).unlink()
    after = terrain_store.profile_between(36.5, -84.3, 36.6, -84.2)
    assert np.array_equal(before.ground_m, after.ground_m)


def test_a_lost_file_is_named(demo_ground: ImportReport) -> None:
    Path(demo_ground.tile.file.path).unlink()
    with pytest.raises(TerrainLost, match=r"demo-ground\.tif cannot be read; import demo-ground\.tif again"):
        terrain_store.profile_between(36.5, -84.3, 36.6, -84.2)


def test_the_version_changes_with_every_tile_and_only_then(take: Any, tmp_path: Path) -> None:
    versions = [terrain_store.terrain_version()]
    take(write_geotiff(tmp_path / "a.tif", slope(20, 30)))
    versions.append(terrain_store.terrain_version())
    take(write_geotiff(tmp_path / "b.tif", slope(20, 30), west=-83.0), kind="ground")
    versions.append(terrain_store.terrain_version())
    take(write_geotiff(tmp_path / "c.tif", slope(20, 30, base=0.0)), kind="cover")
    versions.append(terrain_store.terrain_version())
    TerrainTile.objects.filter(name="b.tif").delete()
    versions.append(terrain_store.terrain_version())
    assert len(set(versions)) == 5
    assert terrain_store.terrain_version() == versions[-1] == terrain_store.current_ground().version


def test_a_grid_holds_the_whole_circle_and_stops_at_the_edge(demo_ground: ImportReport) -> None:
    grid = terrain_store.grid_around(36.6, -84.25, 5.0)
    geod = pyproj.Geod(ellps="WGS84")
    for bearing in range(0, 360, 5):
        longitude, latitude, _ = geod.fwd(-84.25, 36.6, bearing, 5000.0)
        assert not np.isnan(grid.at(latitude, longitude))
    assert grid.lattice.rows < 150
    whole = terrain_store.grid_around(36.6, -84.25, 500.0)
    assert whole.heights_m.shape == (344, 403)
    assert whole.covered_share == 1.0


def test_a_grid_too_big_is_thinned_not_smoothed(demo_ground: ImportReport) -> None:
    whole = terrain_store.grid_around(36.6, -84.25, 500.0)
    thin = terrain_store.grid_around(36.6, -84.25, 500.0, most_posts=20_000)
    assert thin.heights_m.size <= 20_000
    assert thin.lattice.latitude_step_deg == pytest.approx(3 * THREE_SECONDS)
    assert np.array_equal(thin.heights_m, whole.heights_m[::3, ::3])


def test_a_grid_needs_a_centre_on_the_ground_and_a_sane_radius(demo_ground: ImportReport) -> None:
    with pytest.raises(LeavesTerrain, match="The relay itself"):
        terrain_store.grid_around(40.0, -84.25, 5.0)
    for radius_km in (0.0, -1.0, 3000.1, float("nan")):
        with pytest.raises(PathLengthRangeError):
            terrain_store.grid_around(36.6, -84.25, radius_km)
