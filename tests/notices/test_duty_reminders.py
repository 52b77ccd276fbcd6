"""Seven days, one day, two hours: what the ledger holds about duties, and how it follows them."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.notices.models import Notice
from clubops.notices.wanted import Reconciled
from nets import duties, schedule
from nets.models import Duty, Net, Session
from nets.reminders import timing, wishes
from nets.reminders.history import REMINDER
from tests.conftest import NOW, Cast, make_member

State = Notice.State
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
LONG_AGO = NOW - 30 * DAY


@pytest.fixture
def in_three_weeks(net: Net) -> Session:
    """Tuesday 24 March, when New York is on summer time; no other session is near."""
    schedule.plan_sessions(net, now=NOW)
    schedule.call_off(net.sessions.get(occurrence_date=dt.date(2026, 3, 3)), note="So that none is near.")
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 24))


def give(session: Session, member, role=Duty.Role.NET_CONTROL, *, at=LONG_AGO, **fields) -> Duty:
    duty = Duty.objects.create(session=session, role=role, member=member, **fields)
    Duty.objects.filter(pk=duty.pk).update(assigned_at=at)
    duty.refresh_from_db()
    return duty


def reminders(state=State.WAITING):
    return Notice.objects.filter(kind=REMINDER, state=state).order_by("due_at")


def test_the_rules_follow_each_other_without_gap_or_overlap():
    start = NOW + 30 * DAY
    first, second, third = timing.reminders(start, LONG_AGO)
    assert [start - each.due_at for each in (first, second, third)] == [7 * DAY, DAY, 2 * HOUR]
    assert (first.not_after, second.not_after, third.not_after) == (second.due_at, third.due_at, start)


@pytest.mark.parametrize(
    ("given_before", "rules"),
    [
        (10 * DAY, ["week", "day", "two hours"]),
        (3 * DAY, ["week", "day", "two hours"]),
        (DAY, ["day", "two hours"]),
        (3 * HOUR, ["day", "two hours"]),
        (HOUR, ["two hours"]),
        (dt.timedelta(0), []),
    ],
)
def test_a_duty_given_late_is_told_of_at_once_and_once(given_before, rules):
    start = NOW + 30 * DAY
    found = list(timing.reminders(start, start - given_before))
    assert [each.rule for each in found] == rules
    if rules:
        assert found[0].due_at >= start - given_before


def test_both_chairs_are_reminded_three_times(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control)
    give(in_three_weeks, cast.member, Duty.Role.BACKUP)
    wishes.top_up(now=NOW)
    assert reminders().count() == 6
    start = in_three_weeks.starts_at
    assert [start - row.due_at for row in reminders().filter(recipient=cast.member)] == [
        7 * DAY,
        DAY,
        2 * HOUR,
    ]


def test_topping_up_again_changes_nothing(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control)
    wishes.top_up(now=NOW)
    before = list(Notice.objects.values())
    assert wishes.top_up(now=NOW + HOUR) == Reconciled()
    assert list(Notice.objects.values()) == before


def test_reminders_keep_to_the_wall_clock_across_the_change(net: Net, cast: Cast):
    """The session of 10 March is two days after clocks go forward, its seven days before are not."""
    schedule.plan_sessions(net, now=NOW)
    session = net.sessions.get(occurrence_date=dt.date(2026, 3, 10))
    assert session.starts_at == dt.datetime(2026, 3, 10, 23, 30, tzinfo=dt.UTC)
    give(session, cast.net_control)
    wishes.top_up(now=NOW)
    assert reminders().first().due_at == dt.datetime(2026, 3, 3, 23, 30, tzinfo=dt.UTC)


def test_a_moved_session_takes_its_reminders_along(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control)
    wishes.top_up(now=NOW)
    Session.objects.filter(pk=in_three_weeks.pk).update(
        starts_at=in_three_weeks.starts_at + DAY, ends_at=in_three_weeks.ends_at + DAY
    )
    assert wishes.top_up(now=NOW) == Reconciled(moved=3)
    assert in_three_weeks.starts_at + DAY - reminders().last().due_at == 2 * HOUR


def test_a_session_called_off_withdraws_and_put_back_revives(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control)
    wishes.top_up(now=NOW)
    schedule.call_off(in_three_weeks, note="Storm.")
    assert wishes.top_up(now=NOW).withdrawn == 3
    schedule.restore(in_three_weeks)
    assert wishes.top_up(now=NOW).revived == 3


def test_a_declined_duty_is_not_reminded_of(in_three_weeks, cast: Cast):
    duty = give(in_three_weeks, cast.net_control)
    wishes.top_up(now=NOW)
    duties.answer(duty, confirmed=False, now=NOW)
    assert wishes.top_up(now=NOW).withdrawn == 3


def test_a_duty_given_to_another_reminds_the_other(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control).delete()
    wishes.top_up(now=NOW)
    give(in_three_weeks, cast.member)
    wishes.top_up(now=NOW)
    assert set(reminders().values_list("recipient", flat=True)) == {cast.member.pk}


def test_a_rota_made_again_with_the_same_people_reminds_nobody_twice(in_three_weeks, cast: Cast):
    give(in_three_weeks, cast.net_control)
    wishes.top_up(now=NOW)
    Notice.objects.update(state=State.SENT, sent_at=NOW)
    Duty.objects.all().delete()
    give(in_three_weeks, cast.net_control, at=NOW)
    assert wishes.top_up(now=NOW).made == 0


def test_a_net_that_rests_reminds_nobody(in_three_weeks, net: Net, cast: Cast):
    give(in_three_weeks, cast.net_control)
    Net.objects.update(is_active=False)
    assert wishes.top_up(now=NOW) == Reconciled()


def test_members_who_left_are_not_reminded(in_three_weeks):
    give(in_three_weeks, make_member("QZ2GON", is_active=False))
    wishes.top_up(now=NOW)
    assert not reminders().exists()
