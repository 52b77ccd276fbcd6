"""One session other than its rule says: what may be done, and what is refused with a sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from clubops import clock
from nets import conflicts, departures, schedule
from nets.departures import DepartureRefused
from nets.models import Absence, Duty, Net, Session
from relays.models import Relay
from tests.conftest import NOW, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def other(relay: Relay) -> Relay:
    row = Relay.objects.get(pk=relay.pk)
    row.pk, row.name, row.slug = None, "Far", "far"
    row.save()
    return row


@pytest.fixture
def guest(other: Relay) -> Net:
    """A net on the other relay, Wednesdays at 21:00."""
    net = Net.objects.create(
        name="Guests",
        slug="guests",
        relay=other,
        rule="FREQ=WEEKLY;BYDAY=WE",
        first_date=dt.date(2026, 3, 4),
        start_time=dt.time(21),
    )
    schedule.plan_sessions(net, now=NOW)
    return net


def wall(session: Session) -> dt.datetime:
    return clock.to_wall(session.starts_at, session.net.zone)


def on(day: int, hour: int, minute: int = 0, month: int = 3) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute)


def test_it_is_called_off_with_a_reason_that_everybody_reads(session: Session) -> None:
    done = departures.call_off(session, reason=" Storm warning. ", now=NOW)
    assert (done.state, done.note, done.sequence) == (Session.State.CANCELLED, "Storm warning.", 1)


@pytest.mark.parametrize("reason", ["", "  ", "no"])
def test_calling_off_wants_a_reason(session: Session, reason: str) -> None:
    with pytest.raises(DepartureRefused, match="Say why"):
        departures.call_off(session, reason=reason, now=NOW)


def test_calling_off_twice_is_told(session: Session) -> None:
    departures.call_off(session, reason="Storm.", now=NOW)
    with pytest.raises(DepartureRefused, match=r"called off already: Storm\."):
        departures.call_off(session, reason="Storm.", now=NOW)


def test_it_is_put_back(session: Session) -> None:
    departures.call_off(session, reason="Storm.", now=NOW)
    done = departures.put_back(session, now=NOW)
    assert (done.state, done.note, done.sequence) == (Session.State.SCHEDULED, "", 2)


def test_it_is_not_put_back_into_somebody_elses_time(session: Session, relay: Relay) -> None:
    departures.call_off(session, reason="Storm.", now=NOW)
    Net.objects.create(
        name="Late",
        slug="late",
        relay=relay,
        rule="FREQ=DAILY",
        first_date=dt.date(2026, 3, 3),
        start_time=dt.time(20),
    )
    with pytest.raises(DepartureRefused, match="Ridge Net and Late would both be on Ridge 2 m"):
        departures.put_back(session, now=NOW)
    session.refresh_from_db()
    assert session.state == Session.State.CANCELLED


def test_it_is_put_back_though_its_net_control_is_away_by_now(session: Session, cast: Cast) -> None:
    """Only once it is back can somebody else take the chair; the conflict is shown."""
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    departures.call_off(session, reason="Storm.", now=NOW)
    Absence.objects.create(
        member=cast.net_control, first_date=dt.date(2026, 3, 3), last_date=dt.date(2026, 3, 3)
    )
    assert departures.put_back(session, now=NOW).state == Session.State.SCHEDULED
    assert "in the chair and away" in [each.kind for each in conflicts.of_session(session, now=NOW)]


def test_one_put_back_on_a_date_the_rule_no_longer_gives_stays(net: Net, session: Session) -> None:
    departures.call_off(session, reason="Storm.", now=NOW)
    net.rule, net.first_date = "FREQ=WEEKLY;BYDAY=FR", dt.date(2026, 3, 3)
    net.save()
    departures.put_back(session, now=NOW)
    schedule.plan_sessions(net, now=NOW)
    session.refresh_from_db()
    assert (session.state, session.is_extra) == (Session.State.SCHEDULED, True)


def test_it_moves_by_the_clock_of_the_net(session: Session) -> None:
    done = departures.move(session, wall=on(5, 18, 15), now=NOW)
    assert wall(done) == on(5, 18, 15)
    assert (done.occurrence_date, done.ends_at - done.starts_at) == (
        dt.date(2026, 3, 3),
        dt.timedelta(hours=1),
    )


def test_moved_back_to_its_usual_time_it_is_moved_no_more(session: Session) -> None:
    departures.move(session, wall=on(5, 18), now=NOW)
    assert departures.move(session, wall=on(3, 19, 30), now=NOW).moved_to is None


def test_a_time_that_clocks_skip_is_read_with_the_offset_before(net: Net, session: Session) -> None:
    """New York, 8 March 2026: 02:30 is skipped; 07:30 UTC shows 03:30 (tzdata)."""
    done = departures.move(session, wall=on(8, 2, 30), now=NOW)
    assert f"{done.starts_at:%H:%M}" == "07:30"


@pytest.mark.parametrize(
    ("to", "words"),
    [
        (on(3, 6), "is past; it is now Tuesday 3 March 2026, 07:00 New York time"),
        (dt.datetime(2028, 3, 5, 19), "more than a year away"),
        (on(3, 19, 30), "It is already on Tuesday 3 March 2026, 19:30"),
        (on(10, 20), "Ridge Net would meet twice at once"),
    ],
)
def test_it_is_not_moved_to(session: Session, to: dt.datetime, words: str) -> None:
    with pytest.raises(DepartureRefused, match=words):
        departures.move(session, wall=to, now=NOW)
    session.refresh_from_db()
    assert (wall(session), session.sequence) == (on(3, 19, 30), 0)


def test_it_is_not_moved_onto_another_net(session: Session, guest: Net, other: Relay) -> None:
    other.linked_to.add(session.net.relay)
    with pytest.raises(DepartureRefused, match="Ridge Net and Guests would both be on the air together"):
        departures.move(session, wall=on(4, 20, 30), now=NOW)


def test_it_is_not_moved_into_the_other_chair_of_its_net_control(
    session: Session, guest: Net, cast: Cast
) -> None:
    for row in (session, guest.sessions.get(occurrence_date=dt.date(2026, 3, 4))):
        Duty.objects.create(session=row, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    with pytest.raises(
        DepartureRefused, match=r"QZ2NCS, net control of this session, is then net control of Guests"
    ):
        departures.move(session, wall=on(4, 20, 30), now=NOW)


def test_it_is_not_moved_into_days_away(session: Session, cast: Cast) -> None:
    Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.net_control)
    Absence.objects.create(
        member=cast.net_control, first_date=dt.date(2026, 3, 5), last_date=dt.date(2026, 3, 6)
    )
    with pytest.raises(DepartureRefused, match="is then away"):
        departures.move(session, wall=on(5, 19), now=NOW)


def test_it_meets_on_another_relay_this_once(session: Session, other: Relay) -> None:
    assert departures.use_relay(session, relay=other, now=NOW).relay_in_use == other
    assert departures.use_relay(session, relay=None, now=NOW).relay is None


def test_the_usual_relay_is_no_other_relay(session: Session, relay: Relay) -> None:
    with pytest.raises(DepartureRefused, match="already where the net always meets"):
        departures.use_relay(session, relay=relay, now=NOW)


def test_a_silent_relay_is_refused_with_what_its_steward_said(session: Session, other: Relay) -> None:
    other.status, other.status_note = Relay.Status.OFF_AIR, "Fan broken."
    other.save()
    with pytest.raises(DepartureRefused, match=r"Far is off the air \(Fan broken\)"):
        departures.use_relay(session, relay=other, now=NOW)


def test_a_relay_in_use_is_refused(session: Session, guest: Net, other: Relay) -> None:
    departures.move(session, wall=on(4, 20, 30), now=NOW)
    with pytest.raises(DepartureRefused, match="Ridge Net and Guests would both be on Far"):
        departures.use_relay(session, relay=other, now=NOW)


def test_an_extra_session_is_added_at_its_own_hour(net: Net, session: Session) -> None:
    extra = departures.add_extra(net, wall=on(6, 21), note="Field day.", now=NOW)
    schedule.plan_sessions(net, now=NOW)
    extra.refresh_from_db()
    assert (wall(extra), extra.is_extra, extra.note) == (on(6, 21), True, "Field day.")


def test_an_extra_session_at_the_usual_hour_is_not_a_moved_one(net: Net, session: Session) -> None:
    assert departures.add_extra(net, wall=on(6, 19, 30), now=NOW).moved_to is None


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (on(10, 21), "has a session of 10 March 2026 already; it is planned"),
        (on(9, 21, month=6), "By its rule Ridge Net meets on 9 June 2026 in any case"),
        (on(2, 21), "is past"),
    ],
)
def test_an_extra_session_is_refused(net: Net, session: Session, at: dt.datetime, words: str) -> None:
    with pytest.raises(DepartureRefused, match=words):
        departures.add_extra(net, wall=at, now=NOW)
    assert not net.sessions.filter(is_extra=True).exists()


def test_an_extra_session_in_place_of_one_called_off_is_a_putting_back(net: Net, session: Session) -> None:
    departures.call_off(session, reason="Storm.", now=NOW)
    with pytest.raises(DepartureRefused, match="put it back instead"):
        departures.add_extra(net, wall=on(3, 21), now=NOW)


@pytest.mark.parametrize(
    "verb",
    [
        lambda session, now: departures.call_off(session, reason="Too late.", now=now),
        lambda session, now: departures.put_back(session, now=now),
        lambda session, now: departures.move(session, wall=on(9, 19), now=now),
        lambda session, now: departures.use_relay(session, relay=None, now=now),
    ],
    ids=["call off", "put back", "move", "relay"],
)
def test_what_has_begun_is_history(session: Session, verb: Callable[[Session, dt.datetime], Session]) -> None:
    with pytest.raises(DepartureRefused, match="what has begun is history"):
        verb(session, session.starts_at)


def test_a_net_that_is_switched_off_gets_no_session(net: Net) -> None:
    net.is_active = False
    net.save()
    with pytest.raises(DepartureRefused, match="switched off"):
        departures.add_extra(net, wall=on(6, 21), now=NOW)
