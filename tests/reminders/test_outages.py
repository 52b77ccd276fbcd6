"""Who is told of an outage, when, and that nobody is told twice."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.core import mail as outgoing

from clubops.members.models import Member
from clubops.notices import delivery, mail
from clubops.notices.models import Notice
from clubops.notices.policy import Policy
from clubops.notices.wanted import Reconciled
from nets import schedule
from nets.models import Duty, Net, Session
from nets.reminders import outages as told
from relays import outages
from relays.models import Outage, Relay
from relays.outages import Terms
from tests.conftest import NOW, Cast
from tests.notices.conftest import TestClock
from tests.notices.test_duty_reminders import give

State = Notice.State
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture
def far(net: Net) -> Session:
    """Tuesday 24 March, three weeks ahead."""
    schedule.plan_sessions(net, now=NOW)
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 24))


def around(session: Session) -> Terms:
    return Terms(session.starts_at - HOUR, session.ends_at + HOUR, "New antenna")


def plan(relay: Relay, session: Session) -> Outage:
    return outages.enter(relay, around(session), by=None, now=NOW)


def silent(relay: Relay) -> Outage:
    terms = Terms(NOW - HOUR, None, "No answer since noon", kind="unplanned")
    return outages.enter(relay, terms, by=None, now=NOW)


def waiting() -> set[tuple[str, str]]:
    rows = Notice.objects.filter(kind__in=told.KINDS, state=State.WAITING).select_related("recipient")
    return {(row.recipient.call_sign, row.kind) for row in rows}


def send(at: dt.datetime = NOW) -> list[str]:
    """The subjects of what goes out now, with whom they go to."""
    before = len(outgoing.outbox)
    told.top_up(now=at)
    delivery.send_due(clock=TestClock(at), policy=Policy(), server=mail.MailServer())
    return sorted(f"{each.to[0].split('@')[0]}: {each.subject}" for each in outgoing.outbox[before:])


def test_the_manager_and_who_is_on_duty_are_told_of_a_planned_one(relay, far, cast: Cast):
    give(far, cast.net_control)
    plan(relay, far)
    told.top_up(now=NOW)
    assert waiting() == {("QZ2MGR", told.PLANNED), ("QZ2NCS", told.PLANNED)}


def test_the_letter_says_from_when_until_when_why_and_what_falls_into_it(relay, far, cast: Cast):
    give(far, cast.net_control)
    plan(relay, far)
    assert send() == [
        "qz2mgr: Ridge 2 m is off the air from Tue 24 Mar, 18:30",
        "qz2ncs: Ridge 2 m is off the air from Tue 24 Mar, 18:30",
    ]
    body = next(each.body for each in outgoing.outbox if each.to[0].startswith("qz2ncs"))
    assert "Until: Tuesday 24 March 2026, 21:30 New York time" in body
    assert "Why: New antenna" in body
    assert "Falls into it: Ridge Net, Tue 24 Mar, 19:30 (net control)" in body


def test_planning_again_tells_nobody_again(relay, far, cast: Cast):
    give(far, cast.net_control)
    plan(relay, far)
    send()
    assert told.top_up(now=NOW + HOUR) == Reconciled()
    assert send(NOW + HOUR) == []


def test_many_sessions_of_one_outage_are_one_letter(relay, far, cast: Cast):
    for each in far.net.sessions.filter(starts_at__gt=NOW)[:3]:
        give(each, cast.net_control)
    outages.enter(relay, Terms(NOW + HOUR, NOW + 30 * DAY, "Tower work"), by=None, now=NOW)
    told.top_up(now=NOW)
    assert len(waiting()) == 2


@pytest.mark.parametrize("spoil", ["called off", "moved away", "declined", "left"])
def test_whom_it_does_not_concern_is_not_told(relay, far, cast: Cast, spoil):
    duty = give(far, cast.net_control)
    Net.objects.update(manager=None)
    if spoil == "called off":
        schedule.call_off(far, note="")
    elif spoil == "moved away":
        Session.objects.filter(pk=far.pk).update(
            starts_at=far.starts_at + 5 * HOUR, ends_at=far.ends_at + 5 * HOUR
        )
    elif spoil == "declined":
        Duty.objects.filter(pk=duty.pk).update(state=Duty.State.DECLINED)
    else:
        Member.objects.filter(pk=cast.net_control.pk).update(is_active=False)
    outages.enter(relay, around(far), by=None, now=NOW)
    told.top_up(now=NOW)
    assert waiting() == set()


def test_a_session_that_is_called_off_takes_its_notices_back(relay, far, cast: Cast):
    give(far, cast.net_control)
    plan(relay, far)
    told.top_up(now=NOW)
    schedule.call_off(far, note="")
    assert told.top_up(now=NOW).withdrawn == 2


def test_another_end_is_told_as_a_change(relay, far, cast: Cast):
    give(far, cast.net_control)
    outage = plan(relay, far)
    send()
    outages.change(outage, replace(around(far), ends_at=far.ends_at + 9 * HOUR), now=NOW)
    assert [each.split(" is ")[0] for each in send(NOW + HOUR)] == [
        "qz2mgr: Changed: Ridge 2 m",
        "qz2ncs: Changed: Ridge 2 m",
    ]


def test_another_reason_alone_is_told_to_nobody(relay, far, cast: Cast):
    outage = plan(relay, far)
    assert send()
    outages.change(outage, replace(around(far), reason="New feedline"), now=NOW)
    assert send(NOW + HOUR) == []


def test_calling_it_off_is_told_to_those_who_were_told(relay, far, cast: Cast):
    outage = plan(relay, far)
    give(far, cast.net_control)
    send()
    give(far, cast.officer, Duty.Role.BACKUP)
    outages.call_off(outage, now=NOW + HOUR)
    assert send(NOW + HOUR) == [
        "qz2mgr: Called off: the outage of Ridge 2 m on Tue 24 Mar, 18:30",
        "qz2ncs: Called off: the outage of Ridge 2 m on Tue 24 Mar, 18:30",
    ]
    assert send(NOW + 2 * HOUR) == []


def test_one_called_off_before_anybody_was_told_is_told_to_nobody(relay, far, cast: Cast):
    outage = plan(relay, far)
    told.top_up(now=NOW)
    assert waiting()
    outages.call_off(outage, now=NOW)
    assert send(NOW + HOUR) == []


def test_a_silent_relay_is_told_of_at_once_even_at_night(relay, session, cast: Cast):
    give(session, cast.net_control)
    silent(relay)
    told.top_up(now=NOW)
    assert waiting() == {("QZ2MGR", told.UNFORESEEN), ("QZ2NCS", told.UNFORESEEN)}
    assert Notice.objects.filter(kind=told.UNFORESEEN, due_at=NOW).count() == 2


def test_of_one_without_an_end_only_near_sessions_are_in_doubt(relay, far, cast: Cast):
    give(far, cast.net_control)
    schedule.call_off(far.net.sessions.get(occurrence_date=dt.date(2026, 3, 3)), note="")
    silent(relay)
    told.top_up(now=NOW)
    assert waiting() == set()
    told.top_up(now=far.starts_at - 40 * HOUR)
    assert ("QZ2NCS", told.UNFORESEEN) in waiting()


def test_that_it_is_back_is_told_to_those_who_were_told(relay, session, cast: Cast):
    give(session, cast.net_control)
    outage = silent(relay)
    send()
    outages.end(outage, at=NOW + HOUR, now=NOW + HOUR)
    assert send(NOW + HOUR) == ["qz2mgr: Ridge 2 m is back", "qz2ncs: Ridge 2 m is back"]


def test_one_that_ended_as_it_was_told_is_no_news(relay, session, cast: Cast):
    outages.enter(relay, Terms(NOW + HOUR, session.ends_at, "Tower work"), by=None, now=NOW)
    assert send()
    assert send(session.ends_at + HOUR) == []


def test_after_a_week_of_silence_nothing_stale_is_sent(relay, session, cast: Cast):
    give(session, cast.net_control)
    outage = silent(relay)
    told.top_up(now=NOW)
    assert waiting()
    outages.end(outage, at=NOW + HOUR, now=NOW + HOUR)
    assert send(NOW + 7 * DAY) == []


def test_it_is_not_told_that_it_is_over_when_it_goes_on_after_all(relay, session, cast: Cast):
    give(session, cast.net_control)
    outage = silent(relay)
    send()
    outages.end(outage, at=NOW + HOUR, now=NOW + HOUR)
    told.top_up(now=NOW + HOUR)
    assert {kind for _who, kind in waiting()} == {told.OVER}
    Outage.objects.update(ends_at=NOW + 3 * DAY)
    assert not any("is back" in each for each in send(NOW + 2 * HOUR))


def test_its_title_gives_the_day_on_the_clubs_calendars(relay: Relay) -> None:
    evening = dt.datetime(2026, 3, 4, 1, tzinfo=dt.UTC)  # 20:00 on the 3rd in New York
    terms = Terms(evening, evening + HOUR, "New antenna")
    outage = outages.enter(relay, terms, by=None, now=NOW)
    assert told.title_of(outage) == "Outage of Ridge 2 m from Tue 3 Mar 2026"
