"""People shared out by area: by hand, against counting small squares, and nobody lost."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from relays.population.apportion import apportioned, cell_km2, zone_km2
from relays.propagation.terrain import Lattice


def lattice(north_edge: float, west_edge: float, step: float, rows: int, columns: int) -> Lattice:
    """By its outer edges, as a raster is."""
    return Lattice(north_edge - step / 2, west_edge + step / 2, step, step, rows, columns)


# Two by two cells of a tenth of a degree on the equator, where zones of equal width are equally large.
CELLS = lattice(0.1, 20.0, 0.1, 2, 2)
PEOPLE = np.array([[100.0, 200.0], [300.0, 400.0]])


def test_the_same_cells_keep_their_people() -> None:
    assert apportioned(PEOPLE, CELLS, CELLS) == pytest.approx(PEOPLE)


def test_a_pixel_over_all_cells_has_everybody() -> None:
    whole = apportioned(PEOPLE, CELLS, lattice(0.15, 19.95, 0.3, 2, 2))
    assert whole == pytest.approx(np.array([[1000.0, 0.0], [0.0, 0.0]]))


def test_quarters_of_a_cell_hold_a_quarter_of_its_people() -> None:
    """By hand: a cell of 100 people in four equal parts; the equator halves nothing unevenly at this size."""
    quarters = apportioned(PEOPLE, CELLS, lattice(0.1, 20.0, 0.05, 4, 4))
    assert quarters[:2, :2] == pytest.approx(np.full((2, 2), 25.0), rel=1e-5)
    assert quarters[2:, 2:] == pytest.approx(np.full((2, 2), 100.0), rel=1e-5)


def test_a_pixel_across_four_cells_takes_of_each_by_area() -> None:
    """By hand: 3/4 x 3/4, 1/4 x 3/4, 3/4 x 1/4 and 1/4 x 1/4 of 100, 200, 300 and 400."""
    pixel = apportioned(PEOPLE, CELLS, lattice(0.075, 20.025, 0.1, 2, 2))[0, 0]
    assert pixel == pytest.approx((9 * 100 + 3 * 200 + 3 * 300 + 400) / 16, rel=1e-4)


def test_beyond_the_cells_nobody_lives() -> None:
    assert apportioned(PEOPLE, CELLS, lattice(10.0, 20.0, 0.1, 2, 2)).sum() == 0.0
    assert apportioned(PEOPLE, CELLS, lattice(0.1, 150.0, 0.1, 2, 2)).sum() == 0.0


def test_it_counts_across_the_180_degree_meridian() -> None:
    cells = lattice(0.1, 179.9, 0.1, 2, 2)
    found = apportioned(PEOPLE, cells, Lattice(0.05, -179.95, 0.1, 0.1, 2, 2))
    assert found[:, 0] == pytest.approx([200.0, 400.0])


def test_nearer_the_pole_half_the_degrees_are_less_than_half_the_people() -> None:
    """At 60 to 62 N the northern half is smaller: PROJ's geodesic areas, an independent library, say by how much."""
    cells, halves = lattice(64.0, 0.0, 2.0, 2, 2), lattice(64.0, 0.0, 1.0, 4, 4)
    found = apportioned(np.full((2, 2), 1000.0), cells, halves)
    upper, lower = (abs(_area_km2(south, south + 1.0)) for south in (61.0, 60.0))
    assert found[2, 0] / found[3, 0] == pytest.approx(upper / lower, rel=1e-4)


@pytest.mark.parametrize("south", [-71.0, -1.0, 0.0, 36.0, 60.0, 89.0])
def test_zones_are_as_large_as_the_ellipsoid_says(south: float) -> None:
    """Along parallels in hundredths of a degree, because PROJ's sides are geodesics."""
    sliver = float(np.diff(zone_km2([south, south + 1.0]))[0]) * np.radians(0.01)
    assert sliver == pytest.approx(_area_km2(south, south + 1.0, 0.01), rel=1e-6)


