"""The words of every notice about a duty, written when it is sent, from the records as they are then.

No mail holds a position: a path is told by its margin and its chance alone.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from django.conf import settings
from django.urls import reverse

from clubops import clock
from clubops.members.models import Member
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.notices.templatetags.ledger import short_time
from clubops.templatetags.measures import wall_time, zone_words
from nets import duties
from nets.models import Duty, Session
from nets.reminders import answers, history, invitations, timing, wishes
from nets.reminders.history import LastWord, Told

GONE = "The duty has been given to somebody else."


def reminder(notice: Notice, now: dt.datetime) -> Letter:
    """You are in the chair: when, where, who else, whether the path works, and a link to say yes or no."""
    duty = history.duty_about(notice)
    if duty is None:
        raise Untrue(GONE)
    truth = history.truth_of(duty)
    if truth.standing != "on":
        raise Untrue("The session was called off, or the duty declined.")
    session = duty.session
    if session.starts_at <= now:
        raise Untrue("The session has begun.")
    told = history.following(truth, history.last_word(notice))
    role = duty.get_role_display()
    lines = [f"You are {role} of {session.net.name} {timing.spoken_span(session.starts_at - now)}."]
    if duty.state == Duty.State.CONFIRMED:
        lines.append("You have said that you will be there. Should something have come up, please say so.")
    else:
        lines.append("Please say whether you will be there, so that somebody else can be found if not.")
    return Letter(
        subject=f"{role.capitalize()} of {session.net.name}: {short_time(session.starts_at, notice.recipient.zone)}",
        lines=tuple(lines),
        facts=(*when_and_where(truth, session.net.zone, notice.recipient), *around(duty, now)),
        links=(Link("I will be there, or I cannot", answers.url_for(duty)), Link("The session", truth.url)),
        **request_and_told(duty, told, notice.recipient),
    )


def change(notice: Notice, now: dt.datetime) -> Letter:
    """What you were told is no longer true: moved, called off, put back, or no longer yours."""
    before = history.last_word(notice)
    if before is None:
        raise Untrue("Nothing had been told before.")
    duty = history.duty_about(notice)
    truth = history.truth_of(duty) if duty else replace(before.told, standing="released")
    if before.told.says_the_same_as(truth):
        raise Untrue("What was told before is true again.")
    if truth.starts_at <= now:
        raise Untrue("The session has begun.")
    told = history.following(truth, before)
    if truth.standing == "on" and duty is not None:
        return _changed(notice.recipient, duty, before, told)
    return _ended(notice.recipient, duty, told, now)


def _changed(recipient: Member, duty: Duty, before: LastWord, told: Told) -> Letter:
    role, net = duty.get_role_display(), duty.session.net
    if before.told.standing == "on":
        line = f"{net.name}, of which you are {role}, has changed since we wrote to you."
    else:
        line = f"You are {role} of {net.name} after all."
    facts = [*when_and_where(told, net.zone, recipient)]
    if before.told.starts_at != told.starts_at:
        facts.append(("Instead of", wall_time(before.told.starts_at, recipient.zone)))
    if before.told.where != told.where:
        facts.append(("Instead of", before.told.where))
    return Letter(
        subject=f"Changed: {net.name}, {short_time(told.starts_at, recipient.zone)}",
        lines=(line, "Please say whether you will be there."),
        facts=tuple(facts),
        links=(Link("I will be there, or I cannot", answers.url_for(duty)), Link("The session", told.url)),
        **request_and_told(duty, told, recipient),
    )


def _ended(recipient: Member, duty: Duty | None, told: Told, now: dt.datetime) -> Letter:
    at = wall_time(told.starts_at, recipient.zone)
    if told.standing == "off":
        line = f"{told.title} on {at} is called off. You need not be there."
    elif duty is not None:
        line = f"You said that you cannot be there: {told.title} on {at}. You are no longer counted on."
    else:
        line = f"You are no longer down for this: {told.title} on {at}. You need not be there."
    note = duty.session.note if duty is not None and told.standing == "off" else ""
    return Letter(
        subject=f"You are free: {told.title}, {short_time(told.starts_at, recipient.zone)}",
        lines=(line, note) if note else (line,),
        calendar=invitations.cancel(told, recipient, now=now),
        told=replace(told, in_calendar=False).to_json(),
    )


REASONS = {
    "declined": "{who} cannot be there.",
    "unconfirmed": "{who} has not said yet whether they will be there.",
    "unsubscribed": "{who} has switched reminders off and will not be reminded of it.",
    "left": "{who} is no longer an active member.",
    "empty": "Nobody is down for it.",
}


def doubt(notice: Notice, now: dt.datetime) -> Letter:
    """To the backup or the manager: a chair may stay empty, and why."""
    session_id, role = history.chair_of(notice.subject_key)
    session = (
        Session.objects.select_related("net__manager", "net__relay", "relay").filter(pk=session_id).first()
    )
    if session is None or session.state != Session.State.SCHEDULED or session.starts_at <= now:
        raise Untrue("The session has begun or does not take place.")
    duty = session.duties.filter(role=role).select_related("member").first()
    why = wishes.doubt_now(session, role, duty, now)
    if not why or wishes.doubt_key(notice.kind, session, role, duty, why, notice.recipient_id) != notice.key:
        raise Untrue("That has been settled meanwhile.")
    words = Duty.Role(role).label
    reason = REASONS[why].format(who=duty.member.call_sign if duty else "")
    for_backup = notice.kind == wishes.IN_DOUBT_BACKUP
    ask = (
        "Please be ready to take the chair." if for_backup else "Please see whether somebody else is needed."
    )
    page = reverse("nets:session", args=[session.net.slug, session.occurrence_date.isoformat()])
    return Letter(
        subject=f"In doubt: {words} of {session.net.name}, {short_time(session.starts_at, notice.recipient.zone)}",
        lines=(f"{words.capitalize()} of {session.net.name} is in doubt. {reason}", ask),
        facts=_when(session.starts_at, session.net.zone, notice.recipient),
        links=(Link("The session and its chairs", settings.SITE_ADDRESS + page),),
    )


def request_and_told(duty: Duty, told: Told, recipient: Member) -> dict[str, Any]:
    """The calendar object of a letter to somebody who is expected, and what the letter tells with it."""
    part = invitations.request(duty, told, recipient)
    told = replace(told, in_calendar=told.in_calendar or part is not None)
    return {"calendar": part, "told": told.to_json()}


def _when(at: dt.datetime, net_zone: str, recipient: Member) -> tuple[tuple[str, str], ...]:
    """In the recipient's zone, and in the net's where its clocks show something else."""
    facts = [("When", wall_time(at, recipient.zone))]
    if clock.to_wall(at, net_zone) != clock.to_wall(at, recipient.zone):
        facts.append((f"By {zone_words(net_zone)}", wall_time(at, net_zone)))
    return tuple(facts)


def when_and_where(told: Told, net_zone: str, recipient: Member) -> tuple[tuple[str, str], ...]:
    return (*_when(told.starts_at, net_zone, recipient), ("Where", told.where))


def around(duty: Duty, now: dt.datetime) -> tuple[tuple[str, str], ...]:
    """The other chair, and how the relay hears this person."""
    other_role = Duty.Role.BACKUP if duty.role == Duty.Role.NET_CONTROL else Duty.Role.NET_CONTROL
    others = duty.session.duties.filter(role=other_role).exclude(state=Duty.State.DECLINED)
    other = others.select_related("member").first()
    facts = [(other_role.label.capitalize(), other.member.call_sign if other else "nobody yet")]
    standing = duties.standing_of(duty.session, duty.station, now=now)
    if standing is not None:
        # Only the verdict's own sentence: a reason why there is no answer may name a place on the path.
        facts.append(("Your path", standing.verdict.sentence if standing.verdict else "not worked out"))
    return tuple(facts)
