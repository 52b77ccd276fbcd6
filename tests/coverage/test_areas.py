"""Areas by verdict, several relays together, and what one adds: against counting by hand and against PROJ."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from relays.coverage import live
from relays.coverage.packed import row_areas_km2
from relays.models import CoverageRun, Relay
from relays.propagation.terrain import Lattice
from relays.reach import areas, summary
from relays.reach.areas import Verdicts, common_lattice, on_lattice
from relays.reach.thresholds import UNKNOWN

STEP = 1 / 1200
HERE = Lattice(36.0, -84.0, STEP, STEP, 3, 4)
# A pixel is a small trapezoid with straight sides: at 3 arc seconds the difference is in the seventh digit.
A_MILLIONTH = 1e-6


def verdicts(classes: list[list[int]], lattice: Lattice = HERE) -> Verdicts:
    found = np.array(classes, dtype=np.uint8)
    sure = np.where(found == UNKNOWN, np.nan, 0.9 - 0.2 * found).astype(np.float32)
    return Verdicts(lattice, found, sure)


@pytest.mark.parametrize("latitude", [-45.0, 0.0, 36.0, 70.0])
def test_a_pixel_is_as_large_as_the_ellipsoid_says(latitude: float) -> None:
    """PROJ's geodesic polygon area (Karney 2013) of one pixel on WGS 84, an independent library."""
    lattice = Lattice(latitude, 20.0, STEP, STEP, 2, 2)
    half = STEP / 2
    corners = [(20 - half, latitude - half), (20 + half, latitude - half), (20 + half, latitude + half)]
    corners.append((20 - half, latitude + half))
    area_m2, _ = Geod(ellps="WGS84").polygon_area_perimeter(*zip(*corners, strict=True))
    assert row_areas_km2(lattice)[0] == pytest.approx(abs(area_m2) / 1e6, rel=A_MILLIONTH)


def test_each_class_is_counted_with_its_chance() -> None:
    found = areas.areas(verdicts([[0, 0, 1, 3], [2, 2, 2, UNKNOWN], [3, 3, UNKNOWN, UNKNOWN]]))
    km2 = row_areas_km2(HERE)
    assert [row.area_km2 for row in found.rows] == pytest.approx(
        [2 * km2[0], km2[0], 3 * km2[1], km2[0] + 2 * km2[2]]
    )
    assert [row.probability for row in found.rows] == pytest.approx([0.9, 0.7, 0.5, 0.3])
    assert sum(row.share for row in found.rows) == pytest.approx(1.0)
    assert found.usable_km2 == pytest.approx(3 * km2[0])


def test_where_nothing_is_known_there_are_no_areas() -> None:
    found = areas.areas(verdicts([[UNKNOWN] * 4] * 3))
    assert (found.known_km2, found.usable_share, found.rows[0].probability) == (0.0, 0.0, None)


def test_together_is_the_best_of_each_place() -> None:
    one = verdicts([[0, 3, 3, UNKNOWN], [1, 2, 3, 3], [3, 3, 3, 3]])
    two = verdicts([[3, 0, 2, 1], [2, 1, 3, UNKNOWN], [UNKNOWN, 3, 3, 0]])
    both = areas.together([one, two])
    assert both.classes.tolist() == [[0, 0, 2, 1], [1, 1, 3, 3], [3, 3, 3, 0]]
    assert both.probability[0, 3] == pytest.approx(0.7)


def test_what_one_adds_is_usable_through_no_other() -> None:
    one = verdicts([[0, 1, 3, 3]] * 3)
    two = verdicts([[0, 3, 1, 2]] * 3)
    km2 = float(row_areas_km2(HERE).sum())
    assert areas.added_km2(one, [two]) == pytest.approx(km2)
    assert areas.added_km2(two, [one]) == pytest.approx(km2)
    assert areas.added_km2(one, [two, one]) == 0.0
    assert areas.added_km2(one, []) == pytest.approx(2 * km2)


def test_neighbouring_lattices_are_laid_on_one() -> None:
    east = Lattice(36.0 - STEP, -84.0 + 2 * STEP, STEP, STEP, 3, 4)
    both = areas.together([verdicts([[0] * 4] * 3), verdicts([[1] * 4] * 3, east)])
    assert (both.lattice.rows, both.lattice.columns) == (4, 6)
    assert both.classes.tolist() == [
        [0, 0, 0, 0, UNKNOWN, UNKNOWN],
        [0, 0, 0, 0, 1, 1],
        [0, 0, 0, 0, 1, 1],
        [UNKNOWN, UNKNOWN, 1, 1, 1, 1],
    ]


def test_lattices_meet_across_the_180_degree_meridian() -> None:
    west = Lattice(10.0, 180.0 - 2 * STEP, STEP, STEP, 2, 3)
    east = Lattice(10.0, -180.0, STEP, STEP, 2, 3)
    both = common_lattice([west, east])
    assert (both.rows, both.columns) == (2, 5)
    laid = on_lattice(verdicts([[0, 1, 2]] * 2, east), both)
    assert laid.classes[0].tolist() == [UNKNOWN, UNKNOWN, 0, 1, 2]


def test_a_coarser_lattice_is_read_at_its_nearest_post() -> None:
    coarse = Lattice(36.0, -84.0, 2 * STEP, 2 * STEP, 2, 2)
    laid = on_lattice(verdicts([[0, 1], [2, 3]], coarse), HERE)
    assert laid.classes[0, 0] == 0
    assert laid.classes[2, 2] == 3


def test_the_summary_is_the_same_sum(done_run: CoverageRun, hill_relay: Relay) -> None:
    found = summary.of([hill_relay], "handheld_in_hand")
    (row,) = found.rows
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    known = float(row_areas_km2(raster.lattice) @ np.isfinite(raster.loss_db).sum(axis=1))
    assert row.areas is not None
    assert row.areas.known_km2 == pytest.approx(known)
    assert found.together == row.areas
    assert row.alone_km2 == pytest.approx(row.areas.usable_km2)


def test_the_summary_sweeps_nothing(hill_relay: Relay, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "_swept", lambda _: pytest.fail("a page must not wait for this"))
    (row,) = summary.of([hill_relay], "mobile").rows
    assert (row.areas, row.run) == (None, None)


def test_a_relay_off_the_air_counts_for_itself_only(
    done_run: CoverageRun, hill_relay: Relay, other_relay: Relay
) -> None:
    from_the_other = summary.of([hill_relay, other_relay], "mobile")
    hill_relay.status = Relay.Status.OFF_AIR
    alone = summary.of([hill_relay], "mobile")
    assert alone.together is not None, "with nothing on the air all count"
    assert from_the_other.rows[1].areas is None
