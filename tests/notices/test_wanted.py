"""The ledger follows the rules: made, moved, withdrawn, revived, and never twice."""

from __future__ import annotations

import datetime as dt

from clubops.notices import outbox, wanted
from clubops.notices.models import Choice, Notice
from clubops.notices.outbox import Outcome
from clubops.notices.wanted import Reconciled, reconcile
from tests.notices.conftest import NOW, PLAIN, POLICY, wish

State = Notice.State
HOUR = dt.timedelta(hours=1)


def follow(*wishes, now=NOW) -> Reconciled:
    return reconcile(wishes, kinds=[PLAIN], now=now)


def test_a_wish_is_entered_once(member, plain_kind):
    asked = wish(member())
    assert wanted.enqueue(asked, now=NOW)
    assert not wanted.enqueue(asked, now=NOW)
    assert Notice.objects.count() == 1


def test_the_same_wishes_change_nothing(member, plain_kind):
    wishes = [wish(member(), due_at=NOW + HOUR) for _ in range(3)]
    assert follow(*wishes) == Reconciled(made=3)
    before = list(Notice.objects.values())
    assert follow(*wishes) == Reconciled()
    assert list(Notice.objects.values()) == before


def test_a_moved_subject_takes_its_notice_along(member, plain_kind):
    person = member()
    follow(wish(person, due_at=NOW + HOUR))
    assert follow(wish(person, due_at=NOW + 5 * HOUR)) == Reconciled(moved=1)
    assert Notice.objects.get().next_try_at == NOW + 5 * HOUR


def test_a_held_notice_stays_held_when_only_its_title_changes(member, plain_kind):
    person = member()
    follow(wish(person, due_at=NOW))
    outbox.hold(Notice.objects.get(), until=NOW + HOUR)
    follow(wish(person, due_at=NOW, key=Notice.objects.get().key, title="the net, renamed"))
    assert Notice.objects.values_list("title", "next_try_at").get() == ("the net, renamed", NOW + HOUR)


def test_what_nobody_wants_is_withdrawn_with_a_reason(member, plain_kind):
    follow(wish(member(), due_at=NOW + HOUR))
    assert follow() == Reconciled(withdrawn=1)
    assert Notice.objects.values_list("state", "error").get() == (State.WITHDRAWN, wanted.VANISHED)


def test_other_kinds_are_left_alone(member, plain_kind):
    wanted.enqueue(wish(member(), kind="another"), now=NOW)
    assert follow() == Reconciled()


def test_a_withdrawn_notice_waits_again_when_it_is_wanted_again(member, plain_kind):
    asked = wish(member(), due_at=NOW + HOUR)
    follow(asked)
    follow()
    assert follow(asked) == Reconciled(revived=1)
    assert Notice.objects.values_list("state", "error").get() == (State.WAITING, "")


def test_a_sent_notice_stays_sent(member, plain_kind):
    asked = wish(member())
    follow(asked)
    claim = outbox.claim(Notice.objects.get(), now=NOW, policy=POLICY)
    outbox.settle(claim, {claim.lead.pk: Outcome(State.SENT)}, now=NOW)
    assert follow(wish(claim.lead.recipient, due_at=NOW + HOUR)) == Reconciled()
    assert follow() == Reconciled()
    assert Notice.objects.get().state == State.SENT


def test_a_notice_being_sent_is_left_alone(member, plain_kind):
    follow(wish(member()))
    outbox.claim(Notice.objects.get(), now=NOW, policy=POLICY)
    assert follow() == Reconciled()
    assert Notice.objects.get().state == State.CLAIMED


def test_a_notice_an_officer_sends_again_is_left_alone(member, plain_kind):
    follow(wish(member()))
    Notice.objects.update(state=State.FAILED, error="Why.")
    outbox.resend(Notice.objects.all(), now=NOW)
    assert follow() == Reconciled()


def test_a_wish_that_comes_too_late_is_no_wish(member, plain_kind):
    assert follow(wish(member(), due_at=NOW - 2 * HOUR, not_after=NOW)) == Reconciled()


def test_what_is_too_late_is_left_to_be_missed(member, plain_kind):
    follow(wish(member(), not_after=NOW + HOUR))
    assert follow(now=NOW + 2 * HOUR) == Reconciled()
    assert Notice.objects.get().state == State.WAITING


def test_nothing_is_made_for_who_has_unsubscribed(member, plain_kind):
    silent, choosy = member(wants_reminders=False), member()
    Choice.objects.create(member=choosy, unwanted=[PLAIN])
    assert follow(wish(silent), wish(choosy)) == Reconciled()


def test_who_unsubscribes_loses_what_was_coming(member, plain_kind):
    person = member()
    asked = wish(person, due_at=NOW + HOUR)
    follow(asked)
    person.wants_reminders = False
    person.save()
    assert follow(asked) == Reconciled(withdrawn=1)
    assert Notice.objects.get().error == wanted.UNWANTED


def test_a_wish_without_a_time_is_due_when_it_is_first_seen(member, plain_kind):
    asked = wish(member(), due_at=None, not_after=NOW + 9 * HOUR)
    follow(asked)
    assert follow(asked, now=NOW + HOUR) == Reconciled()
    assert Notice.objects.get().due_at == NOW


def test_the_message_id_is_minted_from_the_key(settings):
    settings.DEFAULT_FROM_EMAIL = "The Club <post@club.example>"
    first = wanted.mint_message_id("a")
    assert first == wanted.mint_message_id("a") != wanted.mint_message_id("b")
    assert first.startswith("<")
    assert first.endswith("@club.example>")


def test_another_club_mints_other_message_ids(settings):
    ours = wanted.mint_message_id("a")
    settings.SECRET_KEY = "another club's secret"
    assert wanted.mint_message_id("a") != ours
