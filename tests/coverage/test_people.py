"""People by verdict: counted by hand on a small map, and what one relay adds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.storage import default_storage
from django.test import Client

from relays.coverage import runs, working
from relays.models import CoverageRun, PopulationRaster, Relay
from relays.population import counting
from relays.population.store import import_population
from relays.population.words import of_the_map
from relays.propagation.terrain import Lattice
from relays.reach import summary
from relays.reach.areas import Verdicts
from relays.reach.people import added, reached
from relays.reach.thresholds import UNKNOWN
from tests.conftest import NOW
from tests.coverage.hills import NORTH, STEP, WEST
from tests.terrain.rasters import write_geotiff

HERE = Lattice(36.0, -84.0, STEP, STEP, 2, 3)
PEOPLE = np.array([[10, 20, 30], [40, 50, 60]], dtype=np.float32)


@pytest.fixture
def people(store: Path, tmp_path: Path) -> Callable[..., object]:
    """Import counts with their north-western corner where the hills have theirs."""

    def take(counts: Any, *, step: float = STEP) -> object:
        path = write_geotiff(
            tmp_path / "people.tif", np.asarray(counts, dtype=np.float64), west=WEST, north=NORTH, step=step
        )
        return import_population(path, given_as="count", now=NOW)

    return take


def verdicts(classes: list[list[int]], sure: list[list[float]]) -> Verdicts:
    return Verdicts(HERE, np.array(classes, dtype=np.uint8), np.array(sure, dtype=np.float32))


def test_people_are_counted_by_verdict_with_their_own_chance() -> None:
    """By hand: 10 at 90 % and 50 at 96 % solid, 20 at 60 % usable, 30 marginal, 40 not, 60 not known."""
    found = reached(verdicts([[0, 1, 2], [3, 0, UNKNOWN]], [[0.9, 0.6, 0.3], [0.1, 0.96, np.nan]]), PEOPLE)
    assert [row.people for row in found.rows] == [60.0, 20.0, 30.0, 40.0]
    assert found.rows[0].probability == pytest.approx((10 * 0.9 + 50 * 0.96) / 60)
    assert (found.usable, found.on_the_map) == (80.0, 150.0)
    assert found.to_count_on == pytest.approx(10 * 0.9 + 50 * 0.96 + 20 * 0.6)


def test_where_nobody_lives_there_is_no_chance_to_average() -> None:
    found = reached(verdicts([[0, 0, 3], [3, 3, 3]], [[0.9] * 3] * 2), np.zeros((2, 3), dtype=np.float32))
    assert (found.rows[0].probability, found.usable, found.to_count_on) == (None, 0.0, 0.0)


def test_what_one_adds_is_who_has_no_other() -> None:
    one = verdicts([[0, 1, 3], [3, 3, 3]], [[0.9] * 3] * 2)
    two = verdicts([[0, 3, 1], [3, 3, UNKNOWN]], [[0.9] * 3] * 2)
    assert added(one, [two], lambda lattice: PEOPLE).people == 20.0
    assert added(two, [one], lambda lattice: PEOPLE).people == 30.0
    assert added(one, [], lambda lattice: PEOPLE).people == 30.0


def test_without_a_raster_the_summary_says_what_to_do(done_run: CoverageRun, hill_relay: Relay) -> None:
    found = summary.of([hill_relay], "mobile")
    assert "no population raster has been imported" in found.uncounted
    assert "manage.py import_population" in found.uncounted
    assert (found.rows[0].reached, found.together_people) == (None, None)


def test_everybody_on_the_map_is_counted_once(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object]
) -> None:
    """One person in each pixel of the known ground: people are pixels."""
    people(np.ones((90, 120)))
    (row,) = summary.of([hill_relay], "mobile").rows
    assert row.reached is not None
    assert row.areas is not None
    pixels = [each.people for each in row.reached.rows]
    assert pixels == pytest.approx(np.rint(pixels), abs=1e-3)
    assert sum(pixels) == pytest.approx(row.reached.on_the_map, rel=1e-6)
    assert pixels[0] / row.reached.on_the_map == pytest.approx(row.areas.rows[0].share, rel=1e-3)
    assert row.alone_people == pytest.approx(row.reached.usable)


def test_coarse_cells_give_each_pixel_its_part(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object]
) -> None:
    """Cells of 30 x 30 pixels. A cell's outer rows differ from its mean by tan 36° x 0.0125°, 1.6 in 10,000."""
    people([[900, 0, 0, 0], [0, 1800, 0, 0], [0, 0, 0, 3600]], step=30 * STEP)
    on = counting.current().on(Lattice(NORTH - STEP / 2, WEST + STEP / 2, STEP, STEP, 90, 120))
    assert on[0, 0] == pytest.approx(1.0, rel=1.6e-4)
    assert on[45, 45] == pytest.approx(2.0, rel=1.6e-4)
    assert on[89, 119] == pytest.approx(4.0, rel=1.6e-4)
    assert on.sum(dtype=np.float64) == pytest.approx(6300.0, rel=1e-6)


def test_a_raster_over_half_the_map_says_so(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object]
) -> None:
    people(np.ones((90, 60)))
    assert "does not reach" in summary.of([hill_relay], "mobile").uncounted


def test_a_new_raster_counts_at_once(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object]
) -> None:
    assert summary.of([hill_relay], "mobile").together_people is None
    people(np.ones((90, 120)))
    assert summary.of([hill_relay], "mobile").together_people is not None
    PopulationRaster.objects.all().delete()
    assert summary.of([hill_relay], "mobile").together_people is None


def test_additions_go_both_ways(
    done_run: CoverageRun, hill_relay: Relay, other_relay: Relay, people: Callable[..., object]
) -> None:
    """What both give together is what one gives and what the other adds to it."""
    people(np.ones((90, 120)))
    working.compute(runs.ask(other_relay, now=NOW).pk, clock=lambda: NOW)
    found = summary.of([hill_relay, other_relay], "handheld_in_hand")
    adds = {(each.by, each.to): each.what.people for each in found.additions}
    assert set(adds) == {(hill_relay, other_relay), (other_relay, hill_relay)}
    assert found.together_people is not None
    for row in found.rows:
        other = next(each for each in (hill_relay, other_relay) if each != row.relay)
        assert row.reached is not None
        together = row.reached.usable + adds[other, row.relay]
        assert together == pytest.approx(found.together_people.usable, rel=1e-6)
        assert row.alone_people == pytest.approx(adds[row.relay, other])


def test_the_map_page_says_who_lives_there(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object], client: Client
) -> None:
    people(np.full((90, 120), 2.0))
    page = client.get("/map/?radio=mobile").content.decode()
    (row,) = summary.of([hill_relay], "mobile").rows
    assert row.reached is not None
    assert of_the_map(row.reached.usable, row.reached.on_the_map) in " ".join(page.split())
    assert "no population raster" not in page


def test_the_map_page_says_when_nobody_is_counted(
    done_run: CoverageRun, hill_relay: Relay, client: Client
) -> None:
    page = client.get("/map/").content.decode()
    assert "no population raster has been imported" in page
    assert "is usable for" not in page


def test_a_lost_raster_is_said_and_the_areas_stay(
    done_run: CoverageRun, hill_relay: Relay, people: Callable[..., object]
) -> None:
    people(np.ones((90, 120)))
    Path(default_storage.path(str(PopulationRaster.objects.get().file.name))).unlink()
    found = summary.of([hill_relay], "mobile")
    assert "import people.tif again" in found.uncounted
    assert found.rows[0].areas is not None
    assert found.rows[0].reached is None
