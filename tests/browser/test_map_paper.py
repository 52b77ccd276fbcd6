"""The map on paper: as large as its box there, with what was in sight on the screen, and put back afterwards."""

from __future__ import annotations

import pytest

from tests.browser.test_map import ready

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# By how much the map is larger than the box that it is in, px.
TOO_LARGE_PX = """() => {
    const { map } = clubMap.page.now;
    const box = map.getContainer();
    return [map.getSize().x - box.clientWidth, map.getSize().y - box.clientHeight];
}"""
VIEW = """() => {
    const { map } = clubMap.page.now;
    return [map.getCenter().lat, map.getCenter().lng, map.getZoom()];
}"""
EDGES = """() => {
    const bounds = clubMap.page.now.map.getBounds();
    return [bounds.getSouth(), bounds.getWest(), bounds.getNorth(), bounds.getEast()];
}"""


def turn_to(page, medium):
    page.emulate_media(media=medium)
    page.wait_for_timeout(300)
    return page.evaluate(TOO_LARGE_PX)


def test_paper_holds_what_was_in_sight(visit, drawn):
    @ready
    def print_it(page):
        page.evaluate("() => clubMap.page.now.map.setZoom(12, { animate: false })")
        seen = page.evaluate(EDGES)
        return seen, turn_to(page, "print"), page.evaluate(EDGES)

    seen, too_large, printed = visit("/map/", print_it)
    assert too_large == [0, 0]
    least = 0.001
    assert printed[0] < seen[0] + least
    assert printed[1] < seen[1] + least
    assert printed[2] > seen[2] - least
    assert printed[3] > seen[3] - least


def test_the_screen_is_put_back_after_printing(visit, drawn):
    @ready
    def print_it(page):
        page.evaluate("() => clubMap.page.now.map.setZoom(12, { animate: false })")
        before = page.evaluate(VIEW)
        turn_to(page, "print")
        return before, turn_to(page, "screen"), page.evaluate(VIEW)

    before, too_large, after = visit("/map/", print_it)
    assert too_large == [0, 0]
    assert after == pytest.approx(before)
