"""The map script sums as the server does: over a grid of sliders, and against paths computed at pixels."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest

from relays import demo_population, paths
from relays.coverage import live, runs, working
from relays.models import Relay, Site
from relays.population.words import of_the_map
from relays.reach import summary
from relays.reach.radios import RADIO_KEYS, Changes, typical
from relays.reach.thresholds import reach
from tests.browser.test_map import READY, wait_until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The server rounds each line of a budget to 0.01 dB before it adds them, the script adds first.
FIVE_HUNDREDTHS = 0.05
# Half a step of what is sent when nothing moves, and the rounding of the stored file.
SENT_DB = 0.06

REACH = """([slug, setup]) => {
    const { club } = clubMap.page;
    const its = club.reach(club.relayBySlug.get(slug), setup);
    return { in: its.in, out: its.out, thresholds: its.thresholds(club.verdicts), probability: its.probability(133) };
}"""
SLIDERS = [
    Changes(),
    Changes(power_w=0.5),
    Changes(power_w=100.0, gain_db=3.0),
    Changes(gain_db=-6.0, grade="moving"),
    Changes(gain_db=12.0, line_db=6.0, grade="readable"),
    Changes(line_db=-6.0, place="traditional"),
    Changes(line_db=2.5, place="thermally_efficient", height_m=4.0, grade="clear"),
    Changes(place="outdoors", height_m=1.0),
    Changes(surroundings="open"),
    Changes(surroundings="wooded", height_m=9.5),
    Changes(surroundings="dense_town", place="traditional", power_w=20.0),
    Changes(height_m=20.0, power_w=7.0, gain_db=1.5, line_db=-0.5, place="traditional"),
]


def setup_of(radio, station, relay, changes):
    """The same wishes as the script keeps them."""
    return {
        "relay": relay.slug,
        "radio": radio,
        "antennaM": relay.antenna_height_m,
        "heightM": changes.height_m or station.antenna_height_m,
        "powerW": changes.power_w or station.power_w,
        "gainDb": changes.gain_db,
        "lineDb": changes.line_db,
        "building": changes.place or station.building,
        "surroundings": changes.surroundings or station.surroundings,
        "grade": changes.grade,
        "ways": "both",
    }


def test_the_script_and_the_server_do_the_same_sums(visit, drawn, relay):
    wishes = list(itertools.product(RADIO_KEYS, SLIDERS))
    stations = {radio: typical(radio, relay) for radio in RADIO_KEYS}

    def sums(page):
        wait_until(page, READY)
        return [
            page.evaluate(REACH, [relay.slug, setup_of(radio, stations[radio], relay, changes)])
            for radio, changes in wishes
        ]

    for (radio, changes), found in zip(wishes, visit("/map/", sums), strict=True):
        its = reach(stations[radio], relay, changes)
        for way in ("in", "out"):
            ours = getattr(its, f"talk_{way}")
            assert found[way]["largestDb"] == pytest.approx(ours.largest_loss_db, abs=FIVE_HUNDREDTHS)
            assert found[way]["sigmaDb"] == pytest.approx(ours.sigma_db, abs=0.002)
        assert found["thresholds"] == pytest.approx(its.thresholds_db(), abs=FIVE_HUNDREDTHS)
        sure = float(its.probability(np.array([133.0], dtype=np.float32))[0])
        assert found["probability"] == pytest.approx(sure, abs=0.004)


@pytest.mark.parametrize("radio", ["handheld_in_hand", "handheld_indoors"])
def test_the_margins_on_the_map_are_those_of_paths_computed_alone(radio, visit, drawn, relay):
    """At pixels all over the ground: 95 % within 1 dB, as measured for the raster in docs/propagation.md."""
    building = typical(radio, relay).building
    raster = live.loss(live.question(relay, receiver_height_m=1.5, building=building))
    random = np.random.default_rng(7)
    pixels = random.choice(np.argwhere(~np.isnan(raster.loss_db)), 250, replace=False)
    places = [
        (float(raster.lattice.latitude_deg[row]), float(raster.lattice.longitude_deg[column]))
        for row, column in pixels
    ]

    def read(page):
        wait_until(page, READY)
        asked = "(places) => places.map((place) => clubMap.page.now.marginsAt(...place))"
        return page.evaluate(asked, [list(place) for place in places])

    apart = []
    for (row, column), place, found in zip(pixels, places, visit(f"/map/?radio={radio}", read), strict=True):
        assert found["lossDb"] == pytest.approx(float(raster.loss_db[row, column]), abs=SENT_DB)
        station = typical(radio, relay, latitude_deg=place[0], longitude_deg=place[1])
        link = paths.compute(station, relay).link
        apart += [found["in"] - link.talk_in.margin_db, found["out"] - link.talk_out.margin_db]
    assert np.quantile(np.abs(apart), 0.95) < 1.0
    assert abs(np.mean(apart)) < 0.3


def test_areas_by_verdict_are_the_servers(visit, drawn):
    """The table that the server wrote against what the script puts in its place.

    The script counts on loss to 0.1 dB, the server to 0.01 dB: pixels near a threshold change sides, 1 %.
    """

    def figures(page):
        row = page.inner_text("#numbers tbody tr").replace("\N{NO-BREAK SPACE}", "")
        return [float(each) for each in re.findall(r"([\d.]+)km²", row)]

    def read(page):
        before = figures(page)
        wait_until(page, READY)
        page.wait_for_timeout(1500)
        return before, figures(page)

    before, after = visit("/map/?radio=handheld_indoors", read)
    assert len(before) == 5
    assert after == pytest.approx(before, rel=0.01, abs=1.0)


def test_the_chance_of_all_together_is_the_servers(visit, drawn, relay, now):
    """Of the best relay at every place, averaged over each verdict's area; to a point of a hundred."""
    site = Site.objects.create(name="Far", slug="far", latitude_deg=36.5702, longitude_deg=-84.1101)
    other = Relay.objects.create(
        site=site,
        name="Far 70 cm",
        slug="far-70cm",
        call_sign="QZ2FAR",
        output_mhz="444.325",
        input_mhz="449.325",
        antenna_height_m=25,
    )
    working.compute(runs.ask(other, now=now).pk, clock=lambda: now)

    def sure(page):
        row = page.inner_text("#numbers tfoot").replace("\N{NO-BREAK SPACE}", " ")
        return [int(each) for each in re.findall(r"; (?:over |less than )?(\d+) % sure", row)]

    def read(page):
        before = sure(page)
        wait_until(page, READY)
        page.wait_for_timeout(3000)
        return before, sure(page), page.inner_text("#numbers tfoot")

    before, after, row = visit("/map/?radio=handheld_indoors", read)
    assert len(before) >= 3
    assert after == pytest.approx(before, abs=1), row


def test_locators_on_the_map_are_the_clubs(visit, drawn):
    from_script = "([place]) => clubMap.locatorOf(...place, 6)"
    places = {(48.14666, 11.60833): "JN58td", (-34.91, -56.21166): "GF15vc", (38.92, -77.065): "FM18lw"}

    def read(page):
        wait_until(page, READY)
        return [page.evaluate(from_script, [list(place)]) for place in places]

    # Published examples of the Maidenhead system: Munich, Montevideo, Washington (as in tests/members).
    assert visit("/map/", read) == list(places.values())


def test_who_lives_there_follows_the_radio(visit, drawn, relay, now):
    """The server counts, for every radio that is chosen; the page need not be asked for again."""
    demo_population.import_demo_population(now=now)

    def choose(page):
        wait_until(page, READY)
        page.select_option("#id_radio", "mobile")
        wait_until(page, "() => document.querySelector('#people caption').textContent.includes('mobile')")
        return " ".join(page.inner_text("#people-box").split())

    said = visit("/map/?radio=handheld_indoors", choose)
    (row,) = summary.of([relay], "mobile").rows
    assert f"{relay.name} is usable for {of_the_map(row.reached.usable, row.reached.on_the_map)}" in said
