"""The story of a chair on the page of its session."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from clubops.notices import delivery, mail
from clubops.notices.models import Notice
from clubops.notices.policy import Policy
from nets import duties, schedule
from nets.models import Duty, Net, Session
from nets.reminders import progress, wishes
from tests.conftest import NOW, Cast
from tests.notices.conftest import TestClock
from tests.notices.test_duty_reminders import give

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
NCS = Duty.Role.NET_CONTROL


@pytest.fixture
def next_week(net: Net, session: Session) -> Session:
    schedule.call_off(session, note="So that no other session is near.")
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 10))


@pytest.fixture
def control(next_week: Session, cast: Cast) -> Duty:
    give(next_week, cast.member, Duty.Role.BACKUP, state=Duty.State.CONFIRMED)
    return give(next_week, cast.net_control)


def send(session: Session, **before: float) -> dt.datetime:
    """Top up and send at a time before the session; that time."""
    at = session.starts_at - dt.timedelta(**before)
    wishes.top_up(now=at)
    delivery.send_due(clock=TestClock(at), policy=Policy(), server=mail.MailServer())
    return at


def story(session: Session, role: str, now: dt.datetime) -> list[str]:
    session = Session.objects.get(pk=session.pk)
    return [step.words for step in progress.steps(session, role, now=now)]


def test_before_the_time_it_says_what_would_come(next_week, control):
    wishes.top_up(now=NOW)
    assert story(next_week, NCS, NOW) == [
        "The chair was given to QZ2NCS.",
        "Next: a reminder is due.",
        "Next: without an answer the backup, QZ2MEM, is told.",
        "Next: a reminder is due.",
        "Next: without an answer the net manager, QZ2MGR, is told.",
        "Next: a reminder is due.",
    ]


def test_no_answer_climbs_from_the_backup_to_the_net_manager(next_week, control):
    for hours in (167, 36, 24):
        now = send(next_week, hours=hours)
    told = [words for words in story(next_week, NCS, now) if words.startswith(("No ", "Backup", "Net "))]
    assert told == [
        "No answer from QZ2NCS yet.",
        "Backup QZ2MEM told that the chair is in doubt.",
        "Net manager QZ2MGR told that the chair is in doubt.",
    ]
    assert story(next_week, NCS, now)[-1] == "Next: a reminder is due."


def test_a_confirmed_chair_needs_nobody_else(next_week, control):
    duties.answer(control, confirmed=True, now=NOW)
    wishes.top_up(now=NOW)
    said = story(next_week, NCS, NOW)
    assert said[1] == "QZ2NCS confirmed."
    assert not any("is told" in words for words in said)


def test_a_chair_declined_was_told_to_the_manager(next_week, control):
    duties.answer(control, confirmed=False, now=NOW)
    now = send(next_week, days=5)
    assert story(next_week, NCS, now)[1:] == [
        "QZ2NCS declined.",
        "Net manager QZ2MGR told that the chair is in doubt.",
    ]


def test_mail_that_did_not_go_is_said_without_its_reason(next_week, control):
    send(next_week, hours=167)
    reason = {"error": "550 control@members.club.example refused"}
    Notice.objects.filter(sent_at__isnull=False).update(state=Notice.State.FAILED, sent_at=None, **reason)
    said = story(next_week, NCS, next_week.starts_at - 166 * HOUR)
    assert "A reminder could not be sent." in said
    assert "@" not in " ".join(said)


def test_an_alarm_about_somebody_else_is_not_told_of_the_next_holder(next_week, control, cast: Cast):
    now = send(next_week, hours=36)
    control.delete()
    give(next_week, cast.officer, at=now)
    assert story(next_week, NCS, now)[:2] == ["The chair was given to QZ2OFF.", "No answer from QZ2OFF yet."]
    assert not any("QZ2NCS" in words or "told that" in words for words in story(next_week, NCS, now))


def test_an_empty_chair_says_who_will_hear_of_it(next_week, cast: Cast):
    assert story(next_week, NCS, NOW) == ["Next: if nobody is found the net manager, QZ2MGR, is told."]
    assert story(next_week, Duty.Role.BACKUP, NOW) == []


def test_a_session_called_off_or_over_has_nothing_ahead(next_week, control):
    wishes.top_up(now=NOW)
    over = story(next_week, NCS, next_week.ends_at)
    schedule.call_off(next_week, note="Storm.")
    called_off = story(next_week, NCS, NOW)
    assert over[0] == called_off[0] == "The chair was given to QZ2NCS."
    assert not any(words.startswith("Next") for words in over + called_off)


@pytest.mark.parametrize("who", ["member", "net control", "net manager", "officer"])
def test_members_see_it_on_the_page_without_any_address(who, next_week, control, as_reader, ground):
    now = send(next_week, hours=36)
    with time_machine.travel(now, tick=False):
        response = as_reader(who).get(reverse("nets:session", args=["ridge-net", "2026-03-10"]))
    page = response.content.decode()
    assert "Backup QZ2MEM told that the chair is in doubt." in page
    assert "members.club.example" not in page


def test_an_outsider_sees_nothing_of_it(next_week, control, as_reader):
    response = as_reader("outsider").get(reverse("nets:session", args=["ridge-net", "2026-03-10"]))
    assert response.status_code == 302
