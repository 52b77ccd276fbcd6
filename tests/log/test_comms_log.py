"""The communications log on paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from nets import report
from nets.exports import comms_log
from nets.models import Session, SessionLog
from tests.log.conftest import Log, minutes


def sheet(session: Session, incident: str = "") -> comms_log.CommsLog:
    return comms_log.comms_log(
        report.report(session), incident=incident, prepared_by="Ann, QZ2ANN", now=minutes(90)
    )


def test_it_has_every_item_of_the_form(session: Session, closed: Callable[[], SessionLog], log: Log) -> None:
    """ICS 309: incident; operational period; net; operator; lines; prepared by; date and time; page n of m."""
    closed()
    made = sheet(session, "Flood 7")
    assert made.incident == "Flood 7"
    assert (made.period_from, made.period_to) == (
        dt.datetime(2026, 3, 3, 19, 32),
        dt.datetime(2026, 3, 3, 20, 15),
    )
    assert made.net == "Ridge Net, Ridge 2 m"
    assert made.operator == "Qz2Ncs, QZ2NCS"
    assert (made.prepared_by, made.prepared_at) == ("Ann, QZ2ANN", dt.datetime(2026, 3, 3, 21, 0))
    assert [(page.number, page.count) for page in made.pages] == [(1, 1)]


def test_a_line_says_when_who_whom_and_what(session: Session, opened: SessionLog, log: Log) -> None:
    log("QX7TAB", at=minutes(5), traffic="priority", notes="Road closed.")
    log("QZ2MEM", at=minutes(6))
    log("QX7TAB", at=minutes(8), traffic="routine", via="link")
    assert sheet(session).pages[0].rows[1:] == (
        ("19:35", "QX7TAB", "1", "QZ2NCS", "", "Checked in. Priority traffic. Road closed. Via Ridge 2 m."),
        ("19:36", "QZ2MEM", "", "QZ2NCS", "", "Checked in. Via Ridge 2 m."),
        ("19:38", "QX7TAB", "2", "QZ2NCS", "", "Called in again. Routine traffic. Via link."),
    )


def test_it_opens_and_closes_with_the_net(session: Session, closed: Callable[[], SessionLog]) -> None:
    closed()
    rows = sheet(session).pages[0].rows
    assert [row[-1] for row in rows] == ["Net opened.", "Net closed."]


def test_many_lines_go_on_numbered_pages(session: Session, opened: SessionLog, log: Log) -> None:
    for index in range(50):
        log(
            f"QX{index % 8 + 2}A{'ABCDEFGHIJ'[index // 8]}{'KLMNPRTUVW'[index % 8]}",
            at=minutes(3 + index / 10),
        )
    pages = sheet(session).pages
    assert [(page.number, page.count, len(page.rows)) for page in pages] == [
        (1, 3, 24),
        (2, 3, 24),
        (3, 3, 3),
    ]


def test_struck_entries_are_not_on_it(session: Session, opened: SessionLog, log: Log) -> None:
    row = log("QX7TAB")
    row.is_struck = True
    row.save()
    assert [line[-1] for line in sheet(session).pages[0].rows] == ["Net opened."]


def test_an_empty_log_is_one_empty_page(session: Session) -> None:
    assert [page.rows for page in sheet(session).pages] == [()]
