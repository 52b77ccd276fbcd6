"""What the mails about a duty say, and that they say today's truth."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
from django.core import mail as outgoing
from icalendar import Calendar

from clubops.notices import delivery, mail
from clubops.notices.kinds import Untrue
from clubops.notices.models import Notice
from clubops.notices.policy import Policy
from nets import duties, schedule
from nets.models import Duty, Net, Session
from nets.reminders import history, letters, wishes
from tests.conftest import NOW, OPEN_VALLEY, Cast, make_station
from tests.notices.conftest import TestClock
from tests.notices.test_duty_reminders import give

State = Notice.State
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture
def tonight(session: Session) -> Session:
    """19:30 in New York, half past midnight UTC; the clock of these tests begins 12.5 hours before."""
    return session


@pytest.fixture
def at() -> TestClock:
    return TestClock(NOW)


def run(at: TestClock) -> list[str]:
    """Top up, send, and give the new subjects, but for those of doubts."""
    before = len(outgoing.outbox)
    wishes.top_up(now=at())
    delivery.send_due(clock=at, policy=Policy(), server=mail.MailServer())
    return [each.subject for each in outgoing.outbox[before:] if not each.subject.startswith("In doubt")]


def to(member) -> list:
    return [each for each in outgoing.outbox if each.to == [member.email]]


def calendar_of(message) -> Calendar:
    (part,) = [alternative for alternative in message.alternatives if "calendar" in alternative.mimetype]
    return Calendar.from_ical(part.content)


def test_a_reminder_says_who_when_and_where(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    assert run(at) == ["Net control of Ridge Net: Tue 3 Mar, 19:30"]
    body = to(cast.net_control)[0].body
    assert "You are net control of Ridge Net in 12 hours." in body
    assert "When: Tuesday 3 March 2026, 19:30 New York time" in body
    assert "Where: Ridge 2 m, 146.730 MHz" in body
    assert "Backup control: nobody yet" in body


def test_a_reminder_speaks_in_the_zone_of_its_reader(tonight, cast: Cast, at):
    cast.net_control.zone = "Europe/Lisbon"
    cast.net_control.save()
    give(tonight, cast.net_control)
    assert run(at) == ["Net control of Ridge Net: Wed 4 Mar, 00:30"]
    body = to(cast.net_control)[0].body
    assert "When: Wednesday 4 March 2026, 00:30 Lisbon time" in body
    assert "By New York time: Tuesday 3 March 2026, 19:30 New York time" in body


def test_a_reminder_asks_until_it_has_an_answer(tonight, cast: Cast, at):
    give(tonight, cast.net_control, state=Duty.State.CONFIRMED)
    run(at)
    assert "You have said that you will be there." in outgoing.outbox[0].body


def test_text_and_html_say_the_same(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    run(at)
    message = to(cast.net_control)[0]
    html = next(each.content for each in message.alternatives if each.mimetype == "text/html")
    for words in re.findall(r"\w+", message.body):
        assert words in html


def test_a_reminder_tells_the_path_without_its_place(tonight, cast: Cast, at, ground):
    give(tonight, cast.net_control, station=make_station(cast.net_control))
    run(at)
    whole = outgoing.outbox[0].message().as_string()
    assert re.search(r"Your path: Solid: expect it to work; margin \+\d+\.\d dB", outgoing.outbox[0].body)
    for degrees in OPEN_VALLEY:
        assert f"{abs(degrees):.2f}" not in whole


def test_a_reminder_brings_an_invitation(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    run(at)
    calendar = calendar_of(outgoing.outbox[0])
    (event,) = calendar.walk("VEVENT")
    assert calendar["METHOD"] == "REQUEST"
    assert event["ATTENDEE"] == f"mailto:{cast.net_control.email}"
    assert event.decoded("DTSTART") == tonight.starts_at


@pytest.mark.parametrize("what", ["taken away", "declined", "called off", "begun"])
def test_a_reminder_that_is_no_longer_true_is_not_written(tonight, cast: Cast, at, what):
    duty = give(tonight, cast.net_control)
    wishes.top_up(now=NOW)
    now = NOW
    if what == "taken away":
        duty.delete()
    elif what == "declined":
        duties.answer(duty, confirmed=False, now=NOW)
    elif what == "called off":
        schedule.call_off(tonight, note="Storm.")
    else:
        now = tonight.starts_at
    with pytest.raises(Untrue):
        letters.reminder(Notice.objects.first(), now)


def test_every_wish_can_be_written_when_it_is_due(tonight, net: Net, cast: Cast, at):
    """Rules and letters agree: nothing is withdrawn by its letter as long as nothing changes."""
    for session in net.sessions.all():
        give(session, cast.net_control, at=NOW - 40 * DAY)
        give(session, cast.member, Duty.Role.BACKUP, at=NOW - 40 * DAY)
    for _ in range(8 * 24):
        run(at)
        at.forward(hours=1)
    assert not Notice.objects.filter(state__in=[State.WITHDRAWN, State.MISSED, State.FAILED]).exists()
    assert Notice.objects.filter(kind=history.REMINDER, state=State.SENT).count() >= 10


def move(session: Session, span: dt.timedelta) -> None:
    session.starts_at += span
    session.ends_at += span
    session.moved_to = session.starts_at
    session.sequence += 1
    session.save()


def test_a_moved_session_is_told_to_who_knew_the_old_time(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    run(at)
    move(tonight, HOUR)
    assert run(at) == ["Changed: Ridge Net, Tue 3 Mar, 20:30"]
    assert "Instead of: Tuesday 3 March 2026, 19:30 New York time" in to(cast.net_control)[-1].body
    assert run(at) == []


def test_a_session_moved_to_and_fro_ends_with_the_truth(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    told = []
    for span in (dt.timedelta(0), HOUR, -HOUR, HOUR):
        move(tonight, span)
        told += run(at)
        at.forward(minutes=1)
    assert [subject[-5:] for subject in told] == ["19:30", "20:30", "19:30", "20:30"]


def test_who_was_not_told_yet_is_not_told_of_a_change(net: Net, session, cast: Cast, at):
    later = net.sessions.get(occurrence_date=dt.date(2026, 3, 24))
    give(later, cast.net_control)
    run(at)
    move(later, HOUR)
    assert run(at) == []


def test_a_session_called_off_frees_and_cancels(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    run(at)
    schedule.call_off(tonight, note="Storm on the ridge.")
    assert run(at) == ["You are free: Ridge Net: net control, Tue 3 Mar, 19:30"]
    assert "Storm on the ridge." in to(cast.net_control)[-1].body
    first, last = (calendar_of(message) for message in to(cast.net_control))
    (before,), (after,) = first.walk("VEVENT"), last.walk("VEVENT")
    assert (last["METHOD"], after["STATUS"], after["UID"]) == ("CANCEL", "CANCELLED", before["UID"])
    assert after["SEQUENCE"] > before["SEQUENCE"]


def test_who_loses_a_duty_is_told_and_who_gets_it_is_reminded(tonight, cast: Cast, at):
    duty = give(tonight, cast.net_control)
    run(at)
    duty.delete()
    give(tonight, cast.member)
    run(at)
    assert to(cast.net_control)[-1].subject.startswith("You are free")
    assert to(cast.member)[-1].subject.startswith("Net control of Ridge Net")


def test_a_duty_that_comes_back_is_told_again_with_a_higher_sequence(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    sequences = []
    for _ in range(2):
        run(at)
        at.forward(minutes=1)
        Duty.objects.all().delete()
        run(at)
        at.forward(minutes=1)
        give(tonight, cast.net_control, at=at())
    run(at)
    for message in to(cast.net_control):
        (event,) = calendar_of(message).walk("VEVENT")
        sequences.append(event["SEQUENCE"])
    assert len(sequences) == 5
    assert sequences == sorted(set(sequences))


def test_a_person_whose_mail_failed_is_not_told_of_changes(tonight, cast: Cast, at):
    give(tonight, cast.net_control)
    run(at)
    Notice.objects.update(state=State.FAILED, error="Refused.", sent_at=None)
    move(tonight, HOUR)
    assert run(at) == []


def test_a_crash_before_settling_still_lets_a_change_be_told(tonight, cast: Cast, at):
    """What a mail tells is written down before it is sent: the worker may die right after."""
    give(tonight, cast.net_control)
    run(at)
    Notice.objects.update(state=State.WAITING, sent_at=None, not_after=tonight.starts_at)
    Duty.objects.all().delete()
    assert run(at)[-1].startswith("You are free")


def test_the_told_facts_survive_the_ledger(tonight, cast: Cast):
    told = history.truth_of(give(tonight, cast.net_control))
    assert history.Told.from_json(told.to_json()) == told
    assert told.says_the_same_as(replace(told, sequence=told.sequence + 1))
    assert not told.says_the_same_as(replace(told, where="Elsewhere"))
