"""Entries of a log: written once, corrected with a history."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable

import pytest

from nets.checkins import entries
from nets.checkins.keeping import LogRefused
from nets.checkins.typed import TypedError
from nets.models import CheckIn, Correction, Session, SessionLog
from nets.models.checkins import NotForChanging
from relays import paths
from tests.conftest import Cast, make_station
from tests.log.conftest import BY, ON_AIR, Log, minutes


def correct(row: CheckIn, *, key: uuid.UUID | None = None, by: str = BY, **changes: object) -> CheckIn:
    return entries.correct(row.session, row.key, changes, key=key or uuid.uuid4(), by=by, now=minutes(20))


def test_a_member_is_known_by_their_call_sign(log: Log, cast: Cast) -> None:
    row = log("qz2mem/p", report="59")
    assert (row.call_sign, row.member, row.name, row.is_visitor) == (
        "QZ2MEM",
        cast.member,
        cast.member.name,
        False,
    )


def test_a_visitor_keeps_name_and_place(log: Log) -> None:
    row = log("QX7TAB", name="Tabea", place="Far Dale")
    assert (row.is_visitor, row.name, row.place, row.member) == (True, "Tabea", "Far Dale", None)


def test_the_same_key_is_the_same_check_in(log: Log) -> None:
    key = uuid.uuid4()
    first, again = log("QZ2MEM", key=key), log("QZ2MEM", key=key, at=minutes(9), report="33")
    assert first.pk == again.pk
    assert again.report == ""
    assert CheckIn.objects.count() == 1


def test_a_key_from_another_log_is_refused(log: Log, earlier: Callable[[int], Session]) -> None:
    row = log("QZ2MEM")
    with pytest.raises(TypedError, match="the log of another session"):
        log("QZ2MEM", key=row.key, into=earlier(1))


def test_a_station_heard_twice_is_logged_twice(log: Log) -> None:
    log("QZ2MEM")
    log("QZ2MEM", at=minutes(9))
    assert CheckIn.objects.count() == 2


def test_part_of_a_call_sign_is_written_down(log: Log) -> None:
    row = log("2me")
    assert (row.call_sign, row.is_whole) == ("2ME", False)


def test_the_first_entry_starts_the_session(
    log: Log, session: Session, in_the_chair: object, cast: Cast
) -> None:
    log("QZ2MEM")
    assert (session.log.opened_at, session.log.net_control) == (ON_AIR, cast.net_control)


def test_tonights_relay_is_the_usual_way_in(log: Log, session: Session) -> None:
    assert log("QZ2MEM").relay == session.relay_in_use


def test_on_a_simplex_net_simplex_is(log: Log, session: Session) -> None:
    session.net.relay, session.net.simplex_mhz = None, "146.550"
    session.net.save()
    assert log("QZ2MEM").via == CheckIn.Via.SIMPLEX


def test_a_time_typed_in_makes_a_late_entry(log: Log) -> None:
    row = log("QZ2MEM", at=minutes(30), time="19:35")
    assert (row.heard_at, row.is_late_entry) == (dt.datetime(2026, 3, 4, 0, 35, tzinfo=dt.UTC), True)


@pytest.mark.parametrize(
    "clock", ["1970-01-01T00:00:00Z", "2031-01-01T00:00:00Z", "2026-03-04T00:33:00", "noon"]
)
def test_a_clock_that_cannot_be_right_is_not_believed(log: Log, clock: str) -> None:
    assert log("QZ2MEM", heard_at=clock).heard_at == ON_AIR


def test_a_clock_that_is_right_is_believed(log: Log) -> None:
    """An entry that waited for a connection keeps the time at which it was typed."""
    row = log("QZ2MEM", at=minutes(30), heard_at=minutes(12).isoformat())
    assert (row.heard_at, row.received_at) == (minutes(12), minutes(30))


def test_an_entry_days_later_without_a_time_stands_at_the_start(log: Log, session: Session) -> None:
    row = log("QZ2MEM", at=ON_AIR + dt.timedelta(days=3))
    assert (row.heard_at, row.is_late_entry) == (session.starts_at, True)


def test_what_had_been_predicted_is_kept_beside_it(
    log: Log, cast: Cast, ground: object, session: Session
) -> None:
    stored = paths.refresh(make_station(cast.member), session.relay_in_use, now=ON_AIR)
    assert log("QZ2MEM").predicted_margin_db == stored.talk_in_margin_db


def test_a_stale_prediction_is_not(log: Log, cast: Cast, ground: object, session: Session) -> None:
    station = make_station(cast.member)
    paths.refresh(station, session.relay_in_use, now=ON_AIR)
    station.power_w = 5
    station.save()
    assert log("QZ2MEM").predicted_margin_db is None


def test_a_correction_keeps_what_it_said_before(log: Log) -> None:
    row = correct(log("QZ2MEM", report="59"), report="33", notes="mobile")
    made = row.corrections.get()
    assert (row.report, made.number, made.made_by) == ("33", 1, BY)
    assert made.before == {"report": "59", "notes": ""}
    assert made.after == {"report": "33", "notes": "mobile"}


def test_the_same_correction_sent_again_is_made_once(log: Log) -> None:
    row, key = log("QZ2MEM"), uuid.uuid4()
    correct(row, key=key, report="33")
    correct(row, key=key, report="44")
    assert [made.after for made in Correction.objects.all()] == [{"report": "33"}]


def test_two_people_correcting_different_fields_both_get_their_way(log: Log) -> None:
    row = log("QZ2MEM")
    correct(row, report="33", by="QZ2OFF")
    after = correct(row, place="the mill", by="QZ2MGR")
    assert (after.report, after.place, after.corrections.count()) == ("33", "the mill", 2)


def test_a_correction_that_changes_nothing_leaves_no_trace(log: Log) -> None:
    row = log("QZ2MEM", report="59")
    version = SessionLog.objects.get().version
    correct(row, report="59")
    assert not Correction.objects.exists()
    assert SessionLog.objects.get().version == version


def test_another_call_sign_is_another_person(log: Log, cast: Cast) -> None:
    row = correct(log("QZ2ME"), call_sign="QZ2MEM")
    assert (row.member, row.name, row.is_visitor) == (cast.member, cast.member.name, False)
    assert row.corrections.get().before == {"call_sign": "QZ2ME", "name": ""}


def test_an_entry_is_struck_out_and_comes_back(log: Log) -> None:
    row = log("QZ2MEM")
    assert correct(row, is_struck=True).is_struck
    assert not correct(row, is_struck=False).is_struck
    assert CheckIn.objects.count() == 1


def test_a_bad_correction_changes_nothing(log: Log) -> None:
    row = log("QZ2MEM", report="59")
    with pytest.raises(TypedError, match="is not a precedence"):
        correct(row, report="33", traffic="flash")
    row.refresh_from_db()
    assert row.report == "59"


def test_a_correction_of_nothing_is_refused(session: Session, opened: object) -> None:
    with pytest.raises(LogRefused, match="is not in the log"):
        entries.correct(session, uuid.uuid4(), {}, key=uuid.uuid4(), by=BY, now=ON_AIR)


def test_a_history_only_grows(log: Log) -> None:
    made = correct(log("QZ2MEM"), report="33").corrections.get()
    with pytest.raises(NotForChanging):
        made.save()
    with pytest.raises(NotForChanging):
        made.delete()


def test_every_change_raises_the_version_by_one(log: Log, session: Session) -> None:
    row = log("QZ2MEM")
    log("QZ2OFF")
    correct(row, report="33")
    row.refresh_from_db()
    assert row.version == session.log.version == 3


@pytest.mark.parametrize(
    ("report", "readability"),
    [("59", 5), ("5", 5), ("33", 3), ("599", 5), ("", None), ("79", None), ("5 by 9", None), ("٥٩", None)],
)
def test_readability_is_the_first_digit_of_a_report(report: str, readability: int | None) -> None:
    assert CheckIn(report=report).readability == readability


def test_a_portable_mark_is_kept_beside_the_call_sign(log: Log) -> None:
    row = log("f/qz2mem/p", notes="on the dam")
    assert (row.call_sign, row.notes) == ("QZ2MEM", "Signed F/QZ2MEM/P. on the dam")


def test_a_call_sign_without_marks_leaves_the_notes_alone(log: Log) -> None:
    assert log("qz 2mem", notes="on the dam").notes == "on the dam"
