"""Turns by mail: REQUEST when given or moved, CANCEL when called off or taken away, each once (RFC 5546)."""

from __future__ import annotations

import datetime as dt
import email
import random
from collections.abc import Callable
from email.message import EmailMessage
from email.policy import default

import icalendar
import pytest
from django.core import mail as outgoing
from pytest_django import Settings

from clubops.members.models import Member
from clubops.notices import delivery, mail
from clubops.notices.models import Choice, Notice
from clubops.notices.policy import Policy
from nets import duties, feeds, invites, schedule
from nets.models import Duty, Net, Session
from nets.reminders import history, wishes
from tests.conftest import NOW, Cast
from tests.feeds.readers import Program, events, stored
from tests.notices.conftest import TestClock
from tests.notices.smtp_server import Post, serving

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
Give = Callable[..., Duty]


@pytest.fixture
def at() -> TestClock:
    return TestClock(NOW)


@pytest.fixture
def far(session: Session, net: Net) -> Session:
    """Tuesday 24 March, three weeks ahead."""
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 24))


def send(at: TestClock) -> list[EmailMessage]:
    """Follow the records, send what is due, and read it as a mail program would."""
    before = len(outgoing.outbox)
    wishes.top_up(now=at())
    invites.top_up(now=at())
    delivery.send_due(clock=at, policy=Policy(), server=mail.MailServer())
    sent = [
        email.message_from_bytes(each.message().as_bytes(), policy=default)
        for each in outgoing.outbox[before:]
    ]
    return [each for each in sent if not each["Subject"].startswith("In doubt")]


def parts_of(message: EmailMessage) -> list[EmailMessage]:
    return [part for part in message.walk() if part.get_content_type() == "text/calendar"]


def object_in(message: EmailMessage) -> tuple[str, icalendar.Event]:
    """The method and the event of the one calendar object in a mail, checked for what RFC 6047 asks."""
    [part] = parts_of(message)
    calendar = icalendar.Calendar.from_ical(part.get_payload(decode=True))
    [event] = calendar.walk("VEVENT")
    # RFC 6047 section 2.4: the method in the type is the one in the object.
    assert part.get_param("method") == calendar["METHOD"]
    assert str(part.get_param("charset")).lower() == "utf-8"
    assert part.get_content_disposition() != "attachment"
    return str(calendar["METHOD"]), event


