"""Opening a log, closing it, and what happens to it afterwards."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable

import pytest
from django.db.models import ProtectedError

from nets import schedule
from nets.checkins import entries, keeping
from nets.checkins.keeping import LogRefused
from nets.models import Session, SessionLog
from relays.models import Relay
from tests.conftest import Cast
from tests.log.conftest import BY, ON_AIR, Log, minutes


def test_opening_names_net_control_from_the_rota(session: Session, in_the_chair: object, cast: Cast) -> None:
    log = keeping.open_log(session, by=BY, now=ON_AIR)
    assert (log.net_control, log.opened_at, log.opened_by) == (cast.net_control, ON_AIR, BY)


def test_opening_twice_changes_nothing(session: Session, opened: SessionLog) -> None:
    again = keeping.open_log(session, by="QZ2OFF", now=minutes(9))
    assert (again.opened_by, again.version) == (opened.opened_by, opened.version)


def test_a_session_far_ahead_cannot_be_opened(session: Session) -> None:
    with pytest.raises(LogRefused, match=r"still ahead; its log can be opened from 13:30 on 3 March 2026"):
        keeping.open_log(session, by=BY, now=session.starts_at - dt.timedelta(hours=7))


def test_a_session_that_is_called_off_takes_no_entries(session: Session, log: Log) -> None:
    schedule.call_off(session, note="Ice.")
    with pytest.raises(LogRefused, match="called off"):
        log("QZ2MEM")


def test_closing_keeps_the_figures_and_marks_the_session_held(
    session: Session, opened: object, log: Log
) -> None:
    log("QZ2MEM", traffic="routine")
    log("QX7TAB")
    closed = keeping.close_log(session, by=BY, now=minutes(45), remark=" Ask Tab again. ")
    session.refresh_from_db()
    assert session.state == Session.State.HELD
    assert closed.remark == "Ask Tab again."
    assert closed.summary == {
        "stations": 2, "new_stations": 2, "visitors": 1, "traffic": 1, "paths": {"Ridge 2 m": 2},
    }  # fmt: skip


def test_closing_twice_changes_nothing(session: Session, closed: Callable[[], SessionLog]) -> None:
    first = closed()
    again = keeping.close_log(session, by="QZ2OFF", now=minutes(59), remark="other")
    assert (again.closed_at, again.remark) == (first.closed_at, first.remark)


def test_what_never_began_cannot_be_closed(session: Session) -> None:
    with pytest.raises(LogRefused, match="never started"):
        keeping.close_log(session, by=BY, now=ON_AIR)


def test_an_entry_after_closing_is_taken_and_marked(closed: Callable[[], SessionLog], log: Log) -> None:
    closed()
    assert log("QZ2MEM", at=minutes(50)).is_after_closing


def test_a_correction_after_closing_is_marked(
    closed: Callable[[], SessionLog], log: Log, session: Session
) -> None:
    row = log("QZ2MEM")
    closed()
    entries.correct(session, row.key, {"report": "33"}, key=uuid.uuid4(), by=BY, now=minutes(50))
    assert row.corrections.get().is_after_closing


def test_a_log_closed_by_mistake_is_reopened_and_says_so(
    session: Session, closed: Callable[[], SessionLog]
) -> None:
    closed()
    log = keeping.open_log(session, by="QZ2OFF", now=minutes(46))
    session.refresh_from_db()
    assert (log.is_open, session.state) == (True, Session.State.SCHEDULED)
    assert [(event["what"], event["by"]) for event in log.events] == [
        ("opened", BY), ("closed", BY), ("reopened", "QZ2OFF"),
    ]  # fmt: skip


def test_it_is_not_reopened_days_later(session: Session, closed: Callable[[], SessionLog]) -> None:
    closed()
    with pytest.raises(LogRefused, match="closed long ago"):
        keeping.open_log(session, by=BY, now=ON_AIR + dt.timedelta(days=2))


def test_a_session_with_a_log_cannot_be_deleted(session: Session, log: Log) -> None:
    log("QZ2MEM")
    with pytest.raises(ProtectedError):
        session.delete()


def test_tonights_relay_stands_first_and_its_links_next(session: Session, site: object) -> None:
    tonight = session.relay_in_use
    rows = [("Ash 2 m", "146.910"), ("Zinc 2 m", "146.880")]
    others = [
        Relay.objects.create(
            site=tonight.site,
            name=name,
            slug=name[:3],
            call_sign="QZ2RLY",
            output_mhz=mhz,
            input_mhz="146.310",
        )
        for name, mhz in rows
    ]
    others[1].linked_to.add(tonight)
    assert [relay.name for relay in keeping.evening_of(session).relays] == [
        "Ridge 2 m",
        "Zinc 2 m",
        "Ash 2 m",
    ]
