"""What the ledger should hold about the coming sessions, from the records as they are."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator
from dataclasses import replace

from django.conf import settings
from django.db.models import QuerySet

from clubops.members.models import Member
from clubops.members.permissions import NET_MANAGER, OFFICER
from clubops.notices import choices, wanted
from clubops.notices.wanted import Wanted
from nets import duties, spoken
from nets.models import Duty, Net, Session
from nets.reminders import history, timing
from nets.reminders.history import CHANGE, REMINDER

IN_DOUBT_BACKUP = "chair_in_doubt"
IN_DOUBT_MANAGER = "chair_in_doubt_office"
KINDS = (REMINDER, CHANGE, IN_DOUBT_BACKUP, IN_DOUBT_MANAGER)


def top_up(*, now: dt.datetime) -> wanted.Reconciled:
    """Bring the ledger in step with every coming duty. Safe to repeat, to kill and to run twice at once."""
    wishes = [*reminder_wishes(now), *change_wishes(now), *doubt_wishes(now)]
    return wanted.reconcile(wishes, kinds=KINDS, now=now)


def coming_duties(now: dt.datetime) -> QuerySet[Duty]:
    """Duties of sessions that have not begun, with all that is asked of them here."""
    rows = Duty.objects.filter(session__starts_at__gt=now)
    return rows.select_related("member", "session__net__relay", "session__net__manager", "session__relay")


def is_on(duty: Duty) -> bool:
    """Whether its holder is expected in the chair: the question of rule and letter alike."""
    return history.truth_of(duty).standing == "on"


# Reminders -------------------------------------------------------------------------------------------


def reminder_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """Seven days, one day and two hours before, to everybody who is expected in a chair."""
    for duty in coming_duties(now).filter(member__is_active=True):
        if is_on(duty):
            subject = history.subject_key(duty.session_id, duty.role)
            for each in timing.reminders(duty.session.starts_at, duty.assigned_at):
                yield Wanted(
                    # Of the chair and not of the duty's row: a rota made again with the same people in it
                    # reminds nobody twice.
                    key=f"{REMINDER}/{subject}/{each.rule}/member:{duty.member_id}",
                    recipient_id=duty.member_id,
                    kind=REMINDER,
                    subject_key=subject,
                    title=title_of(duty.session, duty.role),
                    due_at=each.due_at,
                    not_after=each.not_after,
                    event_at=duty.session.starts_at,
                )


def title_of(session: Session, role: str) -> str:
    return spoken.ledger_title(session.net.name, role, session.occurrence_date)


# Changes ---------------------------------------------------------------------------------------------


def change_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """To everybody whose last mail about a duty is no longer true."""
    held = {
        (duty.member_id, history.subject_key(duty.session_id, duty.role)): duty for duty in coming_duties(now)
    }
    for word in history.last_words(now=now):
        duty = held.get((word.notice.recipient_id, word.notice.subject_key))
        truth = history.truth_of(duty) if duty else replace(word.told, standing="released")
        if truth.starts_at <= now or word.told.says_the_same_as(truth):
            continue
        said = hashlib.sha256(f"{truth.standing}{truth.starts_at}{truth.where}".encode()).hexdigest()[:12]
        yield Wanted(
            key=f"{CHANGE}/after:{word.notice.pk}/{said}/member:{word.notice.recipient_id}",
            recipient_id=word.notice.recipient_id,
            kind=CHANGE,
            subject_key=word.notice.subject_key,
            title=word.notice.title,
            due_at=None,
            not_after=truth.starts_at,
            event_at=truth.starts_at,
        )


# Chairs in doubt -------------------------------------------------------------------------------------


def doubt_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """To the backup and to the net manager, when it is not sure that somebody will be in a chair.

    These are computed when they become true and not before: the ledger holds what is expected, not every
    misfortune that may yet come.
    """
    sessions = Session.objects.filter(
        starts_at__gt=now, state=Session.State.SCHEDULED, net__is_active=True
    ).select_related("net__manager")
    unsubscribed = {pk for pk, _kind in choices.refusals([REMINDER])}
    for session in sessions.prefetch_related("duties__member__absences"):
        chairs = {duty.role: duty for duty in session.duties.all()}
        for role in Duty.Role:
            duty = chairs.get(role)
            why = doubt_about(session, role, duty, unsubscribed, now)
            if why:
                yield from _tell_backup(session, role, chairs, why, now)
                yield from _tell_manager(session, role, chairs, why, now)


def doubt_about(
    session: Session, role: str, duty: Duty | None, unsubscribed: set[int], now: dt.datetime
) -> str:
    """Why it is not sure that somebody will be in this chair: a word for the letter, or nothing."""
    near = session.starts_at - now <= dt.timedelta(hours=settings.NOTICES_CONFIRM_BY_H)
    if duty is None:
        return "empty" if near and role == Duty.Role.NET_CONTROL and session.net.manager_id else ""
    if duty.state == Duty.State.DECLINED:
        return "declined"
    if not duty.member.is_active:
        return "left"
    if duties.away(duty.member, session):
        return "away"
    if duty.state == Duty.State.ASSIGNED and near:
        return "unconfirmed"
    return "unsubscribed" if duty.member_id in unsubscribed else ""


def doubt_now(session: Session, role: str, duty: Duty | None, now: dt.datetime) -> str:
    """The same for one chair, when a letter about it is to be written."""
    return doubt_about(session, role, duty, {pk for pk, _kind in choices.refusals([REMINDER])}, now)


def _tell_backup(
    session: Session, role: str, chairs: dict[str, Duty], why: str, now: dt.datetime
) -> Iterator[Wanted]:
    """The backup hears of it when the session is near: what is weeks away is the manager's to mend."""
    backup = backup_to_tell(role, chairs.get(Duty.Role.BACKUP))
    near = session.starts_at - now <= dt.timedelta(hours=settings.NOTICES_CONFIRM_BY_H)
    if backup is not None and near and why != "unsubscribed":
        yield _doubt(IN_DOUBT_BACKUP, session, role, chairs.get(role), why, backup)


