"""A height while it is dragged: the valley fills in under the hand, and the caption says what is drawn."""

from __future__ import annotations

import time

import pytest

from tests.browser.test_map import PIXELS, USABLE_KM2, ready, wait_until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DRAWN_M = "() => clubMap.page.now.rasters[0].head.antenna_height_m"
# Each caption with where the slider stood at that moment.
KEEP_CAPTIONS = """() => {
    window.captions = [];
    const words = document.querySelector("#side-now [data-words]");
    new MutationObserver(() => captions.push([words.textContent, document.getElementById("id_antenna").value]))
        .observe(words, { childList: true });
}"""
MOVE_ANTENNA = """(height) => {
    const slider = document.getElementById("id_antenna");
    slider.value = height;
    slider.dispatchEvent(new Event("input"));
}"""


def test_the_valley_fills_in_while_one_drags(visit, drawn):
    """A slow hand: four or five seconds from the usual height to the end of the slider, the button held down."""

    @ready
    def drag(page):
        page.locator("#id_antenna").scroll_into_view_if_needed()
        box = page.locator("#id_antenna").bounding_box()
        share = page.evaluate(
            "(s => (s.value - s.min) / (s.max - s.min))(document.getElementById('id_antenna'))"
        )
        thumb, y = 16, box["y"] + box["height"] / 2
        start, end = box["x"] + thumb / 2 + share * (box["width"] - thumb), box["x"] + box["width"] - 4
        seen, captions = [], []
        page.mouse.move(start, y)
        page.mouse.down()
        for step in range(1, 46):
            page.mouse.move(start + (end - start) * step / 45, y)
            page.wait_for_timeout(100)
            seen.append(page.evaluate(PIXELS))
            captions.append(page.inner_text("#side-now figcaption"))
        drawn_m, usable_km2 = page.evaluate(DRAWN_M), page.evaluate(USABLE_KM2)
        page.mouse.up()
        return len(set(seen)), set(captions), drawn_m, usable_km2

    paints, captions, drawn_m, usable_km2 = visit("/map/?radio=handheld_indoors", drag)
    assert paints >= 5
    assert len(captions) >= 5
    assert drawn_m > 40
    assert usable_km2 > 0


def test_the_caption_says_the_height_that_is_drawn(visit, drawn):
    """The answer to the first wish comes while the slider stands elsewhere already."""

    @ready
    def overtake(page):
        page.evaluate(KEEP_CAPTIONS)
        for height in (35, 40):
            page.evaluate(MOVE_ANTENNA, height)
            page.wait_for_timeout(20)
        wait_until(page, f"() => ({DRAWN_M})() === 40")
        return page.evaluate("() => captions")

    captions = [
        (caption.replace("\N{NO-BREAK SPACE}", " "), slider) for caption, slider in visit("/map/", overtake)
    ]
    assert any("relay’s antenna 35 m" in caption and slider == "40" for caption, slider in captions)
    assert "relay’s antenna 40 m" in captions[-1][0]


def test_an_older_request_is_cancelled(visit, drawn):
    """Answers are held back, so that the second wish meets the first one still on its way."""

    @ready
    def hurry(page):
        aborted = []
        page.on("requestfailed", lambda request: aborted.append(request.url))
        page.route("**/loss?*antenna=*", lambda route: (time.sleep(0.6), route.continue_()))
        for height in (30, 40):
            page.evaluate(MOVE_ANTENNA, height)
            page.wait_for_timeout(400)
        wait_until(page, "() => clubMap.page.now.rasters[0].head.antenna_height_m === 40")
        return aborted

    aborted = visit("/map/", hurry)
    assert any("antenna=30" in address for address in aborted)
