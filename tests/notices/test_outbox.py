"""Claim, gather, stamp, settle: each changes what it should, or nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from clubops.notices import outbox
from clubops.notices.models import Notice
from clubops.notices.outbox import Claim, Outcome
from tests.notices.conftest import NOW, POLICY, SOLITARY

State = Notice.State
SECOND = dt.timedelta(seconds=1)


def take(notice, now=NOW) -> Claim:
    claim = outbox.claim(notice, now=now, policy=POLICY)
    assert claim is not None
    return claim


def state_of(notice) -> str:
    return Notice.objects.get(pk=notice.pk).state


def test_a_notice_is_claimed_once(member, enter):
    notice = enter(member())
    take(notice)
    assert outbox.claim(notice, now=NOW, policy=POLICY) is None


def test_a_notice_is_not_claimed_before_it_is_due(member, enter):
    notice = enter(member(), due_at=NOW + SECOND)
    assert outbox.claim(notice, now=NOW, policy=POLICY) is None
    assert outbox.due(now=NOW, policy=POLICY, limit=9) == []


def test_a_notice_is_not_claimed_when_it_is_too_late(member, enter):
    notice = enter(member(), not_after=NOW)
    assert outbox.claim(notice, now=NOW + SECOND, policy=POLICY) is None


def test_a_claim_lapses_with_its_lease_and_not_before(member, enter):
    notice = enter(member())
    take(notice)
    assert outbox.claim(notice, now=NOW + POLICY.lease - SECOND, policy=POLICY) is None
    assert outbox.claim(notice, now=NOW + POLICY.lease, policy=POLICY) is not None


def test_the_longest_due_comes_first(member, enter):
    person = member()
    late = enter(person, "late", due_at=NOW - SECOND)
    early = enter(person, "early", due_at=NOW - 2 * SECOND)
    assert outbox.due(now=NOW, policy=POLICY, limit=9) == [early, late]


def test_what_is_due_for_the_same_person_is_gathered(member, enter):
    person, other = member(), member()
    lead, second = enter(person, "one"), enter(person, "two")
    enter(person, "later", due_at=NOW + SECOND)
    enter(other, "not mine")
    claim = outbox.gather(take(lead), now=NOW)
    assert claim.companions == (second,)
    assert state_of(second) == State.CLAIMED


def invited(enter, person, count: int) -> list[Notice]:
    return [enter(person, f"turn {number}", kind=SOLITARY) for number in range(count)]


@pytest.mark.parametrize(("count", "together"), [(1, 0), (6, 0), (7, 6), (30, 19)])
def test_what_travels_alone_goes_together_only_when_it_is_many(member, enter, solitary_kind, count, together):
    lead, *_others = invited(enter, member(), count)
    assert len(outbox.gather(take(lead), now=NOW).companions) == together


def test_many_that_travel_alone_take_no_other_kind_along(member, enter, solitary_kind):
    person = member()
    lead, *_others = invited(enter, person, 9)
    plain = enter(person, "a reminder")
    assert plain not in outbox.gather(take(lead), now=NOW).companions
    assert state_of(plain) == State.WAITING


def test_a_plain_notice_takes_none_along_that_travels_alone(member, enter, solitary_kind):
    person = member()
    plain = enter(person, "a reminder")
    invited(enter, person, 9)
    assert outbox.gather(take(plain), now=NOW).companions == ()


def test_a_gathered_notice_is_not_to_be_had_alone(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    outbox.gather(take(lead), now=NOW)
    assert outbox.claim(second, now=NOW + 2 * POLICY.lease, policy=POLICY) is None


def test_a_mail_keeps_its_company_when_it_is_tried_again(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    outbox.gather(take(lead), now=NOW)
    enter(person, "three")
    again = outbox.gather(take(lead, NOW + POLICY.lease), now=NOW + POLICY.lease)
    assert again.companions == (second,)


def test_a_mail_put_off_waits_as_a_whole(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    claim = outbox.gather(take(lead), now=NOW)
    later = Outcome(State.WAITING, "Not now.", NOW + SECOND)
    outbox.settle(claim, dict.fromkeys((lead.pk, second.pk), later), now=NOW)
    assert outbox.due(now=NOW + SECOND, policy=POLICY, limit=9) == [lead]
    assert outbox.claim(second, now=NOW + SECOND, policy=POLICY) is None


def test_settling_closes_the_whole_mail(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    claim = outbox.gather(take(lead), now=NOW)
    settled = outbox.settle(claim, dict.fromkeys((lead.pk, second.pk), Outcome(State.SENT)), now=NOW)
    assert (settled.stood, settled.rows) == (True, 2)
    assert set(Notice.objects.values_list("state", "sent_at")) == {(State.SENT, NOW)}


def test_a_lapsed_claim_settles_nothing(member, enter):
    notice = enter(member())
    slow = take(notice)
    quick = take(notice, NOW + POLICY.lease)
    assert not outbox.settle(slow, {notice.pk: Outcome(State.FAILED, "slow")}, now=NOW).stood
    assert outbox.settle(quick, {notice.pk: Outcome(State.SENT)}, now=NOW).stood
    assert state_of(notice) == State.SENT


def test_a_lapsed_claim_is_not_stamped(member, enter):
    notice = enter(member())
    slow = take(notice)
    take(notice, NOW + POLICY.lease)
    assert not outbox.stamp(slow, {notice.pk: {"title": "slow"}}, now=NOW, policy=POLICY)
    assert Notice.objects.get().told is None


def test_a_lapsed_claim_gathers_nothing(member, enter):
    person = member()
    lead = enter(person, "one")
    slow = take(lead)
    take(lead, NOW + POLICY.lease)
    second = enter(person, "two")
    assert outbox.gather(replace(slow, lead=slow.lead), now=NOW).companions == ()
    assert state_of(second) == State.WAITING


def test_a_row_gathered_too_late_for_the_mail_waits_again(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    outbox.gather(take(lead), now=NOW)
    alone = Claim(Notice.objects.get(pk=lead.pk).claim_token, lead)
    outbox.settle(alone, {lead.pk: Outcome(State.SENT)}, now=NOW)
    second.refresh_from_db()
    assert (second.state, second.carried_by) == (State.WAITING, None)


def test_a_stranded_notice_waits_on_its_own(member, enter):
    person = member()
    lead, second = enter(person, "one"), enter(person, "two")
    outbox.gather(take(lead), now=NOW)
    Notice.objects.filter(pk=lead.pk).update(
        state=State.SENT, sent_at=NOW, claim_token=None, lease_until=None
    )
    assert outbox.free_the_stranded() == 1
    assert outbox.due(now=NOW, policy=POLICY, limit=9) == [second]


def test_what_is_too_late_is_missed(member, enter):
    notice = enter(member(), not_after=NOW)
    assert outbox.mark_missed(now=NOW + SECOND, policy=POLICY) == 1
    notice.refresh_from_db()
    assert (notice.state, notice.error, notice.needs_report) == (State.MISSED, outbox.STILL_WAITING, True)


def test_what_is_being_sent_is_not_missed_yet(member, enter):
    notice = enter(member(), not_after=NOW)
    take(notice)
    assert outbox.mark_missed(now=NOW + SECOND, policy=POLICY) == 0


def test_a_claim_nobody_settled_in_time_is_missed_with_its_company(member, enter):
    person = member()
    lead, _second = enter(person, "one", not_after=NOW), enter(person, "two", not_after=NOW)
    outbox.gather(take(lead), now=NOW)
    assert outbox.mark_missed(now=NOW + POLICY.lease, policy=POLICY) == 2
    assert set(Notice.objects.values_list("state", "error")) == {(State.MISSED, outbox.DIED_SENDING)}


@pytest.mark.parametrize("state", [State.FAILED, State.MISSED])
def test_what_did_not_arrive_can_be_sent_again_once(member, enter, state):
    notice = enter(member())
    Notice.objects.filter(pk=notice.pk).update(state=state, error="Why.", attempts=10)
    assert outbox.resend(Notice.objects.all(), now=NOW) == 1
    assert outbox.resend(Notice.objects.all(), now=NOW) == 0
    notice.refresh_from_db()
    assert (notice.state, notice.attempts, notice.error) == (State.WAITING, 0, "")


def test_what_was_sent_is_never_sent_again(member, enter):
    notice = enter(member())
    outbox.settle(take(notice), {notice.pk: Outcome(State.SENT)}, now=NOW)
    assert outbox.resend(Notice.objects.all(), now=NOW) == 0


def test_nothing_past_is_sent_again(member, enter):
    notice = enter(member(), event_at=NOW)
    Notice.objects.filter(pk=notice.pk).update(state=State.MISSED, error="Why.")
    assert outbox.resend(Notice.objects.all(), now=NOW) == 0


BROKEN_ROWS = {
    "a claim without a lease": {"state": State.CLAIMED},
    "sent without a time": {"state": State.SENT},
    "a time without being sent": {"sent_at": NOW},
    "failed without a reason": {"state": State.FAILED},
    "too late before it is due": {"not_after": NOW - SECOND},
    "a state nobody knows": {"state": "lost"},
}


@pytest.mark.parametrize("columns", BROKEN_ROWS.values(), ids=BROKEN_ROWS)
def test_the_database_refuses(member, enter, columns):
    enter(member())
    with pytest.raises(IntegrityError), transaction.atomic():
        Notice.objects.update(**columns)