def test_the_zones_together_are_the_ellipsoid() -> None:
    """H. Moritz, Geodetic Reference System 1980, J. Geod. 74 (2000) 128-133, derived geometric constants.

    R2, the radius of the sphere of the same surface, is 6 371 007.1810 m: 4 pi R2^2 = 510 065 621.7 km². WGS 84
    differs in the eleventh digit.
    """
    assert 2 * np.pi * float(np.diff(zone_km2([-90.0, 90.0]))[0]) == pytest.approx(510_065_621.7, rel=1e-9)
    assert cell_km2(CELLS)[0] == pytest.approx(_area_km2(0.0, 0.1, 0.1), rel=1e-6)


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    cell_step=st.floats(0.0011, 0.09),
    pixel_step=st.floats(0.0011, 0.09),
    north=st.floats(-70.0, 78.0),
    west=st.floats(-180.0, 179.0),
    rows=st.integers(2, 25),
    columns=st.integers(2, 25),
)
def test_nobody_is_lost_and_nobody_added(
    seed: int, cell_step: float, pixel_step: float, north: float, west: float, rows: int, columns: int
) -> None:
    counts = np.random.default_rng(seed).gamma(0.3, 40.0, (rows, columns))
    cells = lattice(north, west, cell_step, rows, columns)
    many = [int(np.ceil(n * cell_step / pixel_step)) + 2 for n in (rows, columns)]
    target = lattice(north + 0.7 * pixel_step, west - 0.3 * pixel_step, pixel_step, *many)
    found = apportioned(counts, cells, target).astype(np.float64)
    assert found.sum() == pytest.approx(counts.sum(), rel=1e-6)
    assert found.min() >= 0.0


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    ratio=st.floats(0.3, 3.0),
    shift=st.floats(-1.0, 1.0),
    north=st.floats(-60.0, 60.0),
)
def test_it_agrees_with_counting_small_squares(seed: int, ratio: float, shift: float, north: float) -> None:
    """Every cell cut in 60 x 60 points, each with its share of the cell by the cosine of its latitude."""
    counts = np.random.default_rng(seed).uniform(0.0, 100.0, (4, 5))
    cells = lattice(north, 10.0, 0.01, 4, 5)
    target = lattice(north + shift * 0.01, 10.0 - shift * 0.004, 0.01 * ratio, 6, 7)
    found = apportioned(counts, cells, target)
    assert found == pytest.approx(_by_points(counts, cells, target, 60), abs=2.5 * ratio * 100.0 / 60)


def _by_points(counts: np.ndarray, cells: Lattice, target: Lattice, fine: int) -> np.ndarray:
    found = np.zeros((target.rows, target.columns))
    inside = (np.arange(fine) + 0.5) / fine - 0.5
    for row, column in np.ndindex(counts.shape):
        latitude = cells.north_deg - (row + inside) * cells.latitude_step_deg
        longitude = cells.west_deg + (column + inside) * cells.longitude_step_deg
        weight = np.cos(np.radians(latitude))
        share = np.repeat(counts[row, column] * weight / weight.sum() / fine, fine).reshape(fine, fine)
        down = np.rint((target.north_deg - latitude) / target.latitude_step_deg).astype(int)
        across = np.rint((longitude - target.west_deg) / target.longitude_step_deg).astype(int)
        rows, columns = (down >= 0) & (down < target.rows), (across >= 0) & (across < target.columns)
        np.add.at(found, np.ix_(down[rows], across[columns]), share[np.ix_(rows, columns)])
    return found


def _area_km2(south: float, north: float, wide: float = 1.0) -> float:
    """Of a cell between two parallels, its long sides followed in a hundred steps."""
    along = np.linspace(0.0, wide, 101)
    longitudes = [*along, *along[::-1]]
    latitudes = [*np.full(101, south), *np.full(101, north)]
    return abs(Geod(ellps="WGS84").polygon_area_perimeter(longitudes, latitudes)[0]) / 1e6
