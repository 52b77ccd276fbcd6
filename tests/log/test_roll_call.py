"""The roll: who is on it, in which order, and what became of each line."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest

from nets.checkins import rollcall
from nets.checkins.keeping import LogRefused
from nets.models import CheckIn, RollCall, Session
from nets.report import unanswered
from relays import paths
from tests.conftest import Cast, make_station
from tests.log.conftest import BY, ON_AIR, Log, heard_in


def names(session: Session) -> list[str]:
    return [line.call_sign for line in session.roll.all()]


@pytest.fixture
def history(earlier: Callable[[int], Session]) -> None:
    """Three evenings: the officer always first, the member last; a visitor came once, somebody half-heard too."""
    heard_in(earlier(3), "QZ2OFF", "QX7TAB", "QZ2STW", "QZ2MEM")
    heard_in(earlier(2), "QZ2OFF", "QZ2NCS", "2ME", "QZ2MEM")
    heard_in(earlier(1), "QZ2OFF", "QZ2STW", "2ME", "QZ2NCS")


def test_regulars_come_in_their_usual_order(cast: Cast, session: Session, history: None) -> None:
    assert rollcall.make(session, order="usual", now=ON_AIR, by=BY) == 4
    assert names(session) == ["QZ2OFF", "QZ2STW", "QZ2NCS", "QZ2MEM"]


def test_regulars_come_by_call_sign(cast: Cast, session: Session, history: None) -> None:
    rollcall.make(session, order="call_sign", now=ON_AIR, by=BY)
    assert names(session) == ["QZ2MEM", "QZ2NCS", "QZ2OFF", "QZ2STW"]


def test_the_one_in_the_chair_is_not_called(session: Session, history: None, opened: object) -> None:
    rollcall.make(session, order="usual", now=ON_AIR, by=BY)
    assert "QZ2NCS" not in names(session)


def test_asked_twice_the_list_stays(cast: Cast, session: Session, history: None) -> None:
    rollcall.make(session, order="usual", now=ON_AIR, by=BY)
    assert rollcall.make(session, order="call_sign", now=ON_AIR, by=BY) == 0
    assert names(session)[0] == "QZ2OFF"


def test_an_unknown_order_is_refused(session: Session) -> None:
    with pytest.raises(LogRefused, match="use usual or call_sign"):
        rollcall.make(session, order="age", now=ON_AIR, by=BY)


def test_a_line_is_added_once(session: Session, cast: Cast) -> None:
    rollcall.add(session, "qz2mem", by=BY)
    rollcall.add(session, "QZ2MEM", by="QZ2OFF")
    assert [(line.call_sign, line.name) for line in session.roll.all()] == [("QZ2MEM", cast.member.name)]


def test_a_line_taken_off_comes_back_when_added(session: Session) -> None:
    line = rollcall.add(session, "QZ2MEM", by=BY)
    rollcall.set_state(session, line.key, "off", by=BY, now=ON_AIR)
    assert rollcall.add(session, "QZ2MEM", by=BY).state == RollCall.State.WAITING


def test_no_answer_counts_until_they_are_heard(session: Session, log: Log) -> None:
    line = rollcall.add(session, "QZ2MEM", by=BY)
    rollcall.set_state(session, line.key, "no_answer", by=BY, now=ON_AIR)
    assert [each.call_sign for each in unanswered(session)] == ["QZ2MEM"]
    log("QZ2MEM")
    assert unanswered(session) == []


def test_two_people_ticking_one_line_make_one_check_in(session: Session, log: Log) -> None:
    line = rollcall.add(session, "QZ2MEM", by=BY)
    log("QZ2MEM", key=line.key)
    log("QZ2MEM", key=line.key)
    assert CheckIn.objects.count() == 1


def test_an_unknown_state_or_line_gets_a_sentence(session: Session) -> None:
    line = rollcall.add(session, "QZ2MEM", by=BY)
    with pytest.raises(LogRefused, match="use one of waiting, no_answer, off"):
        rollcall.set_state(session, line.key, "asleep", by=BY, now=ON_AIR)
    with pytest.raises(LogRefused, match="not on the roll"):
        rollcall.set_state(session, uuid.uuid4(), "off", by=BY, now=ON_AIR)


def test_a_line_remembers_what_was_predicted(session: Session, cast: Cast, ground: object) -> None:
    stored = paths.refresh(make_station(cast.member), session.relay_in_use, now=ON_AIR)
    assert rollcall.add(session, "QZ2MEM", by=BY).predicted_margin_db == stored.talk_in_margin_db
