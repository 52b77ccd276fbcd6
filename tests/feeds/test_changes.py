"""A change touches the calendars it concerns and no others, and calls one worker."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import transaction

from clubops.members.models import Member
from nets import changes, feeds, schedule, tasks
from nets.feeds import stored
from nets.models import Duty, FeedKey, Net, Session, StoredCalendar
from relays.models import Relay
from tests.conftest import NOW, Cast, make_member
from tests.feeds.readers import events
from tests.feeds.readers import stored as bytes_of


class Calls(list):
    """Names of the tasks that were woken."""

    @property
    def builders(self) -> int:
        return self.count(tasks.rebuild_touched_calendars.name)


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Calls:
    calls = Calls()
    monkeypatch.setattr(changes, "wake", lambda task, *args, **options: calls.append(task.name))
    return calls


@pytest.fixture
def other_net(session: Session, relay: Relay) -> Net:
    """A net on a relay of its own, so that there is something a change must not touch."""
    elsewhere = Relay.objects.create(
        site=relay.site,
        name="Valley 70 cm",
        slug="valley-70cm",
        call_sign="QZ2VLY",
        output_mhz=Decimal("444.100"),
        input_mhz=Decimal("449.100"),
    )
    net = Net.objects.create(
        name="Valley Net",
        slug="valley-net",
        relay=elsewhere,
        first_date=dt.date(2026, 3, 5),
        start_time=dt.time(20),
        zone="America/New_York",
        rule="FREQ=WEEKLY;BYDAY=TH",
    )
    schedule.plan_sessions(net, now=NOW)
    return net


@pytest.fixture
def touched(
    other_net: Net, net: Net, cast: Cast, django_capture_on_commit_callbacks: Callable
) -> Callable[..., set[str]]:
    """What becomes stale when something is done to a club whose calendars were all fresh."""
    for member in (cast.net_control, cast.manager):
        feeds.renew(member, now=NOW)
    feeds.rebuild_changed(now=NOW)

    def keys(do: Callable[[], object]) -> set[str]:
        changes._pending.take()  # what the scene itself has changed
        with django_capture_on_commit_callbacks(execute=True):
            do()
        return {_name(each.subject) for each in stored.stale() if not each.subject.has_alarms}

    return keys


def _name(subject: stored.Subject) -> str:
    if subject.net_id:
        return f"net {Net.objects.get(pk=subject.net_id).slug}"
    if subject.relay_id:
        return f"relay {Relay.objects.get(pk=subject.relay_id).slug}"
    if subject.member_id:
        return f"member {Member.objects.get(pk=subject.member_id).call_sign}"
    return "club"


RIDGE = {"club", "net ridge-net", "relay ridge-2m"}


def test_a_session(touched: Callable, session: Session) -> None:
    assert touched(lambda: schedule.call_off(session, note="Storm.")) == RIDGE


def test_a_session_that_goes_to_another_relay_touches_both(touched: Callable, session: Session) -> None:
    def move() -> None:
        session.relay = Relay.objects.get(slug="valley-70cm")
        schedule.amend(session)

    assert touched(move) == RIDGE | {"relay valley-70cm"}


def test_a_session_that_comes_back_touches_both(touched: Callable, session: Session) -> None:
    valley = Relay.objects.get(slug="valley-70cm")
    Session.objects.filter(pk=session.pk).update(relay=valley)
    session.refresh_from_db()

    def back() -> None:
        session.relay = None
        schedule.amend(session)

    assert touched(back) == RIDGE | {"relay valley-70cm"}


def test_a_session_with_somebody_in_the_chair_touches_their_calendar(
    touched: Callable, session: Session, cast: Cast
) -> None:
    Duty.objects.create(session=session, member=cast.net_control, role=Duty.Role.NET_CONTROL)
    feeds.rebuild_changed(now=NOW)
    assert touched(lambda: schedule.call_off(session, note="Storm.")) == RIDGE | {"member QZ2NCS"}


def test_a_duty_touches_its_holder_alone(touched: Callable, session: Session, cast: Cast) -> None:
    give = lambda: Duty.objects.create(session=session, member=cast.net_control, role=Duty.Role.NET_CONTROL)  # noqa: E731
    assert touched(give) == {"member QZ2NCS"}


def test_a_duty_that_changes_hands_touches_both(touched: Callable, session: Session, cast: Cast) -> None:
    duty = Duty.objects.create(session=session, member=cast.net_control, role=Duty.Role.NET_CONTROL)
    feeds.rebuild_changed(now=NOW)

    def hand_over() -> None:
        duty.member = cast.manager
        duty.save()

    assert touched(hand_over) == {"member QZ2NCS", "member QZ2MGR"}


def test_a_net_that_changes_relays_touches_both(touched: Callable, net: Net) -> None:
    def move() -> None:
        net.relay = Relay.objects.get(slug="valley-70cm")
        net.save()

    assert touched(move) == RIDGE | {"relay valley-70cm"}


def test_a_relay_touches_what_meets_on_it(touched: Callable, relay: Relay) -> None:
    assert touched(lambda: relay.save()) == RIDGE


def test_a_net_that_is_deleted_touches_the_club_and_the_relay(touched: Callable, other_net: Net) -> None:
    assert touched(lambda: other_net.delete()) == {"club", "relay valley-70cm"}


def test_somebody_without_a_calendar_touches_nothing(touched: Callable, session: Session) -> None:
    stranger = make_member("QZ2NEW")
    assert touched(lambda: stranger.save()) == set()


def test_what_is_rolled_back_touches_nothing(touched: Callable, session: Session) -> None:
    @transaction.atomic
    def save_and_fail() -> None:
        session.save()
        raise ConnectionError

    def do() -> None:
        with pytest.raises(ConnectionError):
            save_and_fail()

    assert touched(do) == set()


def test_a_touched_calendar_follows(touched: Callable, session: Session) -> None:
    touched(lambda: schedule.call_off(session, note="Storm."))
    assert tasks.rebuild_touched_calendars() >= 3
    assert any(event["STATUS"] == "CANCELLED" for event in events(bytes_of("club")))


# Coalescing ----------------------------------------------------------------------------------------


def test_a_hundred_saves_in_one_transaction_call_one_worker(
    touched: Callable, calls: Calls, session: Session
) -> None:
    touched(lambda: [session.save() for _ in range(100)])
    assert calls.builders == 1


def test_a_hundred_transactions_call_one_worker(touched: Callable, calls: Calls, session: Session) -> None:
    for _ in range(100):
        touched(session.save)
    assert calls.builders == 1


def test_a_hundred_saves_are_built_once(
    touched: Callable, calls: Calls, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    built: list[str] = []
    original = stored.put
    monkeypatch.setattr(
        stored,
        "put",
        lambda work, *args, **kwargs: built.append(work.subject.key) or original(work, *args, **kwargs),
    )
    for _ in range(100):
        touched(session.save)
    feeds.rebuild_touched(now=NOW)
    assert sorted(built) == sorted(set(built))
    assert len(built) == 6  # the club, the net and the relay, each without alarms and with


def test_after_the_building_the_next_save_calls_again(
    touched: Callable, calls: Calls, session: Session
) -> None:
    touched(session.save)
    feeds.rebuild_touched(now=NOW)
    touched(session.save)
    assert calls.builders == 2


def test_what_no_signal_told_of_is_found_by_the_regular_rebuilding(built: Net, session: Session) -> None:
    Session.objects.filter(pk=session.pk).update(state=Session.State.CANCELLED, note="By hand.")
    assert feeds.rebuild_touched(now=NOW) == 0
    assert tasks.rebuild_calendars() >= 3


def test_no_task_is_given_a_secret(key: FeedKey, calls: Calls, monkeypatch: pytest.MonkeyPatch) -> None:
    arguments: list[object] = []
    monkeypatch.setattr(changes, "wake", lambda task, *args, **options: arguments.extend([*args, options]))
    changes.call_builder([stored.Subject(member_id=key.member_id)])
    StoredCalendar.objects.all().delete()
    changes.call_builder([stored.Subject(member_id=key.member_id)])
    assert arguments == [{"countdown_s": changes.GATHER_S}] * 2
