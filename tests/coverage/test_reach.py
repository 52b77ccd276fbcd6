"""Verdicts on a map agree with the budget, with the verdicts' own wording, and with paths computed alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from relays import paths
from relays.coverage import rasters
from relays.models import CoverageRun, Relay
from relays.propagation.verdicts import VERDICT_CLASSES, verdict
from relays.reach import budgets
from relays.reach.places import answer_at
from relays.reach.radios import RADIO_KEYS, Changes, typical
from relays.reach.thresholds import UNKNOWN, link_over, reach

# Lines of a budget are rounded to 0.01 dB before they are added; a handful of roundings.
FIVE_HUNDREDTHS = 0.05


@pytest.mark.parametrize("radio", RADIO_KEYS)
@pytest.mark.parametrize("which", ["hill_relay", "other_relay"])
def test_each_loss_gets_the_verdict_of_its_own_budget(
    radio: str, which: str, request: pytest.FixtureRequest
) -> None:
    relay = request.getfixturevalue(which)
    station = typical(radio, relay)
    its = reach(station, relay)
    losses = np.arange(100.03, 180, 1.7, dtype=np.float32)
    for loss_db, found, sure in zip(losses, its.classes(losses), its.probability(losses), strict=True):
        link = link_over(station, relay, Changes(), round(float(loss_db), 2))
        near = any(abs(loss_db - threshold) < FIVE_HUNDREDTHS for threshold in its.thresholds_db())
        assert near or VERDICT_CLASSES[found].key == link.verdict().verdict_class.key
        assert sure == pytest.approx(link.probability, abs=0.003)


def test_verdicts_of_losses_follow_the_wording(hill_relay: Relay) -> None:
    """By `verdicts.verdict` with the map's own minimum, at margins on both sides of every threshold."""
    its = reach(typical("mobile", hill_relay), hill_relay)
    for margin_db in np.arange(-12, 16, 0.31):
        loss_db = min(way.largest_loss_db for way in its.ways) - margin_db
        (found,) = its.classes(np.array([loss_db], dtype=np.float32))
        sure = float(its.probability(np.array([loss_db], dtype=np.float32))[0])
        assert VERDICT_CLASSES[found] == verdict(float(margin_db), sure).verdict_class


def test_what_is_not_known_has_no_verdict(hill_relay: Relay) -> None:
    its = reach(typical("mobile", hill_relay), hill_relay)
    nothing = np.array([np.nan], dtype=np.float32)
    assert its.classes(nothing)[0] == UNKNOWN
    assert np.isnan(its.probability(nothing)[0])


def test_the_raster_gives_what_paths_computed_alone_give(done_run: CoverageRun, hill_relay: Relay) -> None:
    """95 % within 1 dB, as docs/propagation.md measured it on real terrain."""
    raster = rasters.read(Path(done_run.raster.path), 1.5)
    random = np.random.default_rng(11)
    known = np.argwhere(~np.isnan(raster.loss_db))
    apart = []
    for row, column in random.choice(known, 60, replace=False):
        latitude, longitude = raster.lattice.latitude_deg[row], raster.lattice.longitude_deg[column]
        station = typical("handheld_in_hand", hill_relay, latitude_deg=latitude, longitude_deg=longitude)
        if abs(latitude - 35.953) + abs(longitude + 83.948) < 0.004:
            continue  # nearer than 0.25 km the Recommendation does not speak
        alone = paths.compute(station, hill_relay)
        margins = [
            way.largest_loss_db - raster.loss_db[row, column] for way in reach(station, hill_relay).ways
        ]
        apart += [margins[0] - alone.link.talk_in.margin_db, margins[1] - alone.link.talk_out.margin_db]
    assert len(apart) > 100
    assert np.quantile(np.abs(apart), 0.95) < 1.0
    assert abs(np.median(apart)) < 0.1


def test_a_change_of_antenna_and_line_is_the_same_on_the_map_and_at_a_place(hill_relay: Relay) -> None:
    changes = Changes(power_w=20, gain_db=4, line_db=-1, height_m=6, grade="clear")
    station = typical("home_vertical", hill_relay, latitude_deg=35.97, longitude_deg=-83.96)
    answer = answer_at(station, hill_relay, changes)
    assert answer.link is not None
    its = reach(station, hill_relay, changes)
    for way, link in zip(its.ways, (answer.link.talk_in, answer.link.talk_out), strict=True):
        assert way.largest_loss_db == pytest.approx(link.largest_path_loss_db, abs=FIVE_HUNDREDTHS)
        assert way.sigma_db == pytest.approx(link.sigma_db, abs=0.01)


def test_a_feedline_cannot_become_an_amplifier(hill_relay: Relay) -> None:
    station = typical("home_vertical", hill_relay)
    none, less_than_none = (reach(station, hill_relay, Changes(line_db=line)) for line in (-5, -50))
    assert none == less_than_none


def test_a_change_leaves_the_station_alone(hill_relay: Relay) -> None:
    station = typical("mobile", hill_relay)
    reach(station, hill_relay, Changes(power_w=1, height_m=9, place="traditional"))
    assert (station.power_w, station.antenna_height_m, station.building) == (50, 1.5, "outdoors")


def test_the_browser_gets_figures_that_compose_the_spread(hill_relay: Relay) -> None:
    for radio in RADIO_KEYS:
        station = typical(radio, hill_relay)
        sent, location = budgets.budget(station, hill_relay), budgets.location(hill_relay)
        fade = max(0.0, min(1.0, 1 - (station.antenna_height_m - location["clutter_m"]) / location["fade_m"]))
        link = link_over(station, hill_relay, Changes(place="outdoors", grade="readable"))
        composed = np.hypot(sent["in"]["steady_sigma_db"], location["full_db"] * fade)
        assert composed == pytest.approx(link.talk_in.sigma_db, abs=1e-3)
