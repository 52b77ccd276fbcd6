"""The coverage map in a real browser: sliders recolour it, heights are asked of the server, keyboard, thumbs, print."""

from __future__ import annotations

import threading
import time

import pytest
from django.db import connection

from relays.coverage import runs, working
from relays.models import CoverageRun
from tests.browser.conftest import PHONE, WIDE
from tests.browser.test_look import LEAST_TOUCH_PX, TOO_SMALL, barriers, phone_faults
from tests.conftest import make_station

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

READY = "() => Boolean(window.clubMap && clubMap.page && clubMap.page.now.verdicts)"
# The colours of the canvas as one number: any pixel that changes changes it.
PIXELS = """() => {
    const canvas = document.querySelector("#side-now .reach-canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    let sum = 0;
    for (let at = 0; at < data.length; at++) sum = (Math.imul(sum, 31) + data[at]) | 0;
    return sum;
}"""
# The map clips what is in it; nothing else may stick out of a narrow page.
STICKS_OUT = """() => [...document.querySelectorAll("body *")]
    .filter(one => one.getBoundingClientRect().right > innerWidth + 1 && !one.closest(".map, .wide, .unseen"))
    .map(one => one.outerHTML.slice(0, 80))"""
USABLE_KM2 = "() => clubMap.page.now.areas.usableKm2"


def wait_until(page, question, seconds=20.0):
    """Ask until the answer is yes. (The page's policy forbids what playwright's own waiting would evaluate.)"""
    end = time.monotonic() + seconds
    while not page.evaluate(question):
        assert time.monotonic() < end, question
        page.wait_for_timeout(30)


def ready(function):
    """Runs a function of the page once the first map is drawn; script errors stop the test."""

    def go(page):
        complaints = []
        page.on("pageerror", lambda problem: complaints.append(str(problem)))
        page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
        wait_until(page, READY)
        found = function(page)
        assert complaints == []
        return found

    return go


def slide(page, name, keys):
    """Move a slider as a person does, with the keyboard; each press is an input and a change."""
    page.focus(f"#id_{name}")
    for key in keys:
        page.keyboard.press(key)


def ask(page, place="36.5702, -84.1101"):
    """Type a place, and wait for its answer."""
    page.fill("#id_place", place)
    page.click("#place-form button")
    page.wait_for_selector("#answer [data-margin-in]")


