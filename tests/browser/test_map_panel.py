"""Sliders that promise no more than there is, and files that hold the radio the page shows."""

from __future__ import annotations

import pytest

from relays.coverage import runs, working
from tests.browser.test_map import USABLE_KM2, ready, slide, wait_until
from tests.conftest import make_station

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RADIOS_OF_FILES = """() => [...new Set([...document.querySelectorAll("#files a")]
    .map(link => new URL(link.href).searchParams.get("radio")).filter(Boolean))]"""


@pytest.fixture
def drawn(relay, ground, now):
    return working.compute(runs.ask(relay, now=now).pk, clock=lambda: now)


def words(page, selector):
    return page.inner_text(selector).replace("\N{NO-BREAK SPACE}", " ")


def test_a_radio_without_feedline_gains_nothing_from_a_better_one(visit, drawn):
    @ready
    def slide_down(page):
        before = page.evaluate(USABLE_KM2)
        slide(page, "line", ["Home"])
        return (
            page.evaluate(USABLE_KM2) - before,
            words(page, "output[for=id_line]"),
            words(page, "#side-now figcaption"),
        )

    gained, said, caption = visit("/map/?radio=handheld_in_hand", slide_down)
    assert gained == 0
    assert said == "there is none"
    assert "feedline" not in caption


def test_a_better_feedline_gives_back_what_the_line_loses_and_no_more(visit, drawn):
    @ready
    def slide_down(page):
        slide(page, "line", ["Home"])
        loses = page.evaluate(
            "() => { const { club, now } = clubMap.page; return club.budgets[now.setup.relay].mobile.line_db; }"
        )
        page.fill("#id_place", "36.5702, -84.1101")
        page.click("#place-form button")
        page.wait_for_selector("#answer [data-margin-in]")
        return loses, words(page, "output[for=id_line]"), words(page, "#side-now figcaption")

    loses_db, said, caption = visit("/map/?radio=mobile", slide_down)
    assert 0 < loses_db < 6
    assert said == f"+{loses_db:.1f} dB both ways"
    assert f"feedline +{loses_db:.1f} dB" in caption


def test_the_power_slider_ends_where_the_answer_ends(visit, drawn):
    @ready
    def full_power(page):
        quiet = page.is_visible("#power-caution")
        slide(page, "power", ["End"])
        page.fill("#id_place", "36.5702, -84.1101")
        page.click("#place-form button")
        page.wait_for_selector("#answer [data-margin-in]")
        return (
            quiet,
            page.is_visible("#power-caution"),
            words(page, "#power-caution"),
            words(page, "output[for=id_power]"),
        )

    quiet, cautioned, caution, said = visit("/map/?radio=mobile", full_power)
    assert (quiet, cautioned) == (False, True)
    assert "RF exposure" in caution
    assert float(said.split(" W")[0]) <= 2000


def test_the_files_are_those_of_the_radio_shown(visit, drawn):
    @ready
    def choose(page):
        before = page.evaluate(RADIOS_OF_FILES)
        page.select_option("#id_radio", "mobile")
        return before, page.evaluate(RADIOS_OF_FILES), page.inner_text("#files caption")

    assert visit("/map/", choose) == (["handheld_in_hand"], ["mobile"], "For mobile.")


def test_the_files_say_that_they_are_not_for_ones_own_station(visit, drawn, as_reader, cast):
    home = make_station(cast.member)

    @ready
    def choose(page):
        page.select_option("#id_radio", f"station-{home.pk}")
        wait_until(page, "() => clubMap.page.now.rasters[0].head.receiver_height_m === 10")
        return page.evaluate(RADIOS_OF_FILES), page.inner_text("#files caption")

    radios, caption = visit("/map/?radio=mobile", choose, client=as_reader("member"))
    assert radios == ["mobile"]
    assert caption == "For a typical radio, mobile, not for your station."
