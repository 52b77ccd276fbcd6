"""Reports, statistics and tables in a real browser: nothing in anybody's way, and on paper."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from nets.checkins import entries, keeping
from nets.models import CheckIn, Duty, Session
from relays import paths
from tests.browser.conftest import PHONE, WIDE
from tests.browser.test_look import barriers, phone_faults
from tests.conftest import Cast, make_station
from tests.log.conftest import ON_AIR, minutes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SESSION = "/nets/ridge-net/2026-03-03/"
PAGES = [
    f"{SESSION}report/",
    f"{SESSION}report/comms-log/",
    "/nets/ridge-net/statistics/",
    f"{SESSION}log/import/",
]


@pytest.fixture
def evening(session: Session, cast: Cast, ground: object) -> CheckIn:
    """Two entries and a prediction, closed, then one corrected; gives the corrected one."""
    Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.member)
    paths.refresh(make_station(cast.member), session.relay_in_use, now=ON_AIR)
    keeping.open_log(session, by="QZ2NCS", now=ON_AIR, net_control=cast.net_control)
    for call_sign, given in (("QZ2MEM", {"report": "59"}), ("QX7TAB", {"via": "link", "traffic": "welfare"})):
        row = entries.record(
            session, {"call_sign": call_sign, **given}, key=uuid.uuid4(), by="QZ2NCS", now=ON_AIR
        )
    keeping.close_log(session, by="QZ2NCS", now=minutes(40), remark="All well.")
    return entries.correct(
        session, row.key, {"name": "Tabea", "notes": "moved"}, key=uuid.uuid4(), by="QZ2OFF", now=minutes(50)
    )


@pytest.mark.parametrize("address", PAGES)
def test_nothing_stands_in_anybodys_way(
    visit: Callable[..., Any], as_reader: Callable[[str], Client], evening: CheckIn, address: str
) -> None:
    member = as_reader("member")
    assert visit(address, barriers, size=WIDE, theme="light", client=member) == []
    assert visit(address, barriers, size=WIDE, theme="dark", client=member) == []
    assert visit(address, phone_faults, size=PHONE, theme="dark", client=member) == ([], [], [])


def test_nor_on_the_page_of_one_entry(
    visit: Callable[..., Any], as_reader: Callable[[str], Client], evening: CheckIn
) -> None:
    address = f"{SESSION}log/entry/{evening.key}/"
    assert visit(address, phone_faults, size=PHONE, client=as_reader("member")) == ([], [], [])


def test_a_bad_row_is_seen_beside_its_sentence(
    visit: Callable[..., Any], as_reader: Callable[[str], Client], evening: CheckIn
) -> None:
    def look(page: Any) -> tuple[Any, str]:
        page.fill("[name=text]", "Call sign,Time\nQZ2MEM,19:40\nQX7TAC,soon\n")
        page.click("text=Look at it first")
        page.wait_for_selector(".bad-row")
        return phone_faults(page), page.locator(".bad-row .row-problem").inner_text()

    faults, said = visit(f"{SESSION}log/import/", look, size=PHONE, client=as_reader("member"))
    assert faults == ([], [], [])
    assert said.startswith("“soon” is not a time")


def test_paper_has_the_report_and_no_buttons(
    visit: Callable[..., Any], as_reader: Callable[[str], Client], evening: CheckIn
) -> None:
    def printed(page: Any) -> tuple[bool, bool, bool]:
        page.emulate_media(media="print")
        return (
            page.locator(".main-nav").is_visible(),
            page.locator(".take-away").is_visible(),
            page.locator("text=QX7TAB").first.is_visible(),
        )

    assert visit(f"{SESSION}report/", printed, client=as_reader("member")) == (False, False, True)


def test_paper_has_the_sheets_alone(
    visit: Callable[..., Any], as_reader: Callable[[str], Client], evening: CheckIn
) -> None:
    def printed(page: Any) -> list[bool]:
        page.emulate_media(media="print")
        return [
            page.locator(part).is_visible()
            for part in (".masthead", ".not-on-paper", ".colophon", ".form-lines")
        ]

    shown = visit(f"{SESSION}report/comms-log/", printed, client=as_reader("member"))
    assert shown == [False, False, False, True]
