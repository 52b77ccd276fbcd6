"""Shaded relief: a worked example, exact planes, and what light must do."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from relays import terrain_store
from relays.propagation.relief import NO_GROUND, hillshade, post_spacing_m, shaded
from relays.propagation.terrain import Lattice
from relays.terrain_report import ImportReport
from tests.terrain.rasters import slope

ONE_SHADE = 1


def test_the_worked_example_of_a_published_description() -> None:
    """Esri, "How Hillshade works" (ArcGIS documentation, release 9.2), its example: 5 m cells, light
    from 315 degrees at 45 degrees above the horizon, middle cell 154. The nine heights are quoted from a
    library's test of the same example.
    """
    heights = np.array([[2450, 2461, 2483], [2452, 2461, 2483], [2447, 2455, 2477]], dtype=np.float32)
    assert hillshade(heights, 5.0, 5.0)[1, 1] == 154


@pytest.mark.parametrize("altitude", [20.0, 45.0, 70.0])
def test_level_ground_is_as_bright_as_the_sine_of_the_lights_altitude(altitude: float) -> None:
    shade = hillshade(np.full((4, 5), 300.0, np.float32), 90.0, 70.0, altitude_deg=altitude)
    assert np.all(shade == round(255 * np.sin(np.radians(altitude))))


@pytest.mark.parametrize("azimuth", [0.0, 90.0, 200.0, 315.0])
def test_a_plane_has_the_cosine_of_the_angle_to_the_light(azimuth: float) -> None:
    heights = slope(9, 9, south=30.0, east=-14.0)
    normal = np.array(
        [14.0 / 70.0, 30.0 / 90.0, 1.0]
    )  # east, north, up: it falls to the east, rises southward
    toward = np.radians(azimuth)
    light = np.array([np.sin(toward), np.cos(toward), 1.0]) / np.sqrt(2.0)
    expected = 255 * normal @ light / np.linalg.norm(normal)
    middle = int(hillshade(heights, 90.0, 70.0, azimuth_deg=azimuth)[4, 4])
    assert abs(middle - max(1.0, expected)) <= ONE_SHADE


def test_the_side_toward_the_light_is_the_brighter() -> None:
    row, column = np.mgrid[0:21, 0:31]
    hill = (400.0 * np.exp(-((row - 10) ** 2 + (column - 15) ** 2) / 40.0)).astype(np.float32)
    shade = hillshade(hill, 90.0, 90.0)
    assert shade[7, 12] > 200 > 100 > shade[13, 18]


def test_the_picture_turns_with_the_ground_and_the_light() -> None:
    rough = np.random.default_rng(4).normal(300, 20, (12, 17)).astype(np.float32)
    upright = hillshade(rough, 90.0, 70.0, azimuth_deg=300.0)
    turned = hillshade(np.ascontiguousarray(np.rot90(rough)), 70.0, 90.0, azimuth_deg=210.0)
    assert np.abs(np.rot90(upright).astype(int) - turned.astype(int)).max() <= ONE_SHADE


def test_a_void_is_marked_and_its_neighbours_are_still_shaded() -> None:
    heights = slope(9, 9)
    heights[4, 4] = np.nan
    shade = hillshade(heights, 90.0, 70.0)
    assert shade[4, 4] == NO_GROUND
    assert np.count_nonzero(shade == NO_GROUND) == 1


def test_a_void_elsewhere_changes_nothing_here() -> None:
    whole = np.random.default_rng(6).normal(300, 20, (200, 40)).astype(np.float32)
    holed = whole.copy()
    holed[70, 20] = np.nan
    changed = np.argwhere(hillshade(whole, 90.0, 70.0) != hillshade(holed, 90.0, 70.0))
    assert len(changed) > 0
    assert np.abs(changed - (70, 20)).max() <= 1


def test_shaded_ground_is_never_the_mark_of_a_void() -> None:
    cliff = slope(9, 9, south=-900.0, east=-900.0, base=9000.0)
    assert hillshade(cliff, 30.0, 30.0, azimuth_deg=315.0, altitude_deg=5.0).min() >= 1


@pytest.mark.parametrize("north", [70.0, 36.7, 0.5, -45.0])
def test_posts_are_as_far_apart_as_the_geodesic_between_them(north: float) -> None:
    lattice = Lattice(north, 10.0, 1 / 1200, 1 / 1200, 3, 3)
    down, across = post_spacing_m(lattice)
    latitude, longitude = lattice.latitude_deg, lattice.longitude_deg
    geod = Geod(ellps="WGS84")
    to_south = geod.inv(10.0, north + 1 / 2400, 10.0, north - 1 / 2400)[2]
    to_east = geod.inv(longitude[0], latitude[1], longitude[1], latitude[1])[2]
    assert down[0] == pytest.approx(to_south, abs=0.001)
    assert across[1] == pytest.approx(to_east, abs=0.001)


def test_the_demo_ground_makes_a_picture_of_its_own_size(demo_ground: ImportReport) -> None:
    grid = terrain_store.grid_around(36.6, -84.25, 500.0)
    picture = shaded(grid, exaggeration=1.5)
    assert picture.dtype == np.uint8
    assert picture.shape == grid.heights_m.shape
    assert picture.min() >= 1
    assert picture.std() > 20
