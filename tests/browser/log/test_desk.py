"""Net control at work in a real browser: forty check-ins, two cuts, two reloads; and one keyboard."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import pytest

from tests.browser.conftest import PHONE, WIDE
from tests.browser.test_look import TOO_SMALL, WIDER_THAN_THE_PAGE, barriers
from tests.log.desk import (
    QUEUE_BEGINS,
    keep_the_page,
    log_in,
    queue,
    shown,
    until,
    wait_until_sent,
    write,
)
from tests.log.site import Site

pytestmark = [pytest.mark.browser]

STATIONS = [f"QX{digit}T{a}{b}" for digit, a, b in product("2345", "AB", "KLMNP")]
LEAST_TOUCH_PX = 44

Drive = Callable[..., Any]


def test_forty_check_ins_survive_two_cuts_and_two_reloads(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> tuple[list[str], list[str]]:
        keep_the_page(page)
        said = []
        write(page, *STATIONS[:10])
        wait_until_sent(page)
        page.context.set_offline(True)
        write(page, *STATIONS[10:18])
        until(page, QUEUE_BEGINS, "No connection. 8")
        said.append(queue(page))
        page.reload()
        assert shown(page) == STATIONS[:18]
        write(page, *STATIONS[18:20])
        until(page, QUEUE_BEGINS, "No connection. 10 entries")
        page.context.set_offline(False)
        wait_until_sent(page)
        write(page, *STATIONS[20:30])
        page.context.set_offline(True)
        write(page, *STATIONS[30:36])
        page.keyboard.type("QX5")
        page.context.set_offline(False)
        page.reload()
        assert page.input_value("#entry_call_sign") == "QX5"
        page.keyboard.press("End")
        write(page, STATIONS[36].removeprefix("QX5"), *STATIONS[37:])
        wait_until_sent(page)
        return said, shown(page)

    said, listed = at_the_desk(evening)
    assert said == ["No connection. 8 entries not yet sent, kept in this browser."]
    assert listed == STATIONS
    assert [row["call_sign"] for row in site.rows()] == STATIONS


def test_answers_lost_on_the_way_double_nothing(at_the_desk: Drive, site: Site) -> None:
    """The site takes the entries and its answer never arrives, three times."""
    lost = []

    def swallow(route: Any) -> None:
        if route.request.method == "POST" and len(lost) < 3:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    def evening(page: Any) -> list[str]:
        page.route("**/log/entries/", swallow)
        write(page, *STATIONS[:6])
        wait_until_sent(page)
        return shown(page)

    assert at_the_desk(evening, service_workers="block") == STATIONS[:6]
    assert lost == [200, 200, 200]
    assert [row["call_sign"] for row in site.rows()] == STATIONS[:6]


def test_a_closed_browser_sends_what_it_kept_when_it_is_opened_again(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        page.context.set_offline(True)
        write(page, *STATIONS[:3])
        page.close()
        page.context.set_offline(False)
        again = page.context.new_page()
        again.goto(site.log)
        wait_until_sent(again)
        return queue(again)

    assert at_the_desk(evening) == "Everything is sent."
    assert [row["call_sign"] for row in site.rows()] == STATIONS[:3]


def test_logged_out_in_the_middle_nothing_is_lost(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        wait_until_sent(page)
        page.context.clear_cookies(name="sessionid")
        write(page, *STATIONS[:2])
        until(page, QUEUE_BEGINS, "You are logged out")
        said = queue(page)
        log_in(page.context, site, "QZ2NCS")
        wait_until_sent(page)
        return said

    assert "2 entries not yet sent, kept in this browser" in at_the_desk(evening)
    assert [row["call_sign"] for row in site.rows()] == STATIONS[:2]


def test_an_entry_the_site_refuses_is_shown_and_put_right(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        page.fill("#entry_time", "25:71")
        page.fill("#entry_notes", "by the mill")
        page.focus("#entry_call_sign")
        write(page, "QX2TAK")
        page.wait_for_selector("#refused .call-sign")
        said = page.locator("#refused p").inner_text()
        assert queue(page) == "1 entry was not accepted; it waits below."
        page.click("text=Put it right")
        page.fill("#entry_time", "")
        page.press("#entry_time", "Enter")
        until(page, "() => document.querySelectorAll('#log-rows tr').length === 1")
        wait_until_sent(page)
        return str(said)

    assert "QX2TAK was not accepted. “25:71” is not a time" in at_the_desk(evening)
    assert [(row["call_sign"], row["notes"]) for row in site.rows()] == [("QX2TAK", "by the mill")]


def test_putting_right_takes_nothing_from_the_form(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> tuple[str, str]:
        page.fill("#entry_time", "25:71")
        page.focus("#entry_call_sign")
        write(page, "QX2TAK")
        page.wait_for_selector("#refused .call-sign")
        page.keyboard.type("QX3HALF")
        page.click("text=Put it right")
        return page.input_value("#entry_call_sign"), page.locator("#entry-hint").inner_text()

    typed, said = at_the_desk(evening)
    assert typed == "QX3HALF"
    assert said.startswith("Log what is in the form first")


def test_the_whole_evening_by_keyboard_alone(at_the_desk: Drive, site: Site) -> None:
    """Nothing is clicked and nothing is focused by the test: keys go wherever the page has put the cursor."""

    def evening(page: Any) -> dict[str, Any]:
        press, type_ = page.keyboard.press, page.keyboard.type
        said: dict[str, Any] = {}
        until(page, "() => caches.has('club-log-page')")
        type_("ada")
        page.wait_for_selector("#names li")
        press("ArrowDown")
        said["completed"] = page.input_value("#entry_call_sign")
        press("Tab")
        type_("59")
        press("Tab")
        type_("w")
        press("Enter")
        type_("2BR")
        press("Enter")
        said["asked"] = page.locator("#entry-hint").inner_text()
        press("Enter")
        type_("QX7NEW")
        for _ in range(3):
            press("Tab")
        type_("Nelly")
        press("Enter")
        said["focus"] = page.evaluate("document.activeElement.id")
        press("F2")
        said["dialogue"] = page.locator("#correction-title").inner_text()
        for _ in range(2):
            press("Tab")
        type_("33")
        press("Enter")
        press("F8")
        press("F9")
        wait_until_sent(page)
        said["marks"] = page.locator("#log-rows tr:first-child .marks").inner_text()
        said["roll"] = page.locator("#roll-next").inner_text()
        return said

    said = at_the_desk(evening)
    assert said["completed"] == "QZ2ADA"
    assert said["asked"] == "QZ2BRM, Bram Okoye? Enter again logs it."
    assert (said["focus"], said["dialogue"]) == ("entry_call_sign", "Correct QX7NEW")
    rows = {row["call_sign"]: row for row in site.rows()}
    assert (rows["QZ2ADA"]["report"], rows["QZ2ADA"]["traffic"]) == ("59", "welfare")
    assert rows["QX7NEW"]["name"] == "Nelly"
    assert "QZ2CLE" in rows
    assert "Everybody on the list has been called" in said["roll"]


def test_tab_leads_from_the_call_sign_to_the_report(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> None:
        page.keyboard.type("QX2TAK")
        page.keyboard.press("Tab")
        page.keyboard.type("59")
        page.keyboard.press("Enter")
        wait_until_sent(page)

    at_the_desk(evening)
    assert [(row["call_sign"], row["report"]) for row in site.rows()] == [("QX2TAK", "59")]


def test_a_portable_mark_hides_no_duplicate(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> tuple[str, str]:
        write(page, "QX2TAK")
        page.keyboard.type("qx2tak/m")
        hint = str(page.locator("#entry-hint").inner_text())
        page.keyboard.press("Enter")
        said = str(page.locator("#said").inner_text())
        wait_until_sent(page)
        return hint, said

    hint, said = at_the_desk(evening)
    assert "Heard already, number 1" in hint
    assert said.startswith("QX2TAK logged again, signed QX2TAK/M.")
    assert site.rows()[1]["notes"] == "Signed QX2TAK/M."


def test_escape_empties_the_call_sign(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        page.keyboard.type("zz")
        assert page.input_value("#entry_call_sign").lower() == "zz"
        page.keyboard.press("Escape")
        return str(page.input_value("#entry_call_sign"))

    assert at_the_desk(evening) == ""


def test_part_of_a_call_sign_is_asked_about_once(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        page.keyboard.type("7XY")
        page.keyboard.press("Enter")
        said = str(page.locator("#entry-hint").inner_text())
        page.keyboard.press("Enter")
        wait_until_sent(page)
        return said

    assert "is not a whole call sign. Enter again logs it as it is" in at_the_desk(evening)
    assert [row["call_sign"] for row in site.rows()] == ["7XY"]


def test_a_half_typed_correction_survives_a_reload(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> tuple[str, str]:
        write(page, "QX2TAK")
        wait_until_sent(page)
        page.keyboard.press("F2")
        page.fill("#correction_notes", "was it 2TAG?")
        page.reload()
        half = page.input_value("#correction_notes")
        page.press("#correction_notes", "Enter")
        until(page, "() => document.querySelector('#log-rows .marks').textContent.includes('corrected')")
        return half, str(page.locator("#log-rows td:nth-child(5)").inner_text())

    assert at_the_desk(evening) == ("was it 2TAG?", "was it 2TAG?")


def test_the_session_is_not_closed_over_entries_that_wait(at_the_desk: Drive, site: Site) -> None:
    site.open_the_log()

    def evening(page: Any) -> tuple[str, str]:
        wait_until_sent(page)
        page.context.set_offline(True)
        write(page, "QX2TAK")
        page.fill("#remark", "Ask Tak again.")
        page.click("#close-form button")
        said = page.locator("#close-problem").inner_text()
        page.context.set_offline(False)
        wait_until_sent(page)
        page.click("#close-form button")
        page.wait_for_url("**/report/")
        return str(said), str(page.locator(".remark").inner_text())

    said, remark = at_the_desk(evening)
    assert said.startswith("Not yet: 1 of what you typed has not reached the site.")
    assert remark == "Ask Tak again."


def test_nothing_of_a_closed_log_stays_in_the_browser(at_the_desk: Drive, site: Site) -> None:
    site.open_the_log()

    def evening(page: Any) -> tuple[int, bool]:
        keep_the_page(page)
        write(page, "QX2TAK")
        wait_until_sent(page)
        page.click("#close-form button")
        page.wait_for_url("**/report/")
        page.goto(site.log)
        until(
            page,
            "() => !Object.keys(localStorage).some(name => name.endsWith('note/names') || name.endsWith('note/seen'))",
        )
        return 0, False

    assert at_the_desk(evening) == (0, False)


def test_the_reminder_speaks_up_in_words_and_covers_nothing(at_the_desk: Drive, site: Site) -> None:
    site.open_the_log()

    def evening(page: Any) -> list[str]:
        page.clock.install()
        page.reload()
        said = [page.locator("#reminder-time").inner_text()]
        page.clock.fast_forward("10:05")
        until(page, "() => document.querySelector('#reminder-due').textContent !== ''")
        said.append(page.locator("#reminder-due").inner_text())
        assert page.locator("#reminder-due").get_attribute("role") == "status"
        covered = page.evaluate(
            """() => { const box = document.querySelector('.script-words').getBoundingClientRect();
            return document.elementFromPoint(box.left + 20, box.top + 10).closest('.script-words') === null; }"""
        )
        assert not covered
        page.keyboard.press("F4")
        said.append(page.locator("#reminder-due").inner_text())
        return said

    before, due, after = at_the_desk(evening)
    assert before.startswith("in 10 minutes, at ")
    assert due.startswith("Identify now: this is QZ2NCS.")
    assert after == ""


@pytest.mark.parametrize(
    ("size", "theme"), [(WIDE, "light"), (WIDE, "dark"), (PHONE, "light"), (PHONE, "dark")]
)
def test_nothing_stands_in_anybodys_way(
    at_the_desk: Drive, site: Site, size: dict[str, int], theme: str
) -> None:
    site.open_the_log()

    def look(page: Any) -> list[Any]:
        page.select_option("#entry_traffic", "emergency")
        page.focus("#entry_call_sign")
        write(page, "QX2TAK", "QX2TAK", "7XY", "")
        page.keyboard.press("Enter")
        wait_until_sent(page)
        found = [barriers(page)]
        page.keyboard.type("QZ")
        page.wait_for_selector("#names li")
        found.append(barriers(page))
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        if size == PHONE:
            found += [page.evaluate(TOO_SMALL, LEAST_TOUCH_PX), page.evaluate(WIDER_THAN_THE_PAGE)]
        page.keyboard.press("Escape")
        page.keyboard.press("F2")
        found.append(barriers(page))
        return found

    assert all(found == [] for found in at_the_desk(look, viewport=size, color_scheme=theme))


def test_without_scripts_the_form_is_an_ordinary_form(at_the_desk: Drive, site: Site) -> None:
    def evening(page: Any) -> str:
        page.fill("#entry_call_sign", "qx2tak")
        page.press("#entry_call_sign", "Enter")
        page.wait_for_selector("text=QX2TAK is in the log.")
        page.click("text=Heard")
        page.wait_for_selector("#log-rows tr:nth-child(2)")
        return str(page.locator("#list-title").inner_text())

    assert at_the_desk(evening, java_script_enabled=False) == "In the log: 2 stations"
    assert [row["call_sign"] for row in site.rows()] == ["QX2TAK", "QZ2ADA"]
