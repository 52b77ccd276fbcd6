"""Heights between posts: pixel is point, row 0 is north, nothing beyond the edge, nothing out of a void."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from rasterio.enums import Resampling
from rasterio.vrt import WarpedVRT

from relays.propagation.terrain import ElevationGrid, Lattice, compass_point
from tests.terrain.rasters import slope, write_geotiff

ONE_MILLIMETRE = 0.001


def grid(rows: int = 5, columns: int = 7, **where: float) -> ElevationGrid:
    lattice = Lattice(**({"north_deg": 50.0, "west_deg": 10.0} | where), latitude_step_deg=0.5,
                      longitude_step_deg=0.25, rows=rows, columns=columns)  # fmt: skip
    return ElevationGrid(lattice, slope(rows, columns))


def test_a_post_gives_its_own_height() -> None:
    ground = grid()
    latitude, longitude = np.meshgrid(
        ground.lattice.latitude_deg, ground.lattice.longitude_deg, indexing="ij"
    )
    assert np.array_equal(ground.at(latitude, longitude), ground.heights_m)


def test_row_0_is_north_and_column_0_is_west() -> None:
    assert grid().at(50.0, 10.0) == 300.0
    assert grid().at(48.0, 10.0) == 308.0
    assert grid().at(50.0, 11.5) == 306.0


@given(st.floats(48.0, 50.0), st.floats(10.0, 11.5))
def test_a_plane_is_reproduced_between_posts(latitude: float, longitude: float) -> None:
    expected = 300.0 + 2.0 * (50.0 - latitude) / 0.5 + (longitude - 10.0) / 0.25
    assert grid().at(latitude, longitude) == pytest.approx(expected, abs=ONE_MILLIMETRE)


@given(st.floats(48.0, 50.0), st.floats(10.0, 11.5))
def test_a_height_lies_between_the_four_around_it(latitude: float, longitude: float) -> None:
    rough = ElevationGrid(grid().lattice, np.random.default_rng(3).normal(0, 99, (5, 7)).astype(np.float32))
    row, column = int(min(3, (50.0 - latitude) / 0.5)), int(min(5, (longitude - 10.0) / 0.25))
    around = rough.heights_m[row : row + 2, column : column + 2]
    assert around.min() - 1e-6 <= rough.at(latitude, longitude) <= around.max() + 1e-6


def test_the_middle_of_four_posts_is_their_mean() -> None:
    heights = np.array([[0, 100], [200, 700]], dtype=np.float32)
    square = ElevationGrid(Lattice(50.0, 10.0, 1.0, 1.0, 2, 2), heights)
    assert square.at(49.5, 10.5) == 250.0


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(50.01, 11), (47.99, 11), (49, 9.99), (49, 11.51), (-49, 11)]
)
def test_beyond_the_outermost_posts_there_is_no_ground(latitude: float, longitude: float) -> None:
    assert np.isnan(grid().at(latitude, longitude))
    assert np.isnan(grid().nearest(latitude, longitude))


def test_a_void_spoils_what_leans_on_it_and_nothing_else() -> None:
    ground = grid()
    ground.heights_m[2, 3] = np.nan
    assert np.isnan(ground.at(49.0, 10.75))
    assert np.isnan(ground.at(48.9, 10.8))
    assert ground.at(49.5, 10.75) == 305.0
    assert ground.at(48.75, 11.0) == 309.0
    assert ground.covered_share == 34 / 35


def test_the_nearest_post_is_taken_whole() -> None:
    assert grid().nearest(49.8, 10.1) == 300.0
    assert grid().nearest(49.7, 10.2) == 303.0


@pytest.mark.parametrize("longitude", [180.05, -179.95])
def test_a_lattice_may_run_across_the_180_degree_meridian(longitude: float) -> None:
    ground = grid(west_deg=179.0)
    assert ground.at(49.0, longitude) == pytest.approx(304.0 + 1.05 / 0.25, abs=ONE_MILLIMETRE)


def test_a_thinned_part_keeps_its_posts_where_they_were() -> None:
    ground = grid(9, 9)
    part = ground.lattice.part(slice(2, 9, 3), slice(1, 8, 2))
    thin = ElevationGrid(part, ground.heights_m[2:9:3, 1:8:2])
    latitude, longitude = np.meshgrid(part.latitude_deg, part.longitude_deg, indexing="ij")
    assert np.array_equal(ground.at(latitude, longitude), thin.heights_m)


def test_sampling_agrees_with_another_library(tmp_path: Path) -> None:
    """The warper of GDAL, bilinear, asked for the same places as one shifted raster."""
    heights = np.random.default_rng(5).normal(300, 60, (40, 50)).astype(np.float32)
    path = write_geotiff(tmp_path / "a.tif", heights, west=10.0, north=50.0, step=0.01)
    ground = ElevationGrid(Lattice(49.995, 10.005, 0.01, 0.01, 40, 50), heights)
    shifted = Affine(0.01, 0.0, 10.0037, 0.0, -0.01, 49.9941)
    with (
        rasterio.open(path) as source,
        WarpedVRT(source, crs="EPSG:4326", transform=shifted, width=49, height=39,
                  resampling=Resampling.bilinear, tolerance=0.001) as warped,
    ):  # fmt: skip
        theirs = warped.read(1)
    latitude = 49.9941 - 0.01 * (np.arange(39) + 0.5)
    longitude = 10.0037 + 0.01 * (np.arange(49) + 0.5)
    ours = ground.at(*np.meshgrid(latitude, longitude, indexing="ij"))
    assert np.abs(ours - theirs).max() < ONE_MILLIMETRE


@pytest.mark.parametrize(
    ("bearing", "words"), [(0, "north"), (62, "east-north-east"), (359, "north"), (225, "south-west")]
)
def test_a_bearing_is_said_in_words(bearing: float, words: str) -> None:
    assert compass_point(bearing) == words
