"""One run: what goes out, what waits, what is given up, and what the ledger says of each."""

from __future__ import annotations

import datetime as dt
import smtplib

import pytest
from django.core import mail as outgoing
from django.core.mail.backends.locmem import EmailBackend
from django.db import OperationalError

from clubops.members.models import Member
from clubops.notices import delivery, kinds, mail, outbox
from clubops.notices.models import Choice, Heartbeat, Notice
from clubops.notices.policy import Policy, QuietHours
from tests.notices.conftest import NOW, PLAIN, POLICY

State = Notice.State


class Answering(EmailBackend):
    """A mail server in memory that raises what it is told to, mail by mail; None takes the mail."""

    def __init__(self, *answers, opens_with=None):
        super().__init__()
        self.answers, self.opens_with = list(answers), opens_with

    def open(self):
        if self.opens_with:
            raise self.opens_with

    def send_messages(self, messages):
        answer = self.answers.pop(0) if self.answers else None
        if answer is not None:
            raise answer
        return super().send_messages(messages)


def run(clock, *answers, policy: Policy = POLICY, opens_with=None) -> delivery.Run:
    backend = Answering(*answers, opens_with=opens_with)
    return delivery.send_due(clock=clock, policy=policy, server=mail.MailServer(lambda: backend))


def refused(code: int) -> smtplib.SMTPRecipientsRefused:
    return smtplib.SMTPRecipientsRefused({"x@members.club.example": (code, b"no such mailbox")})


def test_a_due_notice_goes_out_once(member, enter, clock):
    notice = enter(member())
    assert run(clock).sent == 1
    assert run(clock).sent == 0
    notice.refresh_from_db()
    assert (notice.state, notice.sent_at, notice.told) == (State.SENT, NOW, {"title": "the net"})
    assert [each.extra_headers["Message-ID"] for each in outgoing.outbox] == [notice.message_id]


def test_several_notices_of_one_person_go_as_one_mail(member, enter, clock):
    person = member()
    notices = [enter(person, title) for title in ("one", "two", "three")]
    assert run(clock).sent == 3
    assert [each.subject for each in outgoing.outbox] == ["one (and 2 more)"]
    assert {each.carried_by for each in Notice.objects.all()} == {None, notices[0]}


def test_who_wants_single_mails_gets_single_mails(member, enter, clock):
    person = member()
    Choice.objects.create(member=person, one_mail=False)
    for title in ("one", "two"):
        enter(person, title)
    run(clock)
    assert [each.subject for each in outgoing.outbox] == ["one", "two"]


def test_two_people_get_two_mails(member, enter, clock):
    for person in (member(), member()):
        enter(person)
    run(clock)
    assert len({each.to[0] for each in outgoing.outbox}) == 2


def test_what_is_no_longer_true_is_withdrawn(member, enter, clock):
    notice = enter(member(), "untrue")
    assert run(clock).withdrawn == 1
    notice.refresh_from_db()
    assert (notice.state, notice.error, outgoing.outbox) == (State.WITHDRAWN, "It has changed.", [])


def test_what_is_true_goes_without_what_is_not(member, enter, clock):
    person = member()
    enter(person, "untrue")
    enter(person, "true")
    run(clock)
    assert [each.subject for each in outgoing.outbox] == ["true"]
    assert sorted(Notice.objects.values_list("state", flat=True)) == [State.SENT, State.WITHDRAWN]


def test_a_fault_in_one_kind_does_not_stop_the_others(member, enter, clock):
    person = member()
    broken, fine = enter(person, "broken"), enter(person, "fine")
    run(clock)
    assert [each.subject for each in outgoing.outbox] == ["fine"]
    assert outgoing.outbox[0].extra_headers["Message-ID"] == fine.message_id
    broken.refresh_from_db()
    assert (broken.state, broken.attempts) == (State.WAITING, 1)
    assert broken.error == "It could not be written: a fault in the program"


