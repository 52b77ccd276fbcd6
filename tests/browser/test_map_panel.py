"""Sliders that promise no more than there is, a key to all that is drawn, files of the radio that is shown."""

from __future__ import annotations

import pytest

from tests.browser.test_map import USABLE_KM2, ask, ready, slide, wait_until
from tests.conftest import make_station

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RADIOS_OF_FILES = """() => [...new Set([...document.querySelectorAll("#files a")]
    .map(link => new URL(link.href).searchParams.get("radio")).filter(Boolean))]"""


def words(page, selector):
    return page.inner_text(selector).replace("\N{NO-BREAK SPACE}", " ")


def test_a_radio_without_feedline_gains_nothing_from_a_better_one(visit, drawn):
    @ready
    def slide_down(page):
        before = page.evaluate(USABLE_KM2)
        slide(page, "line", ["Home"])
        return (
            before,
            page.evaluate(USABLE_KM2) - before,
            words(page, "output[for=id_line]"),
            words(page, "#side-now figcaption"),
        )

    before, gained, said, caption = visit("/map/?radio=handheld_in_hand", slide_down)
    assert before > 0
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
        ask(page)
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
        ask(page)
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
    # By hand: 50 W and 16 dB are 1991 W; a step further would be 2506.
    assert said.startswith("1991 W, +16 dB")


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


# Which pixels of a swatch of the key have its commonest colour: the shape of its hatching, whatever the ink.
SHAPE = """(word) => {
    const row = [...document.querySelectorAll("#key li")].find(row => row.querySelector("b")?.textContent === word);
    const canvas = row.querySelector("canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    const pixels = [...new Uint32Array(data.buffer)];
    const often = {};
    for (const each of pixels) often[each] = (often[each] || 0) + 1;
    const most = Number(Object.keys(often).sort((one, other) => often[other] - often[one])[0]);
    return pixels.map(each => each === most);
}"""


def test_the_key_explains_all_that_is_drawn_and_where_it_ends(visit, drawn):
    @ready
    def read(page):
        return page.inner_text("#key"), page.evaluate("() => clubMap.page.now.rasters[0].head.end_sentence")

    key, end = visit("/map/", read)
    for what in ("solid", "usable", "marginal", "not usable", "not known", "edge of the imported ground"):
        assert what in key
    assert "The imported ground ends" in end
    assert end in key


def test_a_gain_looks_like_no_verdict_and_both_are_explained(visit, drawn):
    @ready
    def compare(page):
        page.click("#keep")
        wait_until(page, "() => clubMap.page.kept() && clubMap.page.kept().verdicts")
        slide(page, "gain", ["Home"])
        page.check("#show-change")
        return page.inner_text("#key"), [
            page.evaluate(SHAPE, each) for each in ("gained", "usable", "solid", "lost")
        ]

    key, (gained, *verdicts, lost) = visit("/map/?radio=handheld_indoors", compare)
    assert "On the kept map beside it:" in key
    assert "marginal" in key
    assert all(apart(gained, verdict) > 0.1 for verdict in verdicts)
    assert apart(gained, lost) > 0.05


def apart(one, other):
    """The share of the pixels in which two shapes differ."""
    return sum(here != there for here, there in zip(one, other, strict=True)) / len(one)
