"""The answers of a real mail server, and what the ledger makes of them."""

from __future__ import annotations

import datetime as dt
import time

import pytest
from django.core.mail import get_connection

from clubops.members.models import Member
from clubops.notices import delivery, mail
from clubops.notices.models import Notice
from tests.notices.conftest import POLICY
from tests.notices.smtp_server import Post, free_port, serving

State = Notice.State
TIMEOUT_S = 0.3


def run(clock, port: int) -> delivery.Run:
    def connect():
        return get_connection(
            "django.core.mail.backends.smtp.EmailBackend", host="127.0.0.1", port=port, timeout=TIMEOUT_S
        )

    return delivery.send_due(clock=clock, policy=POLICY, server=mail.MailServer(connect))


class answers:
    """Give these replies at that step, one a time, then the usual ones."""

    def __init__(self, step: str, *replies: str) -> None:
        self.step, self.left = step, list(replies)

    def __call__(self, step, envelope):
        return self.left.pop(0) if step == self.step and self.left else None


def test_a_notice_arrives(member, enter, clock):
    notice, post = enter(member()), Post()
    with serving(post) as port:
        assert run(clock, port).sent == 1
    assert post.ids == {notice.message_id: 1}


@pytest.mark.parametrize(
    ("step", "reply", "state", "reason"),
    [
        (
            "RCPT",
            "550 5.1.1 no such mailbox",
            State.FAILED,
            "The address was refused: 550 5.1.1 no such mailbox.",
        ),
        ("RCPT", "450 4.2.1 try later", State.WAITING, "The address was refused: 450 4.2.1 try later."),
        ("RCPT", "421 4.3.2 closing", State.WAITING, "The address was refused: 421 4.3.2 closing."),
        ("DATA", "554 5.7.1 not this", State.FAILED, "The mail was refused: 554 5.7.1 not this."),
        ("DATA", "452 4.3.1 disk full", State.WAITING, "The mail was refused: 452 4.3.1 disk full."),
        ("DATA", "drop", State.WAITING, "The mail server broke off before it said whether it had the mail"),
        ("RCPT", "drop", State.WAITING, "The mail server broke off before it said whether it had the mail"),
        (
            "DATA",
            "stall 1",
            State.WAITING,
            "The mail server broke off before it said whether it had the mail",
        ),
        (
            "RCPT",
            "stall 1",
            State.WAITING,
            "The mail server broke off before it said whether it had the mail",
        ),
    ],
)
def test_the_server_says_no(member, enter, clock, step, reply, state, reason):
    notice, post = enter(member()), Post(answers(step, reply))
    with serving(post) as port:
        run(clock, port)
    notice.refresh_from_db()
    assert (notice.state, post.taken) == (state, [])
    assert notice.error.startswith(reason)


@pytest.mark.parametrize("reply", ["450 later", "421 closing", "drop", "stall 1"])
def test_trouble_with_one_does_not_touch_the_next(member, enter, clock, reply):
    first, second, post = enter(member()), enter(member()), Post(answers("RCPT", reply))
    with serving(post) as port:
        run(clock, port)
        assert post.ids == {second.message_id: 1}
        clock.forward(minutes=2)
        run(clock, port)
    assert post.ids == {first.message_id: 1, second.message_id: 1}


def test_a_refused_address_is_not_written_to_again(member, enter, clock):
    person, replies = member(), answers("RCPT", "550 no", "550 no")
    enter(person, "one")
    with serving(Post(replies)) as port:
        run(clock, port)
        assert Member.objects.get(pk=person.pk).email_problem.startswith("The address was refused: 550 no")
        enter(person, "two")
        Notice.objects.update(needs_report=False)  # no report to the manager in between
        run(clock, port)
    assert replies.left == ["550 no"]
    assert Notice.objects.get(title="two").error.startswith("Mail to this address was refused before: The")


def test_an_answer_that_is_lost_is_the_one_way_to_a_repeat(member, enter, clock):
    """The server has the mail and cannot say so: the mail is sent again, and can be recognised."""
    notice, post = enter(member()), Post(answers("DATA", "drop after taking"))
    with serving(post) as port:
        run(clock, port)
        clock.forward(minutes=2)
        run(clock, port)
    assert post.ids == {notice.message_id: 2}


def test_an_answer_that_comes_late_is_still_an_answer(member, enter, clock):
    post = Post()
    post.delay_s = TIMEOUT_S / 3
    notice = enter(member())
    with serving(post) as port:
        assert run(clock, port).sent == 1
    assert post.ids == {notice.message_id: 1}


def test_no_server_at_all_costs_nothing(member, enter, clock):
    notice = enter(member())
    began = time.monotonic()
    assert run(clock, free_port()).problem.startswith("The mail server cannot be reached:")
    assert time.monotonic() - began < 5
    notice.refresh_from_db()
    assert notice.attempts == 0


def test_an_hour_without_a_mail_server_loses_and_doubles_nothing(member, enter, clock):
    notices, port = [enter(member()) for _ in range(5)], free_port()
    for _ in range(120):
        assert run(clock, port).problem
        clock.forward(seconds=30)
    post = Post()
    with serving(post, port):
        run(clock, port)
    assert post.ids == dict.fromkeys((each.message_id for each in notices), 1)


def test_many_mails_go_over_several_connections(member, enter, clock, monkeypatch):
    monkeypatch.setattr(mail, "MAILS_A_CONNECTION", 3)
    notices, post = [enter(member()) for _ in range(10)], Post()
    with serving(post) as port:
        assert run(clock, port).sent == 10
    assert post.ids == dict.fromkeys((each.message_id for each in notices), 1)


def test_a_grey_listing_server_gets_the_mail_in_the_end(member, enter, clock):
    notice, post = enter(member()), Post(answers("RCPT", *["450 later"] * 4))
    with serving(post) as port:
        began = clock()
        while notice.state == State.WAITING:
            run(clock, port)
            clock.forward(seconds=30)
            notice.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.SENT, 5)
    assert notice.sent_at - began < dt.timedelta(minutes=20)