def test_a_kind_nobody_knows_is_tried_again_and_given_up(member, enter, clock):
    notice = enter(member(), kind="forgotten", not_after=NOW + dt.timedelta(days=30))
    for _ in range(POLICY.most_attempts):
        run(clock)
        clock.forward(hours=3)
    notice.refresh_from_db()
    assert notice.state == State.FAILED
    assert notice.error.startswith("Given up after 10 tries. It could not be written: Nothing here knows")


@pytest.mark.parametrize(
    ("given", "state", "reason"),
    [
        ({"email": ""}, State.FAILED, "There is no mail address on the roster."),
        ({"email_problem": "550"}, State.FAILED, "Mail to this address was refused before: 550"),
        ({"is_active": False}, State.WITHDRAWN, "The recipient is no longer an active member."),
        ({"wants_reminders": False}, State.WITHDRAWN, "The recipient has unsubscribed from this."),
    ],
)
def test_nothing_is_sent_to(member, enter, clock, given, state, reason):
    enter(member(**given))
    run(clock)
    assert outgoing.outbox == []
    assert Notice.objects.values_list("state", "error").get(kind=PLAIN) == (state, reason)


def test_a_refused_address_is_given_up_at_once_and_shown(member, enter, clock):
    person = member()
    notice = enter(person)
    assert run(clock, refused(550)).failed == 1
    notice.refresh_from_db()
    person.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.FAILED, 1)
    assert person.email_problem == "The address was refused: 550 no such mailbox (03 March 2026)."


def test_a_refused_mail_does_not_blame_the_address(member, enter, clock):
    person = member()
    enter(person)
    assert run(clock, smtplib.SMTPDataError(554, b"no")).failed == 1
    assert Member.objects.get(pk=person.pk).email_problem == ""


@pytest.mark.parametrize(
    "answer",
    [
        refused(450),
        smtplib.SMTPDataError(451, b"later"),
        smtplib.SMTPSenderRefused(550, b"not from you", "officers@club.example"),
        smtplib.SMTPServerDisconnected("gone"),
        TimeoutError("timed out"),
        ConnectionResetError("reset"),
    ],
    ids=lambda answer: type(answer).__name__,
)
def test_a_passing_trouble_is_tried_again_later(member, enter, clock, answer):
    notice = enter(member())
    assert run(clock, answer).put_off == 1
    notice.refresh_from_db()
    assert notice.state == State.WAITING
    assert dt.timedelta(seconds=45) <= notice.next_try_at - NOW <= dt.timedelta(seconds=75)
    clock.forward(minutes=2)
    assert run(clock).sent == 1


def test_tries_end_after_the_stated_number(member, enter, clock):
    notice = enter(member(), not_after=NOW + dt.timedelta(days=30))
    tries = 0
    while notice.state == State.WAITING:
        run(clock, refused(450))
        clock.forward(hours=3)
        notice.refresh_from_db()
        tries += 1
    assert (tries, notice.state) == (POLICY.most_attempts, State.FAILED)
    assert notice.error.startswith("Given up after 10 tries. The address was refused: 450")


def test_the_last_try_is_not_put_off_past_its_time(member, enter, clock):
    notice = enter(member(), not_after=NOW + dt.timedelta(seconds=20))
    run(clock, refused(450))
    notice.refresh_from_db()
    assert notice.next_try_at == notice.not_after


def test_a_mail_that_is_tried_again_is_the_same_mail(member, enter, clock):
    person = member()
    first, _second = enter(person, "one"), enter(person, "two")
    run(clock, TimeoutError())
    enter(person, "three", due_at=NOW + dt.timedelta(minutes=1))
    clock.forward(minutes=2)
    run(clock)
    told = {each.extra_headers["Message-ID"]: each.subject for each in outgoing.outbox}
    assert told[first.message_id] == "one (and 1 more)"
    assert sorted(told.values()) == ["one (and 1 more)", "three"]