def test_dragging_a_slider_changes_pixels_and_numbers(visit, drawn):
    @ready
    def drag(page):
        before = page.evaluate(PIXELS), page.evaluate(USABLE_KM2), page.inner_text("#reading")
        page.locator("#id_gain").scroll_into_view_if_needed()
        box = page.locator("#id_gain").bounding_box()
        page.mouse.move(box["x"] + box["width"] / 3, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.mouse.move(box["x"] + 8, box["y"] + box["height"] / 2, steps=6)
        during = page.evaluate(PIXELS), page.evaluate(USABLE_KM2)
        page.mouse.up()
        return before, during, page.inner_text("#reading"), page.inner_text("output[for=id_gain]")

    before, during, said, gain = visit("/map/?radio=handheld_indoors", drag)
    assert during[0] != before[0]
    assert during[1] < before[1]
    assert said != before[2]
    assert "What was moved buys −" in said
    assert gain.startswith("−")


def test_power_recolours_without_asking_the_server(visit, drawn):
    @ready
    def more_power(page):
        page.wait_for_timeout(1500)  # the other heights of the table have come
        asked = []
        page.on("request", lambda request: asked.append(request.url) if "/map/" in request.url else None)
        before = page.evaluate(PIXELS)
        slide(page, "power", ["ArrowLeft"] * 6)
        return before != page.evaluate(PIXELS), asked

    assert visit("/map/?radio=handheld_indoors", more_power) == (True, [])


def test_the_relays_height_is_asked_and_the_valley_fills(visit, drawn):
    @ready
    def raise_it(page):
        before = page.evaluate(PIXELS), page.evaluate(USABLE_KM2)
        slide(page, "antenna", ["End"])
        wait_until(page, "() => clubMap.page.now.rasters[0].head.antenna_height_m === 60")
        wait_until(page, "() => clubMap.page.now.rasters[0].head.detail === 'fine'")
        return (
            before,
            (page.evaluate(PIXELS), page.evaluate(USABLE_KM2)),
            page.inner_text("#side-now figcaption"),
        )

    before, after, caption = visit("/map/?radio=handheld_indoors", raise_it)
    assert after[0] != before[0]
    assert after[1] > before[1] + 5
    assert "relay’s antenna 60\N{NO-BREAK SPACE}m" in caption


def test_a_click_says_what_stands_in_the_way_and_puts_no_place_in_an_address(visit, drawn):
    @ready
    def click(page):
        asked = []
        page.on("request", lambda request: asked.append((request.method, request.url)))
        page.locator("#side-now .map").scroll_into_view_if_needed()
        page.click("#side-now .map", position={"x": 320, "y": 150})
        page.wait_for_selector("#answer .path-profile")
        place = page.input_value("#id_place")
        return asked, place, page.inner_text("#answer"), page.inner_text("#side-now figcaption"), page.url

    asked, place, answer, caption, address = visit("/map/", click)
    assert ("POST", "/map/point/") in [
        (method, url[url.index("/map/") :]) for method, url in asked if "/map/" in url
    ]
    digits = place.split(",")[0][:7]
    assert digits.startswith("36.")
    assert not any(digits in url for _, url in asked)
    assert digits not in address
    assert "You into the relay:" in answer
    assert "sight line" in answer
    assert "At the place: " in caption


def test_the_answer_follows_the_sliders(visit, drawn):
    @ready
    def ask_then_slide(page):
        ask(page)
        margin = "() => Number(document.querySelector('#answer [data-margin-in]').dataset.marginIn)"
        before = page.evaluate(margin)
        slide(page, "power", ["End"])
        wait_until(page, f"() => ({margin})() !== {before}")
        return page.evaluate(margin) - before

    assert visit("/map/", ask_then_slide) == pytest.approx(20, abs=0.05)


def test_two_what_ifs_stand_side_by_side_and_move_together(visit, drawn):
    @ready
    def compare(page):
        page.click("#keep")
        wait_until(page, "() => clubMap.page.kept() && clubMap.page.kept().verdicts")
        slide(page, "gain", ["Home"])
        kept = page.evaluate("() => clubMap.page.kept().areas.usableKm2")
        page.evaluate("() => clubMap.page.now.map.panBy([80, 40], { animate: false })")
        centres = page.evaluate(
            "() => [clubMap.page.now, clubMap.page.kept()].map(({ map }) => [map.getCenter().lat, map.getZoom()])"
        )
        plain = page.evaluate(PIXELS)
        page.check("#show-change")
        key = page.inner_text("#key")
        changed = page.evaluate(PIXELS)
        said = page.inner_text("#reading")
        page.click("#stop")
        return (
            kept,
            page.evaluate(USABLE_KM2),
            centres,
            plain != changed,
            key,
            said,
            page.is_visible("#side-kept"),
        )

    kept, now_usable, centres, differs, key, said, still = visit("/map/?radio=handheld_indoors", compare)
    assert kept > now_usable
    assert centres[0] == pytest.approx(centres[1])
    assert differs
    assert "gained" in key
    assert "lost" in key
    assert "Against what was kept: 0" in said
    assert not still


def test_the_map_is_used_with_the_keyboard_alone(visit, drawn):
    @ready
    def walk(page):
        page.focus("#side-now .map")
        before = page.evaluate("() => clubMap.page.now.map.getCenter().lng")
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(600)
        moved = page.evaluate("() => clubMap.page.now.map.getCenter().lng") > before
        zoom = page.evaluate("() => clubMap.page.now.map.getZoom()")
        page.keyboard.press("+")
        page.wait_for_timeout(600)
        nearer = page.evaluate("() => clubMap.page.now.map.getZoom()") > zoom
        page.keyboard.press("Enter")
        page.wait_for_selector("#answer .path-profile, #answer .notice")
        return moved, nearer

    assert visit("/map/", walk) == (True, True)


def test_a_relays_mark_chooses_it_by_enter(visit, drawn, relay):
    @ready
    def choose(page):
        page.select_option("#id_relay", "together")
        page.focus(".relay-mark")
        page.keyboard.press("Enter")
        return page.input_value("#id_relay")

    assert visit("/map/", choose) == relay.slug


def test_the_table_follows_the_sliders(visit, drawn):
    @ready
    def slide_and_read(page):
        page.wait_for_timeout(800)
        before = page.inner_text("#numbers tbody tr")
        slide(page, "gain", ["Home"])
        page.wait_for_timeout(1200)
        return before, page.inner_text("#numbers tbody tr"), page.inner_text("#numbers caption")

    before, after, caption = visit("/map/?radio=handheld_indoors", slide_and_read)
    assert before != after
    assert "antenna −6.0 dB" in caption.replace("\N{NO-BREAK SPACE}", " ")


def test_what_the_server_refuses_is_said_and_the_page_goes_on(visit, relay, ground):
    def ask(page):
        end = time.monotonic() + 20
        while not page.is_visible("#map-problem"):
            assert time.monotonic() < end
            page.wait_for_timeout(50)
        said = page.inner_text("#map-problem")
        page.fill("#id_place", "36.5702, -84.1101")
        page.click("#place-form button")
        page.wait_for_selector("#answer .notice")
        return said, page.inner_text("#answer")

    relay.site.latitude_deg = 10.0
    relay.site.save()
    said, answer = visit("/map/", ask)
    assert "outside the imported terrain" in said
    assert "terrain" in answer


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_nothing_stands_in_anybodys_way(visit, drawn, theme):
    @ready
    def look(page):
        page.click("#keep")
        wait_until(page, "() => clubMap.page.kept().verdicts")
        page.fill("#id_place", "36.5702, -84.1101")
        page.click("#place-form button")
        page.wait_for_selector("#answer .path-profile")
        return barriers(page)

    assert visit("/map/", look, size=WIDE, theme=theme) == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_on_a_phone_everything_is_large_enough_and_nothing_sticks_out(visit, drawn, theme):
    @ready
    def look(page):
        return page.evaluate(TOO_SMALL, LEAST_TOUCH_PX), page.evaluate(STICKS_OUT), barriers(page)

    assert visit("/map/", look, size=PHONE, theme=theme) == ([], [], [])


def test_on_a_phone_the_map_stays_in_sight_while_a_slider_is_moved(visit, drawn):
    @ready
    def scroll(page):
        page.focus("#id_power")
        slider, sheet = (page.locator(one).bounding_box() for one in ("#id_power", "#side-now .map"))
        return sheet["y"] >= 0, sheet["y"] + sheet["height"] <= slider["y"]

    assert visit("/map/", scroll, size=PHONE) == (True, True)


def test_another_theme_repaints_the_map(visit, drawn):
    @ready
    def turn(page):
        before = page.evaluate(PIXELS)
        page.emulate_media(color_scheme="dark")
        page.wait_for_timeout(200)
        return before != page.evaluate(PIXELS)

    assert visit("/map/", turn)


def test_on_paper_the_sliders_are_gone_and_the_key_stays(visit, drawn):
    @ready
    def printed(page):
        page.emulate_media(media="print")
        page.wait_for_timeout(200)
        return [page.is_visible(one) for one in ("#id_power", "#keep", "#key", "#side-now .map", "#numbers")]

    assert visit("/map/", printed) == [False, False, True, True, True]


def test_without_scripts_the_table_says_it_all(visit, drawn):
    def read(page):
        page.select_option("#id_radio", "mobile")
        page.click("noscript button")
        return page.inner_text("#numbers"), page.is_visible("#side-now"), page.url

    table, has_map, address = visit("/map/", read, scripts=False)
    assert "km²" in table
    assert not has_map
    assert address.endswith("radio=mobile")


def test_a_member_finds_their_own_station_among_the_radios(visit, drawn, as_reader, cast):
    home = make_station(cast.member)

    @ready
    def choose(page):
        page.select_option("#id_radio", f"station-{home.pk}")
        wait_until(page, "() => clubMap.page.now.rasters[0].head.receiver_height_m === 10")
        return page.inner_text("#side-now figcaption"), page.url

    caption, address = visit("/map/", choose, client=as_reader("member"))
    assert "your home" in caption
    assert "station" not in address


def test_the_stewards_page_is_as_easy_to_use(visit, drawn, as_reader):
    assert visit("/coverage/", phone_faults, size=PHONE, client=as_reader("steward")) == ([], [], [])
    assert visit("/coverage/", barriers, size=WIDE, theme="dark", client=as_reader("steward")) == []


def test_the_stewards_page_follows_a_run_by_itself(visit, relay, ground, now, as_reader):
    run = working.claim(runs.ask(relay, now=now).pk, now=now)
    CoverageRun.objects.update(radials_done=100, radials_total=1000)

    def follow(page):
        before = page.inner_text("#runs")
        progress.set()
        wait_until(page, "() => document.querySelector('#runs').innerText.includes('700 of 1000')")
        return before

    progress = threading.Event()
    mover = threading.Thread(target=lambda: (progress.wait(20), move_on(run.pk)))
    mover.start()
    before = visit("/coverage/", follow, client=as_reader("steward"))
    mover.join()
    assert "100 of 1000" in before


def move_on(pk):
    CoverageRun.objects.filter(pk=pk).update(radials_done=700)
    connection.close()
