"""Two people keeping one log from two browsers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest

from tests.log.desk import QUEUE_BEGINS, log_in, open_page, shown, until, wait_until_sent, write
from tests.log.site import Site

pytestmark = [pytest.mark.browser]

HIS = [f"QX2H{a}{b}" for a, b in product("AB", "KLMNP")]
HERS = [f"QX3W{a}{b}" for a, b in product("AB", "KLMNP")]
WITHIN_MS = 6_000

Drive = Callable[..., Any]


@pytest.fixture
def together(chromium: Drive, site: Site) -> Drive:
    """Gives a function two pages of two people in two browsers."""

    def go(function: Callable[[Any, Any], Any]) -> Any:
        def drive(browser: Any) -> Any:
            opened = [open_page(browser, site, who) for who in ("QZ2NCS", "QZ2MGR")]
            try:
                given = function(*(page for page, _ in opened))
                assert [complaints for _, complaints in opened] == [[], []]
                return given
            finally:
                for page, _ in opened:
                    page.context.close()

        return chromium(drive)

    return go


def wait_for_rows(page: Any, count: int) -> None:
    until(
        page,
        "count => document.querySelectorAll('#log-rows tr').length === count",
        count,
        within_ms=WITHIN_MS,
    )


def test_each_sees_the_others_entries_within_seconds(together: Drive, site: Site) -> None:
    def evening(his: Any, hers: Any) -> tuple[list[str], list[str]]:
        for one, other in zip(HIS, HERS, strict=True):
            write(his, one)
            write(hers, other)
        wait_for_rows(his, 20)
        wait_for_rows(hers, 20)
        return shown(his), shown(hers)

    on_his, on_hers = together(evening)
    assert on_his == on_hers
    assert sorted(on_his) == sorted(HIS + HERS)
    logged = Counter(row["logged_by"] for row in site.rows())
    assert logged == {"QZ2NCS": 10, "QZ2MGR": 10}


def test_both_ticking_one_line_of_the_roll_make_one_check_in(together: Drive, site: Site) -> None:
    """Neither has a connection when they tick, so neither can know of the other."""

    def evening(his: Any, hers: Any) -> str:
        for page in (his, hers):
            page.context.set_offline(True)
            page.keyboard.press("F8")
        for page in (his, hers):
            page.context.set_offline(False)
        for page in (his, hers):
            wait_until_sent(page)
            wait_for_rows(page, 1)
        return str(hers.locator("#roll-next .call-sign").inner_text())

    assert together(evening) == "QZ2BRM"
    assert [row["call_sign"] for row in site.rows()] == ["QZ2ADA"]


def test_one_station_typed_by_both_is_marked_on_both(together: Drive, site: Site) -> None:
    def evening(his: Any, hers: Any) -> list[list[str]]:
        write(his, "QX2TAK")
        write(hers, "QX2TAK")
        wait_for_rows(his, 2)
        wait_for_rows(hers, 2)
        return [
            page.locator("#log-rows tr:first-child .marks span").all_inner_texts() for page in (his, hers)
        ]

    first, second = together(evening)
    assert first == second
    assert "again" in first


def test_corrections_of_both_are_kept_and_seen(together: Drive, site: Site) -> None:
    def evening(his: Any, hers: Any) -> str:
        write(his, "QX2TAK")
        wait_for_rows(hers, 1)
        for page, field, words in ((his, "report", "33"), (hers, "notes", "at the mill")):
            page.keyboard.press("F2")
            page.fill(f"#correction_{field}", words)
            page.press(f"#correction_{field}", "Enter")
        for page in (his, hers):
            until(
                page,
                """() => { const row = document.querySelector('#log-rows tr').textContent;
                return row.includes('33') && row.includes('at the mill'); }""",
                within_ms=WITHIN_MS,
            )
        wait_until_sent(his)
        return str(his.locator("#log-rows tr").inner_text())

    together(evening)
    [row] = site.rows()
    assert (row["report"], row["notes"]) == ("33", "at the mill")


def test_what_one_person_typed_waits_for_that_person(together: Drive, site: Site) -> None:
    """One browser, two people after each other: the second is told, and sends nothing of the first."""

    def evening(his: Any, _hers: Any) -> str:
        context = his.context
        wait_until_sent(his)
        context.set_offline(True)
        write(his, "QX2TAK")
        until(his, QUEUE_BEGINS, "No connection. 1 entry")
        log_in(context, site, "QZ2MGR")
        context.set_offline(False)
        until(his, QUEUE_BEGINS, "Somebody else has logged in in this browser. 1 entry")
        second = context.new_page()
        second.goto(site.log)
        until(second, "() => document.querySelector('#queue').textContent.includes('somebody else')")
        said = str(second.locator("#queue").inner_text())
        assert site.rows() == []
        log_in(context, site, "QZ2NCS")
        wait_until_sent(his)
        return said

    assert together(evening) == (
        "Everything is sent. This browser also keeps 1 that somebody else typed; they go when that person opens "
        "this page."
    )
    assert [(row["call_sign"], row["logged_by"]) for row in site.rows()] == [("QX2TAK", "QZ2NCS")]