def test_an_outage_costs_no_notice_a_try(member, enter, clock):
    notice = enter(member())
    for _ in range(120):
        assert run(clock, opens_with=ConnectionRefusedError("refused")).problem
        clock.forward(seconds=30)
    notice.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.WAITING, 0)
    assert run(clock).sent == 1
    assert len(outgoing.outbox) == 1


def test_an_outage_is_written_where_people_look(member, enter, clock):
    enter(member())
    run(clock, opens_with=smtplib.SMTPAuthenticationError(535, b"bad password"))
    assert Heartbeat.objects.get().problem == "The mail server cannot be reached: 535 bad password."


def test_a_run_ends_when_its_time_is_over(member, enter, clock):
    enter(member())
    done = run(clock, policy=Policy(run=dt.timedelta(0)))
    assert (done.sent, done.is_more) == (0, True)


NIGHT = Policy(quiet=QuietHours(dt.time(11), dt.time(13)))  # at noon of New York it is "night"


def test_quiet_hours_hold_what_can_wait(member, enter, clock):
    enter(member())
    assert run(clock, policy=NIGHT).held == 1
    assert outgoing.outbox == []
    clock.forward(hours=1)
    assert run(clock, policy=NIGHT).sent == 1


def test_quiet_hours_are_those_of_the_recipient(member, enter, clock):
    enter(member(zone="Australia/Lord_Howe"))
    assert run(clock, policy=NIGHT).sent == 1


def test_a_persons_own_quiet_hours_count_instead(member, enter, clock):
    person = member()
    Choice.objects.create(member=person, quiet_from=dt.time(20), quiet_until=dt.time(6))
    enter(person)
    assert run(clock, policy=NIGHT).sent == 1


def test_what_is_about_the_coming_hours_is_not_held(member, enter, clock):
    enter(member(), event_at=NOW + dt.timedelta(hours=2))
    assert run(clock, policy=NIGHT).sent == 1


def test_what_would_be_too_late_is_not_held(member, enter, clock):
    enter(member(), not_after=NOW + dt.timedelta(minutes=30))
    assert run(clock, policy=NIGHT).sent == 1


def test_an_urgent_kind_is_not_held(member, enter, clock, monkeypatch, plain_kind):
    urgent = kinds.Kind(PLAIN, plain_kind.words, plain_kind.render, is_urgent=True)
    monkeypatch.setitem(kinds._KINDS, PLAIN, urgent)
    enter(member())
    assert run(clock, policy=NIGHT).sent == 1


@pytest.mark.django_db(transaction=True)  # a lost connection is dropped, which ends any transaction around it
def test_what_has_been_sent_is_settled_when_the_database_comes_back(member, enter, clock, monkeypatch):
    notice, settle, failures = enter(member()), outbox.settle, [OperationalError("restarting")] * 3

    def away(*given, **named):
        if failures:
            raise failures.pop()
        return settle(*given, **named)

    monkeypatch.setattr(outbox, "settle", away)
    monkeypatch.setattr(delivery, "SETTLE_PAUSE_S", 0)
    assert run(clock).sent == 1
    notice.refresh_from_db()
    assert (notice.state, len(outgoing.outbox)) == (State.SENT, 1)


def test_a_claim_that_lapsed_while_writing_sends_nothing(member, enter, clock, monkeypatch, plain_kind):
    def slowly(notice, now):
        clock.forward(minutes=11)
        other = outbox.claim(notice, now=clock(), policy=POLICY)
        outbox.settle(other, {notice.pk: outbox.Outcome(State.SENT)}, now=clock())
        return plain_kind.render(notice, now)

    monkeypatch.setitem(kinds._KINDS, PLAIN, kinds.Kind(PLAIN, plain_kind.words, slowly))
    enter(member())
    assert run(clock).sent == 0
    assert outgoing.outbox == []
