"""A chair in doubt: told to the backup, then to the net manager, and not once it is settled."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core import mail as outgoing

from clubops.notices.models import Notice
from nets import duties, schedule
from nets.models import Absence, Duty, Net, Session
from nets.reminders import wishes
from tests.conftest import NOW, Cast, make_member
from tests.notices.conftest import TestClock
from tests.notices.test_duty_letters import run, to
from tests.notices.test_duty_reminders import give

State = Notice.State
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture
def at() -> TestClock:
    return TestClock()


@pytest.fixture
def next_week(net: Net, session: Session) -> Session:
    schedule.call_off(session, note="Tonight's empty chairs are not what these tests are about.")
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 10))


def doubts(member) -> list[Notice]:
    kinds = [wishes.IN_DOUBT_BACKUP, wishes.IN_DOUBT_MANAGER]
    return list(Notice.objects.filter(recipient=member, kind__in=kinds, state=State.SENT))


def both_chairs(session: Session, cast: Cast) -> tuple[Duty, Duty]:
    control = give(session, cast.net_control)
    return control, give(session, cast.member, Duty.Role.BACKUP, state=Duty.State.CONFIRMED)


def test_the_backup_hears_36_hours_before_and_the_manager_24(next_week, cast: Cast, at):
    both_chairs(next_week, cast)
    at.now = next_week.starts_at - 37 * HOUR
    run(at)
    assert (doubts(cast.member), doubts(cast.manager)) == ([], [])
    at.now = next_week.starts_at - 36 * HOUR
    run(at)
    assert (len(doubts(cast.member)), len(doubts(cast.manager))) == (1, 0)
    at.now = next_week.starts_at - 24 * HOUR
    run(at)
    run(at)
    assert (len(doubts(cast.member)), len(doubts(cast.manager))) == (1, 1)
    assert "QZ2NCS has not said yet whether they will be there." in to(cast.manager)[-1].body


def test_a_confirmed_chair_is_in_no_doubt(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    duties.answer(control, confirmed=True, now=NOW)
    at.now = next_week.starts_at - 20 * HOUR
    run(at)
    assert (doubts(cast.member), doubts(cast.manager)) == ([], [])


def test_a_doubt_settled_before_it_was_sent_is_withdrawn(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    at.now = next_week.starts_at - 20 * HOUR
    wishes.top_up(now=at())
    duties.answer(control, confirmed=True, now=at())
    run(at)
    assert (doubts(cast.member), doubts(cast.manager)) == ([], [])


def test_without_a_backup_the_manager_hears_at_once(next_week, cast: Cast, at):
    give(next_week, cast.net_control)
    at.now = next_week.starts_at - 36 * HOUR
    run(at)
    assert len(doubts(cast.manager)) == 1


def test_a_declined_duty_is_told_to_the_manager_at_once(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    duties.answer(control, confirmed=False, now=NOW)
    run(at)
    assert (len(doubts(cast.manager)), doubts(cast.member)) == (1, [])
    assert "QZ2NCS cannot be there." in to(cast.manager)[-1].body


def test_days_away_over_a_confirmed_chair_are_told_to_the_manager_at_once(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    duties.answer(control, confirmed=True, now=NOW)
    day = next_week.occurrence_date
    absence = Absence.objects.create(member=cast.net_control, first_date=day, last_date=day)
    run(at)
    assert (len(doubts(cast.manager)), doubts(cast.member)) == (1, [])
    assert "QZ2NCS will be away by their own calendar" in to(cast.manager)[-1].body
    absence.delete()
    at.now = next_week.starts_at - 24 * HOUR
    run(at)
    assert len(doubts(cast.manager)) == 1


def test_the_backup_hears_of_a_declined_chair_when_it_is_near(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    duties.answer(control, confirmed=False, now=NOW)
    at.now = next_week.starts_at - 30 * HOUR
    run(at)
    assert len(doubts(cast.member)) == 1
    assert "Please be ready to take the chair." in to(cast.member)[-1].body


def test_who_declines_twice_is_told_of_twice(next_week, cast: Cast, at):
    control, _backup = both_chairs(next_week, cast)
    for confirmed in (False, True, False):
        duties.answer(control, confirmed=confirmed, now=NOW)
        run(at)
    assert len(doubts(cast.manager)) == 2


def test_an_empty_chair_is_told_to_the_manager(next_week, cast: Cast, at):
    at.now = next_week.starts_at - 30 * HOUR
    run(at)
    assert len(doubts(cast.manager)) == 1
    assert "Nobody is down for it." in to(cast.manager)[-1].body


def test_unsubscribing_warns_the_manager_of_who_holds_a_duty(next_week, cast: Cast, at):
    cast.net_control.wants_reminders = False
    cast.net_control.save()
    give(next_week, cast.net_control, state=Duty.State.CONFIRMED)
    run(at)
    run(at)
    assert len(doubts(cast.manager)) == 1
    assert "has switched reminders off" in to(cast.manager)[-1].body


def test_unsubscribing_without_a_duty_warns_nobody(next_week, cast: Cast, at):
    cast.net_control.wants_reminders = False
    cast.net_control.save()
    run(at)
    assert outgoing.outbox == []


def test_a_holder_who_left_the_club_is_told_of(next_week, cast: Cast, at):
    give(next_week, make_member("QZ2GON", is_active=False), state=Duty.State.CONFIRMED)
    run(at)
    assert "QZ2GON is no longer an active member." in to(cast.manager)[-1].body


def test_a_manager_is_not_warned_of_themselves(next_week, cast: Cast, at):
    give(next_week, cast.manager)
    at.now = next_week.starts_at - 20 * HOUR
    run(at)
    assert doubts(cast.manager) == []
    assert len(doubts(cast.officer)) == 1


def test_a_missed_reminder_is_told_to_the_manager(next_week, cast: Cast, at):
    give(next_week, cast.net_control)
    wishes.top_up(now=NOW)
    at.now = next_week.starts_at + DAY
    run(at)
    (report,) = to(cast.manager)
    assert report.subject == "3 notices did not arrive"
    assert to(cast.net_control) == []
