"""The answer for one place: what is read out, what stays open, where the mark stands."""

from __future__ import annotations

import pytest

from tests.browser.test_map import READY, ask, ready, slide, wait_until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Every change of the words inside anything that a screen reader reads out by itself.
LISTEN = """() => {
    window.said = [];
    for (const node of document.querySelectorAll("[role=status], [role=alert], [aria-live]")) {
        new MutationObserver(() => window.said.push(node.id + ": " + node.textContent))
            .observe(node, { childList: true, characterData: true, subtree: true });
    }
}"""
MARGIN_IN = "Number(document.querySelector('#answer [data-margin-in]').dataset.marginIn)"


def test_a_screen_reader_hears_one_sentence_once_the_hand_rests(visit, drawn):
    @ready
    def press(page):
        ask(page)
        page.wait_for_timeout(1500)
        page.evaluate(LISTEN)
        slide(page, "power", ["ArrowRight"] * 5)
        page.wait_for_timeout(2500)
        return page.evaluate("() => said"), page.inner_text("#reading [data-main]")

    said, main = visit("/map/", press)
    assert sum(line.startswith("reading-said: ") for line in said) == 1
    assert sum(line.startswith("answer-said: ") for line in said) <= 1
    assert len(said) <= 2
    assert main in said[0]


def test_what_was_opened_stays_open_and_keeps_the_focus(visit, drawn):
    @ready
    def open_and_slide(page):
        ask(page)
        page.click("#answer summary:has-text('How far to trust it')")
        before = page.evaluate(f"() => {MARGIN_IN}")
        page.evaluate(
            "() => { const power = document.getElementById('id_power'); power.value = 5;"
            " power.dispatchEvent(new Event('change')); }"
        )
        wait_until(page, f"() => {MARGIN_IN} !== {before}")
        return page.evaluate("() => document.activeElement.textContent"), page.locator(
            "#answer details[open] summary"
        ).all_inner_texts()

    assert visit("/map/", open_and_slide) == ("How far to trust it", ["How far to trust it"])


def test_the_drawing_is_said_in_words_below_it(visit, drawn):
    @ready
    def read(page):
        ask(page)
        page.click("#answer summary:has-text('The drawing in words')")
        return page.inner_text("#answer"), page.locator("#answer svg [aria-hidden=true] text").count()

    words, hidden = visit("/map/", read)
    assert "What reaches farthest into the way" in words
    assert hidden > 4


def click_the_map(page):
    page.locator("#side-now .map").scroll_into_view_if_needed()
    page.click("#side-now .map", position={"x": 320, "y": 150})
    page.wait_for_selector("#answer [data-margin-in]")
    return page.evaluate(AT)


AT = "() => clubMap.page.place.at"
MARKS = "() => document.querySelectorAll('.place-mark').length"


def test_a_locator_moves_the_mark_and_its_margins(visit, drawn):
    @ready
    def click_then_type(page):
        clicked, before = click_the_map(page), page.inner_text("#side-now [data-reading]")
        page.fill("#id_place", "EM76wm")
        page.click("#place-form button")
        wait_until(
            page, "() => document.querySelector('#answer').innerText.includes('A locator names a square')"
        )
        return (
            clicked,
            before,
            page.evaluate(AT),
            page.inner_text("#side-now [data-reading]"),
            page.evaluate(MARKS),
        )

    clicked, before, at, reading, marks = visit("/map/", click_then_type)
    assert at != clicked
    # The middle of EM76wm by arithmetic: 36 degrees + 12.5 of 24 parts; -86 + 22.5 of 24 parts of two.
    assert at["latitude"] == pytest.approx(36.52083, abs=1e-4)
    assert at["longitude"] == pytest.approx(-84.125, abs=1e-4)
    assert reading.startswith("At the place: ")
    assert reading != before
    assert marks == 1


def test_a_refused_place_leaves_no_mark_behind(visit, drawn):
    def click_then_type(page):
        wait_until(page, READY)
        click_the_map(page)
        page.fill("#id_place", "behind the barn")
        page.click("#place-form button")
        page.wait_for_selector("#answer .notice")
        return page.evaluate(AT), page.evaluate(MARKS), page.inner_text("#side-now [data-reading]")

    assert visit("/map/", click_then_type) == (None, 0, "")
