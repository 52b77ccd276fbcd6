"""How it stands with a chair: who was told what and when, and what comes next. Call signs and times, no address."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Q, QuerySet
from django.utils.text import capfirst

from clubops.notices.models import Notice
from nets.models import Duty, Session
from nets.reminders import history, wishes

State = Notice.State
# By kind: what was done, and the same as a thing that could not be done or is still to come.
SAID = {
    history.INVITE: ("Asked by mail", "the invitation"),
    history.REMINDER: ("Reminded by mail", "a reminder"),
    history.CHANGE: ("Told of a change by mail", "the change"),
    wishes.IN_DOUBT_BACKUP: ("Backup {who} told that the chair is in doubt", "word to the backup, {who},"),
    wishes.IN_DOUBT_MANAGER: (
        "Net manager {who} told that the chair is in doubt",
        "word to the net manager, {who},",
    ),
}


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the story of a chair; `is_ahead` when it has not happened yet."""

    at: dt.datetime
    words: str
    is_ahead: bool = False


def steps(session: Session, role: str, *, now: dt.datetime) -> list[Step]:
    """What happened about the person in this chair, then what comes next, each in the order of time."""
    chairs = {duty.role: duty for duty in session.duties.select_related("member")}
    duty = chairs.get(role)
    notices = list(_notices(session, role, duty))
    found = [*_answers(session, duty, now), *(step for each in notices if (step := _done(each)))]
    if session.starts_at > now and session.state == Session.State.SCHEDULED and session.net.is_active:
        found += _to_be_sent(notices, now)
        found += _deadlines(session, role, duty, chairs.get(Duty.Role.BACKUP), now)
    return sorted(found, key=lambda step: (step.is_ahead, step.at))


def _notices(session: Session, role: str, duty: Duty | None) -> QuerySet[Notice]:
    """The holder's mails about the chair, and the alarms about this very holder."""
    doubts = Q(key__contains=f"/session:{session.pk}/{role}/{wishes.doubt_about_whom(duty)}/")
    about = Q(kind__in=[wishes.IN_DOUBT_BACKUP, wishes.IN_DOUBT_MANAGER]) & doubts
    if duty is not None:
        about |= Q(kind__in=history.TELLING, recipient=duty.member_id)
    rows = Notice.objects.filter(about, subject_key=history.subject_key(session.pk, role))
    return rows.exclude(state=State.WITHDRAWN).select_related("recipient")


def _done(notice: Notice) -> Step | None:
    done, name = (words.format(who=notice.recipient.call_sign) for words in SAID[notice.kind])
    if notice.sent_at:
        return Step(notice.sent_at, f"{done}.")
    if notice.state == State.FAILED:
        return Step(notice.due_at, f"{capfirst(name)} could not be sent.")
    if notice.state == State.MISSED:
        return Step(notice.not_after, f"{capfirst(name)} was not sent in time.")
    return None


def _answers(session: Session, duty: Duty | None, now: dt.datetime) -> Iterator[Step]:
    if duty is None:
        return
    who = duty.member.call_sign
    yield Step(duty.assigned_at, f"The chair was given to {who}.")
    confirm_by = _before(session, settings.NOTICES_CONFIRM_BY_H)
    if duty.state == Duty.State.CONFIRMED:
        yield Step(duty.answered_at or duty.changed_at, f"{who} confirmed.")
    elif duty.state == Duty.State.DECLINED:
        yield Step(duty.answered_at or duty.changed_at, f"{who} declined.")
    elif confirm_by <= now:
        yield Step(max(confirm_by, duty.assigned_at), f"No answer from {who} yet.")


def _to_be_sent(notices: list[Notice], now: dt.datetime) -> Iterator[Step]:
    for notice in notices:
        if notice.is_open and notice.not_after >= now:
            name = SAID[notice.kind][1].format(who=notice.recipient.call_sign)
            yield Step(max(notice.next_try_at, now), f"Next: {name} is due.", is_ahead=True)


def _deadlines(
    session: Session, role: str, duty: Duty | None, backup: Duty | None, now: dt.datetime
) -> Iterator[Step]:
    """Whom an answer that does not come is told to, and when."""
    if duty is None:
        if role != Duty.Role.NET_CONTROL or not session.net.manager_id:
            return
        lacking = "if nobody is found"
    elif duty.state == Duty.State.ASSIGNED:
        lacking = "without an answer"
    else:
        return
    told = wishes.backup_to_tell(role, backup)
    confirm_by = _before(session, settings.NOTICES_CONFIRM_BY_H)
    if told is not None and confirm_by > now:
        yield Step(confirm_by, f"Next: {lacking} the backup, {told.call_sign}, is told.", is_ahead=True)
    manager = wishes.manager_of(session.net, other_than=duty.member if duty else None)
    tell_by = _before(session, wishes.hours_until_manager(role, backup))
    if manager is not None and tell_by > now:
        yield Step(tell_by, f"Next: {lacking} the net manager, {manager.call_sign}, is told.", is_ahead=True)


def _before(session: Session, hours: float) -> dt.datetime:
    return session.starts_at - dt.timedelta(hours=hours)