def backup_to_tell(role: str, backup: Duty | None) -> Member | None:
    """Who could step in for net control, if there is somebody."""
    if role != Duty.Role.NET_CONTROL or backup is None or backup.state == Duty.State.DECLINED:
        return None
    return backup.member if backup.member.is_active else None


def _tell_manager(
    session: Session, role: str, chairs: dict[str, Duty], why: str, now: dt.datetime
) -> Iterator[Wanted]:
    """The manager hears at once what cannot mend itself, and last of a chair that is merely unconfirmed."""
    duty, backup = chairs.get(role), chairs.get(Duty.Role.BACKUP)
    wait = dt.timedelta(hours=hours_until_manager(role, backup))
    if why in ("unconfirmed", "empty") and session.starts_at - now > wait:
        return
    manager = manager_of(session.net, other_than=duty.member if duty else None)
    if manager is not None:
        yield _doubt(IN_DOUBT_MANAGER, session, role, duty, why, manager)


def hours_until_manager(role: str, backup: Duty | None) -> float:
    """How long before the session the manager hears of a chair that is merely unconfirmed or empty."""
    backup_was_told = role == Duty.Role.NET_CONTROL and backup is not None
    return settings.NOTICES_TELL_MANAGER_BY_H if backup_was_told else settings.NOTICES_CONFIRM_BY_H


def doubt_about_whom(duty: Duty | None) -> str:
    """The holder's part of the key of a doubt."""
    return f"duty:{duty.pk}/holder:{duty.member_id}" if duty else "nobody"


def doubt_key(kind: str, session: Session, role: str, duty: Duty | None, why: str, recipient_id: int) -> str:
    """The same doubt about the same person is told once."""
    about = doubt_about_whom(duty)
    if duty and why == "declined":
        about += f"/{duty.sequence}"  # who declines, agrees and declines again is told of again
    return f"{kind}/session:{session.pk}/{role}/{about}/{why}/member:{recipient_id}"


def _doubt(kind: str, session: Session, role: str, duty: Duty | None, why: str, recipient: Member) -> Wanted:
    return Wanted(
        key=doubt_key(kind, session, role, duty, why, recipient.pk),
        recipient_id=recipient.pk,
        kind=kind,
        subject_key=history.subject_key(session.pk, role),
        title=title_of(session, role),
        due_at=None,
        not_after=session.starts_at,
        event_at=session.starts_at,
    )


def manager_of(net: Net, *, other_than: Member | None = None) -> Member | None:
    """Who looks after a net: its manager, else a net manager, else an officer, but not the one in question."""
    if net.manager is not None and net.manager.is_active and net.manager != other_than:
        return net.manager
    others = Member.objects.filter(is_active=True, user__is_active=True)
    if other_than is not None:
        others = others.exclude(pk=other_than.pk)
    for role in (NET_MANAGER, OFFICER):
        if found := others.filter(user__groups__name=role).order_by("pk").first():
            return found
    return None