def test_a_turn_that_is_given_goes_into_the_calendar_at_once(
    far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(far, cast.net_control)
    [message] = send(at)
    method, event = object_in(message)
    assert message["To"] == cast.net_control.email
    assert message["Subject"] == "Your turn: net control of Ridge Net, Tue 24 Mar, 19:30"
    assert method == "REQUEST"
    assert event.decoded("DTSTART") == far.starts_at
    assert str(event["STATUS"]) == "CONFIRMED"


def test_who_is_invited_and_by_whom(far: Session, cast: Cast, at: TestClock, give: Give) -> None:
    """RFC 5546 section 3.2.2: an organizer and the attendee; no reply is asked for."""
    give(far, cast.net_control)
    give(far, cast.manager, Duty.Role.BACKUP)
    for message in send(at):
        _, event = object_in(message)
        assert str(event["ATTENDEE"]) == f"mailto:{message['To']}"
        assert event["ATTENDEE"].params["RSVP"] == "FALSE"
        assert str(event["ORGANIZER"]) == "mailto:officers@club.example"


def test_the_invitation_is_the_entry_of_the_private_calendar(
    far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(far, cast.net_control)
    feeds.renew(cast.net_control, now=NOW)
    _, invited = object_in(send(at)[0])
    [subscribed] = events(stored(f"member:{cast.net_control.pk}"))
    assert invited["UID"] == subscribed["UID"]


def test_nothing_is_sent_twice(far: Session, cast: Cast, at: TestClock, give: Give) -> None:
    give(far, cast.net_control)
    assert len(send(at)) == 1
    assert [send(at) for _ in range(3)] == [[], [], []]


def test_the_same_turn_given_again_by_another_row_is_not_sent_again(
    far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(far, cast.net_control)
    send(at)
    give(far, cast.net_control)
    assert send(at) == []


def test_a_turn_given_within_the_week_is_invited_to_by_its_reminder(
    session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(session, cast.net_control)
    [message] = send(at)
    assert message["Subject"].startswith("Net control of Ridge Net")
    assert object_in(message)[0] == "REQUEST"
    assert not Notice.objects.filter(kind=history.INVITE).exists()


def test_whoever_was_told_by_another_mail_is_not_invited_again(
    session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    """Nor is it wished for and withdrawn in every run."""
    give(session, cast.net_control)
    send(at)
    move(session, 20 * DAY)
    assert [object_in(message)[0] for message in send(at)] == ["REQUEST"]
    assert not Notice.objects.filter(kind=history.INVITE).exists()


@pytest.fixture
def invited(far: Session, cast: Cast, at: TestClock, give: Give) -> icalendar.Event:
    """Net control has been sent the invitation, an hour ago."""
    give(far, cast.net_control)
    _, event = object_in(send(at)[0])
    at.forward(hours=1)
    return event


def move(session: Session, span: dt.timedelta) -> None:
    session.refresh_from_db()
    session.moved_to = session.starts_at + span
    schedule.amend(session)


def test_a_moved_session_updates_the_entry(invited: icalendar.Event, far: Session, at: TestClock) -> None:
    move(far, HOUR)
    method, event = object_in(send(at)[0])
    assert (method, event["UID"]) == ("REQUEST", invited["UID"])
    assert event["SEQUENCE"] > invited["SEQUENCE"]
    assert event.decoded("DTSTART") == invited.decoded("DTSTART") + HOUR
    assert send(at) == []


def test_a_session_called_off_takes_the_entry_out(
    invited: icalendar.Event, far: Session, at: TestClock
) -> None:
    far.refresh_from_db()
    schedule.call_off(far, note="Storm.")
    method, event = object_in(send(at)[0])
    assert (method, event["UID"], str(event["STATUS"])) == ("CANCEL", invited["UID"], "CANCELLED")
    assert event["SEQUENCE"] > invited["SEQUENCE"]
    assert send(at) == []


def test_who_loses_the_chair_gets_a_cancel_and_who_gets_it_a_request(
    invited: icalendar.Event, far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(far, cast.manager)
    sent = {message["To"]: object_in(message) for message in send(at)}
    lost, won = sent[cast.net_control.email], sent[cast.manager.email]
    assert (lost[0], won[0]) == ("CANCEL", "REQUEST")
    assert lost[1]["UID"] == invited["UID"]
    assert lost[1]["UID"] != won[1]["UID"]
    assert lost[1]["SEQUENCE"] > invited["SEQUENCE"]


def test_a_session_that_was_deleted_is_still_cancelled(
    invited: icalendar.Event, far: Session, at: TestClock
) -> None:
    far.delete()
    method, event = object_in(send(at)[0])
    assert (method, event["UID"]) == ("CANCEL", invited["UID"])
    assert event.decoded("DTSTART") == invited.decoded("DTSTART")


def test_a_declined_turn_is_taken_out(invited: icalendar.Event, far: Session, at: TestClock) -> None:
    duties.answer(far.duties.get(), confirmed=False, now=at())
    assert object_in(send(at)[0])[0] == "CANCEL"


def test_a_turn_given_back_outranks_its_cancellation(
    invited: icalendar.Event, far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    give(far, cast.manager)
    lost = next(object_in(each)[1] for each in send(at) if each["To"] == cast.net_control.email)
    at.forward(hours=1)
    give(far, cast.net_control)
    method, event = next(object_in(each) for each in send(at) if each["To"] == cast.net_control.email)
    assert method == "REQUEST"
    assert event["SEQUENCE"] > lost["SEQUENCE"]


@pytest.mark.parametrize("what", ["taken away", "declined", "called off"])
def test_what_changes_before_it_is_sent_is_never_sent(
    what: str, far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    duty = give(far, cast.net_control)
    invites.top_up(now=at())
    if what == "taken away":
        duty.delete()
    elif what == "declined":
        duties.answer(duty, confirmed=False, now=at())
    else:
        schedule.call_off(far, note="Storm.")
    assert [each for each in send(at) if each["To"] == cast.net_control.email] == []


def test_six_turns_are_six_mails_because_a_program_takes_one_object_from_each(
    net: Net, session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    for each in net.sessions.filter(starts_at__gt=NOW + 8 * DAY)[:6]:
        give(each, cast.net_control)
    sent = send(at)
    assert len({str(object_in(message)[1]["UID"]) for message in sent}) == len(sent) == 6


def test_more_than_a_quarters_turns_come_in_one_mail_with_a_file_each(
    net: Net, session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    for each in net.sessions.filter(starts_at__gt=NOW + 8 * DAY)[:8]:
        give(each, cast.net_control)
    (message,) = send(at)
    files = [part for part in message.walk() if part.get_content_type() == "text/calendar"]
    assert {part.get_param("method") for part in files} == {"REQUEST"}
    uids = {
        str(event["UID"])
        for part in files
        for event in icalendar.Calendar.from_ical(part.get_payload(decode=True)).walk("VEVENT")
    }
    assert len(uids) == len(files) == 8


def test_what_becomes_of_them_comes_in_a_mail_each_too(
    net: Net, session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    chosen = net.sessions.filter(starts_at__gt=NOW + 8 * DAY)[:3]
    for each in chosen:
        give(each, cast.net_control)
    send(at)
    at.forward(hours=1)
    for each in chosen:
        schedule.call_off(each, note="Storm.")
    assert [object_in(message)[0] for message in send(at)] == ["CANCEL"] * 3


def test_a_reminder_after_the_invitation_raises_no_number(invited: icalendar.Event, at: TestClock) -> None:
    at.forward(days=16)
    _, event = object_in(send(at)[0])
    assert event["SEQUENCE"] == invited["SEQUENCE"]


# Those who do without ----------------------------------------------------------------------------------


def does_without(member: Member) -> None:
    Choice.objects.update_or_create(member=member, defaults={"unwanted": [history.INVITE]})


def test_who_wants_no_invitations_gets_reminders_without_an_object(
    far: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    does_without(cast.net_control)
    give(far, cast.net_control)
    assert send(at) == []
    at.forward(days=16)
    [reminder] = send(at)
    assert parts_of(reminder) == []
    far.delete()
    [released] = send(at)
    assert parts_of(released) == []


def test_what_was_sent_before_that_choice_is_still_cancelled(
    invited: icalendar.Event, far: Session, cast: Cast, at: TestClock
) -> None:
    does_without(cast.net_control)
    far.refresh_from_db()
    schedule.call_off(far, note="Storm.")
    method, event = object_in(send(at)[0])
    assert (method, event["UID"]) == ("CANCEL", invited["UID"])


def test_the_choice_stands_on_the_members_page(cast: Cast, as_reader: Callable) -> None:
    page = as_reader("net control").get("/notices/").content.decode()
    assert "Calendar invitation to a duty" in page


# Everything at once ------------------------------------------------------------------------------------


def expected_of(member: Member, now: dt.datetime) -> set[tuple[dt.datetime, str]]:
    rows = Duty.objects.filter(member=member, session__starts_at__gt=now).select_related("session__net")
    return {
        (duty.session.starts_at, f"{duty.session.net.name}: {duty.get_role_display()}")
        for duty in rows
        if wishes.is_on(duty)
    }


@pytest.mark.parametrize("seed", range(3))
def test_whatever_happens_the_programs_show_the_turns_people_have(
    seed: int, net: Net, session: Session, cast: Cast, at: TestClock, give: Give
) -> None:
    draw = random.Random(seed)
    people = {member.email: (member, Program()) for member in (cast.net_control, cast.manager)}
    for _ in range(30):
        chosen = draw.choice(list(net.sessions.filter(starts_at__gt=at() + 30 * HOUR)[:6]))
        action = draw.choice(["give", "give", "give", "move", "call off", "restore", "decline", "take away"])
        if action == "give" and chosen.state != Session.State.CANCELLED:
            give(chosen, draw.choice((cast.net_control, cast.manager)))
        elif action == "move":
            move(chosen, draw.choice((HOUR, 2 * HOUR)))
        elif action == "call off":
            schedule.call_off(chosen, note="Storm.")
        elif action == "restore":
            schedule.restore(chosen)
        elif (
            action == "decline"
            and chosen.state != Session.State.CANCELLED
            and (duty := chosen.duties.first())
        ):
            duties.answer(duty, confirmed=False, now=at())
        elif action == "take away":
            chosen.duties.all().delete()
        at.forward(minutes=10)
        for message in send(at):
            people[message["To"]][1].take(*object_in(message))
        for member, program in people.values():
            assert program.shown == expected_of(member, at())


# Over a real conversation ------------------------------------------------------------------------------


def test_over_smtp_the_object_arrives_as_it_was_made(
    far: Session, cast: Cast, at: TestClock, give: Give, settings: Settings
) -> None:
    cast.net_control.name = (
        'Zoë, "Q" Ørsted; of the long name that does not fit one line of a calendar object at all'
    )
    cast.net_control.save()
    give(far, cast.net_control)
    post = Post()
    with serving(post) as port:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        invites.top_up(now=at())
        delivery.send_due(clock=at, policy=Policy(), server=mail.MailServer())
        far.delete()
        at.forward(hours=1)
        wishes.top_up(now=at())
        delivery.send_due(clock=at, policy=Policy(), server=mail.MailServer())
    on_the_wire = [each.as_bytes(policy=each.policy.clone(linesep="\r\n")) for each in post.taken]
    taken = [email.message_from_bytes(each, policy=default) for each in on_the_wire]
    taken = [each for each in taken if cast.net_control.email in each["To"]]
    (asked, first), (taken_out, second) = (object_in(message) for message in taken)
    assert (asked, taken_out) == ("REQUEST", "CANCEL")
    assert first["ATTENDEE"].params["CN"] == cast.net_control.name.replace('"', "'")
    assert first["UID"] == second["UID"]
    assert second["SEQUENCE"] > first["SEQUENCE"]
    for message in taken:
        [part] = parts_of(message)
        lines = part.get_payload(decode=True).split(b"\r\n")
        assert max(map(len, lines)) <= 75  # RFC 5545 section 3.1
        assert lines[-1] == b""
