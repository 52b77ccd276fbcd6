"""The report of a session."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable

import pytest

from nets import report
from nets.checkins import entries, rollcall
from nets.models import CheckIn, Session, SessionLog
from tests.log.conftest import BY, ON_AIR, Log, heard_in, minutes


def correct(row: CheckIn, at: dt.datetime, **changes: object) -> None:
    entries.correct(row.session, row.key, changes, key=uuid.uuid4(), by="QZ2OFF", now=at)


@pytest.fixture
def evening(log: Log, earlier: Callable[[int], Session]) -> None:
    """Five entries of four stations by three paths; one more that was struck out."""
    heard_in(earlier(1), "QZ2MEM")
    log("QZ2MEM", at=minutes(3), report="59")
    log("QX7TAB", at=minutes(4), via="link", via_note="room 7", traffic="welfare")
    log("2ST", at=minutes(5), via="simplex", traffic="routine")
    log("QZ2MEM", at=minutes(9), traffic="routine")
    log("QZ2STW", at=minutes(2))
    correct(log("QZ2ERR", at=minutes(6), traffic="emergency"), minutes(7), is_struck=True)


def test_stations_are_counted_once_in_the_order_heard(session: Session, evening: None) -> None:
    rows = report.report(session).rows
    assert [(row.check_in.call_sign, row.number, row.is_again) for row in rows] == [
        ("QZ2STW", 1, False), ("QZ2MEM", 2, False), ("QX7TAB", 3, False), ("2ST", 4, False),
        ("QZ2ERR", None, False), ("QZ2MEM", 2, True),
    ]  # fmt: skip


def test_the_figures_leave_out_what_was_struck(session: Session, evening: None) -> None:
    made = report.report(session)
    assert (made.stations, made.visitors, made.pieces) == (4, 2, 3)
    assert made.traffic == (("welfare", 1), ("routine", 2))


def test_new_is_who_was_never_on_this_net_with_a_whole_call_sign(
    session: Session, evening: None, cast: object
) -> None:
    assert report.report(session).new_stations == ("QZ2STW", "QX7TAB")


def test_it_says_who_came_by_what_path(session: Session, evening: None) -> None:
    paths = report.report(session).paths
    assert [(path.words, path.call_signs) for path in paths] == [
        ("Ridge 2 m", ("QZ2STW", "QZ2MEM")), ("link (room 7)", ("QX7TAB",)), ("simplex", ("2ST",)),
    ]  # fmt: skip


def test_it_lasts_from_opening_to_closing(session: Session, closed: Callable[[], SessionLog]) -> None:
    closed()
    assert report.report(session).duration == dt.timedelta(minutes=43)


def test_changes_after_closing_are_listed_with_before_and_after(
    session: Session, evening: None, closed: Callable[[], SessionLog], log: Log
) -> None:
    closed()
    log("QZ2LAT", at=minutes(50))
    correct(CheckIn.objects.get(call_sign="2ST"), minutes(51), call_sign="QZ2STB", time="19:36")
    added, corrected = report.report(session).changes_after_closing
    assert (added.call_sign, added.is_added, added.by) == ("QZ2LAT", True, BY)
    assert corrected.by == "QZ2OFF"
    assert corrected.differences == (
        ("call sign", "2ST", "QZ2STB"), ("time", "00:35:00 UTC", "00:36:00 UTC"),
    )  # fmt: skip


def test_figures_that_moved_since_closing_are_named(
    session: Session, evening: None, closed: Callable[[], SessionLog], log: Log
) -> None:
    closed()
    assert report.report(session).moved == ()
    log("QX2LAT", at=minutes(50))
    assert report.report(session).moved == (
        ("stations", 4, 5), ("new stations", 2, 3), ("visitors", 2, 3),
    )  # fmt: skip


def test_a_correction_before_closing_is_no_change_afterwards(session: Session, evening: None) -> None:
    made = report.report(session)
    assert len(made.changes) == 1
    assert made.changes_after_closing == ()


def test_who_gave_no_answer_is_named(session: Session, log: Log) -> None:
    line = rollcall.add(session, "QZ2GON", by=BY)
    rollcall.set_state(session, line.key, "no_answer", by=BY, now=ON_AIR)
    assert [each.call_sign for each in report.report(session).unanswered] == ["QZ2GON"]


def test_a_session_without_a_log_gives_an_empty_report(session: Session) -> None:
    made = report.report(session)
    assert (made.log, made.rows, made.stations, made.duration) == (None, (), 0, None)
