"""Old rows go, and nothing is sent twice because its row went."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.notices import delivery, health, outbox, pruning, wanted
from clubops.notices.models import Heartbeat, Notice
from tests.notices.conftest import NOW, PLAIN, POLICY, wish

State = Notice.State
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
KEEP = 400 * DAY
LATER = NOW + KEEP + 2 * DAY


def prune(now: dt.datetime = LATER, **given: int) -> int:
    return pruning.prune(now=now, keep=KEEP, **given)


def close(notice: Notice, state: str = State.SENT, **columns: object) -> Notice:
    values = {"sent_at": NOW} if state == State.SENT else {"error": "A reason."}
    Notice.objects.filter(pk=notice.pk).update(state=state, **(values | columns))
    return notice


@pytest.mark.parametrize("state", pruning.CLOSED)
def test_a_closed_notice_goes_when_it_has_been_past_for_long(member, enter, state):
    close(enter(member()), state)
    assert (prune(NOW + KEEP), prune()) == (0, 1)


@pytest.mark.parametrize("columns", [{"needs_report": True}, {"event_at": LATER - KEEP + DAY}])
def test_what_is_unreported_or_about_something_later_stays(member, enter, columns):
    close(enter(member()), State.MISSED, **columns)
    assert prune() == 0


def test_what_still_waits_is_never_pruned(member, enter):
    enter(member())
    assert prune() == 0


def test_a_mail_stays_as_long_as_one_of_its_notices(member, enter):
    person = member()
    lead, young = close(enter(person)), enter(person, "young", not_after=LATER)
    close(young, carried_by=lead)
    assert (prune(), Notice.objects.count()) == (0, 2)
    close(young, not_after=NOW)
    assert (prune(), Notice.objects.count()) == (2, 0)


def test_a_run_is_bounded_and_the_next_one_finds_the_rest(member, enter):
    person = member()
    for title in "abc":
        close(enter(person, title))
    assert [prune(most=2), prune(most=2), prune(most=2)] == [2, 1, 0]


def test_the_same_wish_after_pruning_makes_nothing(member, plain_kind, mailoutbox, clock):
    """The key's row is gone; its time is over, so it is not made again, and no mail goes."""
    asked = wish(member())
    wanted.reconcile([asked], kinds=[PLAIN], now=NOW)
    delivery.send_due(clock=clock, policy=POLICY)
    assert prune() == 1
    clock.now = LATER
    assert wanted.reconcile([asked], kinds=[PLAIN], now=LATER).made == 0
    delivery.send_due(clock=clock, policy=POLICY)
    assert len(mailoutbox) == 1


def test_a_rule_that_wants_something_for_ever_keeps_its_row(member, plain_kind, mailoutbox, clock):
    """A wish whose end moves on with the clock would be sent once more if its row were pruned."""
    person = member()
    for months in range(24):
        clock.now = NOW + months * 30 * DAY
        wanted.reconcile(
            [wish(person, due_at=None, not_after=clock.now + 40 * DAY)], kinds=[PLAIN], now=clock.now
        )
        delivery.send_due(clock=clock, policy=POLICY)
        prune(clock.now)
    assert (len(mailoutbox), Notice.objects.count()) == (1, 1)


def test_a_report_outlives_what_it_reported_on(member, enter):
    person = member()
    report = enter(person, "report", not_after=LATER)
    close(enter(person), State.FAILED, report=report)
    assert prune() == 1
    assert Notice.objects.get() == report


def test_sending_again_during_pruning_keeps_the_row(member, enter):
    close(enter(member()), State.FAILED)
    outbox.resend(Notice.objects.all(), now=NOW)
    assert prune() == 0


# The clock -------------------------------------------------------------------------------------------


def begin(now: dt.datetime) -> bool:
    health.beat(health.PLANNING, now=now)
    return pruning.may_begin(now=now)


def test_the_first_run_after_a_jump_or_a_silence_only_looks_at_the_clock(db):
    jumped = NOW + 700 * DAY
    times = [NOW, NOW + 6 * HOUR, jumped, jumped + 6 * HOUR, NOW + 12 * HOUR, NOW + 18 * HOUR]
    assert [begin(at) for at in times] == [False, True, False, True, False, True]


def test_nothing_is_pruned_while_the_rules_are_silent(db):
    begin(NOW)
    assert not pruning.may_begin(now=NOW + 6 * HOUR)
    assert Heartbeat.objects.get(pk=health.PRUNING).ran_at == NOW + 6 * HOUR
