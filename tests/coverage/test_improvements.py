"""What would help most: every change is checked against the path computed with that change made."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from django.test import Client
from pyproj import Geod

from clubops.members.locators import to_locator
from clubops.members.models import Station
from relays import paths
from relays.improvements import advice, changes, spots
from relays.improvements.changes import Improvement
from relays.models import CoverageRun, Relay
from relays.propagation.errors import PropagationError
from relays.reach.radios import Changes, changed, typical
from relays.terrain_store import current_ground
from tests.conftest import Cast, make_station

HOLLOW = {"latitude_deg": 35.9745, "longitude_deg": -83.9850}
# Roundings of a budget's lines to 0.01 dB.
THREE_HUNDREDTHS = 0.03


@pytest.fixture
def weak(hill_relay: Relay) -> Relay:
    """The relay with so little power and so deaf that the hollow hears nothing of it."""
    hill_relay.power_w, hill_relay.sensitivity_uv, hill_relay.antenna_gain_dbi = 0.4, 6.0, -8.0
    hill_relay.save()
    return hill_relay


def found(station: Station, relay: Relay) -> dict[str, Improvement]:
    path = paths.compute(station, relay)
    return {each.kind: each for each in advice.advise([(station, relay, path)])[0].improvements}


def test_stepping_outdoors_is_the_path_computed_outdoors(weak: Relay) -> None:
    indoors = typical("handheld_indoors", weak, **HOLLOW)
    outdoors = paths.compute(changed(indoors, Changes(place="outdoors")), weak).link
    step = found(indoors, weak)["outdoors"]
    assert step.link.margin_db == outdoors.margin_db
    assert step.gained_db == pytest.approx(outdoors.margin_db - paths.compute(indoors, weak).link.margin_db)
    assert step.gained_db > 10


def test_who_stands_outdoors_is_not_sent_out(weak: Relay) -> None:
    assert "outdoors" not in found(typical("handheld_in_hand", weak, **HOLLOW), weak)


def test_a_clearing_is_the_path_computed_in_the_open(weak: Relay) -> None:
    among_houses = typical("handheld_in_hand", weak, **HOLLOW)
    in_the_open = paths.compute(changed(among_houses, Changes(surroundings="open")), weak).link
    step = found(among_houses, weak)["clear"]
    assert step.link.margin_db == in_the_open.margin_db
    assert 5 < step.gained_db < 20


def test_who_stands_in_the_open_or_cannot_walk_is_not_sent_to_a_clearing(weak: Relay) -> None:
    outdoors = changed(typical("handheld_in_hand", weak, **HOLLOW), Changes(surroundings="open"))
    assert "clear" not in found(outdoors, weak)
    assert "clear" not in found(typical("home_vertical", weak, **HOLLOW), weak)


def test_the_height_found_is_the_lowest_that_closes(weak: Relay) -> None:
    weak.power_w, weak.sensitivity_uv = 12.0, 0.9
    station = typical("handheld_indoors", weak, **HOLLOW)
    for height_m in range(2, 16):
        raised = changed(station, Changes(height_m=float(height_m)))
        if paths.compute(raised, weak).link.verdict().usable:
            break
    mast = found(station, weak)["height"]
    if mast.closes:
        assert f"at {height_m} m above" in mast.words
    else:
        best = max(
            paths.compute(changed(station, Changes(height_m=float(height))), weak).link.margin_db
            for height in range(2, 16)
        )
        assert mast.link.margin_db == best
    assert mast.note == "looked up to 15 m"


def test_the_limit_of_the_search_is_kept(weak: Relay) -> None:
    station = typical("home_vertical", weak, **HOLLOW)
    station.antenna_height_m = changes.MOST_HEIGHT_M
    assert "height" not in found(station, weak)


def test_the_antenna_found_has_the_least_gain_that_closes(weak: Relay) -> None:
    station = typical("home_vertical", weak, **HOLLOW)
    station.power_w = 1.0
    path = paths.compute(station, weak)
    # A relay that hears just too little, whatever the ground.
    short_db = path.link.margin_db + 2.2
    weak.sensitivity_uv *= 10 ** (short_db / 20)
    weak.power_w *= 10 ** (30 / 10)
    antenna = found(station, weak)["antenna"]
    assert antenna.closes
    end = paths.compute(station, weak).link.inputs
    gain_dbi = float(antenna.words.split()[3])
    lesser = replace(end, station=replace(end.station, antenna_gain_dbi=gain_dbi - 0.5))
    assert not changes.links.evaluate(lesser).verdict().usable
    assert antenna.note == "looked up to 6 dBi"


def test_a_handheld_is_offered_a_whip_on_metal(weak: Relay) -> None:
    whip = found(typical("handheld_in_hand", weak, **HOLLOW), weak)["antenna"]
    assert whip.words.startswith("A quarter-wave whip on a metal surface")
    assert whip.gained_db == pytest.approx(5.7, abs=0.1), "docs/propagation.md, What a change buys"


def test_a_better_cable_saves_what_the_cable_loses(weak: Relay) -> None:
    station = typical("home_vertical", weak, **HOLLOW)
    line = found(station, weak)["feedline"]
    assert "instead of RG-213" in line.words
    assert 0.0 < line.gained_db < 2.0
    assert "feedline" not in found(typical("handheld_in_hand", weak, **HOLLOW), weak)


def test_power_buys_what_the_logarithm_says_and_only_one_way(weak: Relay) -> None:
    weak.power_w = 500.0  # only the way into the relay is short
    station = typical("handheld_in_hand", weak, **HOLLOW)
    before = paths.compute(station, weak).link
    power = found(station, weak)["power"]
    assert power.link.talk_in.margin_db - before.talk_in.margin_db <= 10.0 + THREE_HUNDREDTHS
    assert power.link.talk_out.margin_db == before.talk_out.margin_db
    assert "only" in power.note


def test_power_that_buys_nothing_is_shown_to_buy_nothing(weak: Relay) -> None:
    weak.sensitivity_uv, weak.power_w = 0.2, 0.01  # it hears well and is not heard
    power = found(typical("handheld_in_hand", weak, **HOLLOW), weak)["power"]
    assert power.gained_db == 0.0
    assert not power.closes


def test_the_nearest_spot_is_the_nearest_that_works(done_run: CoverageRun, weak: Relay) -> None:
    """Every post nearer than the spot, tried by its own path, fails, but for the few the raster gets wrong."""
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    weak.save()
    station = typical("handheld_in_hand", weak, **HOLLOW)
    assert not paths.compute(station, weak).link.verdict().usable
    spot = spots.nearest(station, weak)
    assert spot is not None
    assert spot.path.link.verdict().usable
    grid = current_ground().grid_around(HOLLOW["latitude_deg"], HOLLOW["longitude_deg"], spot.distance_km)
    geod, works = Geod(ellps="WGS84"), []
    for latitude in grid.lattice.latitude_deg:
        for longitude in grid.lattice.longitude_deg:
            away_m = geod.inv(HOLLOW["longitude_deg"], HOLLOW["latitude_deg"], longitude, latitude)[2]
            if away_m / 1000 < spot.distance_km - 1e-6:
                there = typical("handheld_in_hand", weak, latitude_deg=latitude, longitude_deg=longitude)
                works.append(paths.compute(there, weak).link.verdict().usable)
    assert np.mean(works) < 0.05


def test_the_way_to_the_spot_leads_there(done_run: CoverageRun, weak: Relay) -> None:
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    spot = spots.nearest(typical("handheld_in_hand", weak, **HOLLOW), weak)
    assert spot is not None
    last = spot.path.profile
    longitude, latitude, _ = Geod(ellps="WGS84").fwd(
        HOLLOW["longitude_deg"], HOLLOW["latitude_deg"], spot.bearing_deg, 1000 * spot.distance_km
    )
    assert (latitude, longitude) == pytest.approx((last.latitude_deg[0], last.longitude_deg[0]), abs=1e-6)
    assert "of here (on foot)" in spot.words


def test_a_house_is_not_carried_to_a_better_spot(weak: Relay) -> None:
    assert spots.nearest(typical("home_vertical", weak, **HOLLOW), weak) is None


def test_no_spot_within_reach_is_no_spot(weak: Relay) -> None:
    weak.power_w = 1e-9
    assert spots.nearest(typical("handheld_in_hand", weak, **HOLLOW), weak) is None


def test_another_relay_is_named_where_it_is_better(weak: Relay, other_relay: Relay) -> None:
    known = []
    for relay in (weak, other_relay):
        station = typical("handheld_in_hand", relay, **HOLLOW)
        known.append((station, relay, paths.compute(station, relay)))
    best, second = advice.advise(known)
    assert best.relay == other_relay
    other = next(each for each in second.improvements if each.kind == "relay")
    assert other.words == "Hollow 70 cm instead"
    assert other.link == known[1][2].link
    assert all(each.kind != "relay" for each in best.improvements)


def test_a_relay_off_the_air_is_no_way_out(weak: Relay, other_relay: Relay) -> None:
    other_relay.status = Relay.Status.OFF_AIR
    known = []
    for relay in (weak, other_relay):
        station = typical("handheld_in_hand", relay, **HOLLOW)
        known.append((station, relay, paths.compute(station, relay)))
    assert all(each.kind != "relay" for found in advice.advise(known) for each in found.improvements)


def test_what_closes_stands_first_and_the_least_effort_before_the_rest(weak: Relay) -> None:
    weak.power_w, weak.sensitivity_uv = 40.0, 0.5
    station = typical("handheld_indoors", weak, **HOLLOW)
    (found_for,) = advice.advise([(station, weak, paths.compute(station, weak))])
    ranks = [each.rank for each in found_for.improvements]
    assert ranks == sorted(ranks)
    assert found_for.best is None or found_for.best.closes


def test_the_path_page_says_what_would_help(client: Client, weak: Relay) -> None:
    place = {"place": "35.9745, -83.9850", "radio": "handheld_indoors"}
    page = client.post("/path/", place).content.decode()
    assert "What would help most" in page
    assert "Step outdoors" in page
    assert "All cautions" in page


def test_where_a_relay_is_usable_nothing_needs_help(client: Client, hill_relay: Relay) -> None:
    page = client.post("/path/", {"place": "35.9560, -83.9440", "radio": "mobile"}).content.decode()
    assert "What would help most" not in page


def test_a_place_without_any_answer_gets_no_advice(client: Client, hill_relay: Relay) -> None:
    page = client.post("/path/", {"place": "10.0, 10.0", "radio": "mobile"})
    assert page.status_code == 200
    with pytest.raises(PropagationError):
        paths.compute(typical("mobile", hill_relay, latitude_deg=10.0, longitude_deg=10.0), hill_relay)


def test_a_stored_raster_is_used_for_the_spot(done_run: CoverageRun, weak: Relay) -> None:
    assert Path(done_run.raster.path).exists()
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    assert spots.nearest(typical("handheld_in_hand", weak, **HOLLOW), weak, within_km=5.0) is not None


def test_a_relay_that_was_asked_about_gets_advice_though_another_is_usable(
    client: Client, weak: Relay, other_relay: Relay
) -> None:
    """The map asks about one relay; that another one hears the place is no answer to that."""
    weak.power_w, weak.sensitivity_uv = 1e-6, 90.0
    weak.save()
    place = {"place": "35.9560, -83.9440", "radio": "mobile"}
    assert "What would help most" not in client.post("/path/", place).content.decode()
    page = client.post("/path/", place | {"relay": weak.slug}).content.decode()
    assert "What would help most" in page
    assert page.count('<details class="why" open>') == 1
    assert "Hollow 70 cm instead" in page


def test_what_was_set_on_the_map_goes_on_with_the_place(client: Client, weak: Relay) -> None:
    place = {"place": "35.9745, -83.9850", "radio": "handheld_in_hand", "relay": weak.slug}
    changed_radio = {"building": "traditional", "power_w": "0.5", "surroundings": "town"}
    plain, moved = (
        client.post("/path/", place | more).content.decode().replace("\N{NO-BREAK SPACE}", " ")
        for more in ({}, changed_radio)
    )
    assert "As set on the map: power 0.5 W; indoors, traditional building; surroundings: in a town" in moved
    assert "Step outdoors" in moved
    assert "As set on the map" not in plain
    assert "Step outdoors" not in plain


def test_ones_own_radio_is_asked_about_at_another_place(
    as_reader: Callable[[str], Client], cast: Cast, weak: Relay
) -> None:
    station = make_station(cast.member, (35.9560, -83.9440))
    at_home = {"station": station.pk, "relay": weak.slug}
    asked = at_home | {"place": "35.9745, -83.9850", "moved": "on"}
    pages = [as_reader("member").post("/path/", data).content.decode() for data in (at_home, asked)]
    margins = [re.findall(r"[+−]\d+\.\d.dB", page)[:2] for page in pages]
    assert [len(each) for each in margins] == [2, 2]
    assert margins[0] != margins[1]


def test_a_spot_is_told_with_bearing_coordinates_and_locator(done_run: CoverageRun, weak: Relay) -> None:
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    station = typical("handheld_in_hand", weak, **HOLLOW)
    note = next(each.note for each in _advice_for(station, weak) if each.kind == "spot")
    found = re.fullmatch(r"bearing (\d+)°, at (\S+), (\S+), locator (\w{8})", note)
    assert found
    there = to_locator(float(found[2]), float(found[3]), 8)
    # Four decimals are eleven metres, which may fall over the edge of a square.
    assert there[:6] == found[4][:6]


def test_the_nearest_solid_spot_is_named_beside_the_nearest_usable_one(
    done_run: CoverageRun, weak: Relay
) -> None:
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    station = typical("handheld_in_hand", weak, **HOLLOW)
    near = spots.nearest(station, weak)
    sure = spots.nearest(station, weak, solid=True)
    assert near is not None
    assert sure is not None
    assert sure.distance_km >= near.distance_km
    assert sure.path.link.verdict().verdict_class.key == "solid"


def test_the_search_goes_no_farther_than_somebody_would(done_run: CoverageRun, weak: Relay) -> None:
    weak.power_w, weak.sensitivity_uv = 3.0, 1.6
    station = typical("handheld_in_hand", weak, **HOLLOW)
    spot = spots.nearest(station, weak)
    assert spot is not None
    short = advice.advise([(station, weak, paths.compute(station, weak))], within_km=0.9 * spot.distance_km)
    assert short[0].improvements
    assert all(each.kind != "spot" for each in short[0].improvements)


def _advice_for(station: Station, relay: Relay) -> tuple[Improvement, ...]:
    return advice.advise([(station, relay, paths.compute(station, relay))])[0].improvements
