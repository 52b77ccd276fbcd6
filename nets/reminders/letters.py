"""The words of every notice about a duty, written when it is sent, from the records as they are then.

No mail holds a position: a path is told by its margin and its chance alone.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_noop

from clubops import clock
from clubops.members.models import Member
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.notices.templatetags.ledger import short_time
from clubops.templatetags.measures import wall_time, zone_words
from nets import duties, spoken
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
    words = {
        "role": spoken.role(duty.role),
        "net": session.net.name,
        "ahead": timing.spoken_span(session.starts_at - now),
        "when": short_time(session.starts_at, notice.recipient.zone),
    }
    lines = [gettext("You are %(role)s of %(net)s %(ahead)s.") % words]
    if duty.state == Duty.State.CONFIRMED:
        lines.append(
            gettext("You have said that you will be there. Should something have come up, please say so.")
        )
    else:
        lines.append(
            gettext("Please say whether you will be there, so that somebody else can be found if not.")
        )
    return Letter(
        subject=capfirst(gettext("%(role)s of %(net)s: %(when)s") % words),
        lines=tuple(lines),
        facts=(*when_and_where(truth, session.net.zone, notice.recipient), *around(duty, now)),
        links=answer_and_session(duty, truth),
        **request_and_told(duty, told, notice.recipient),
    )


def answer_and_session(duty: Duty, told: Told) -> tuple[Link, ...]:
    """Where to say yes or no, and the page of the session."""
    return (
        Link(gettext("I will be there, or I cannot"), answers.url_for(duty)),
        Link(gettext("The session"), told.url),
    )


def change(notice: Notice, now: dt.datetime) -> Letter:
    """What you were told is no longer true: moved, called off, put back, or no longer yours."""
    before = history.last_word(notice)
    if before is None:
        raise Untrue("Nothing had been told before.")
    duty = history.duty_about(notice)
    truth = history.truth_of(duty) if duty else _released(notice, before)
    if before.told.says_the_same_as(truth):
        raise Untrue("What was told before is true again.")
    if truth.starts_at <= now:
        raise Untrue("The session has begun.")
    told = history.following(truth, before)
    if truth.standing == "on" and duty is not None:
        return _changed(notice.recipient, duty, before, told)
    return _ended(notice.recipient, duty, told, now)


def _released(notice: Notice, before: LastWord) -> Told:
    """What was told, ended; its title in the language spoken now and not as it was told."""
    net_name, _, _ = before.told.title.rpartition(": ")
    _session_id, role = history.chair_of(notice.subject_key)
    return replace(before.told, standing="released", title=spoken.duty_title(net_name, role))


def _changed(recipient: Member, duty: Duty, before: LastWord, told: Told) -> Letter:
    net = duty.session.net
    words = {
        "role": spoken.role(duty.role),
        "net": net.name,
        "when": short_time(told.starts_at, recipient.zone),
    }
    if before.told.standing == "on":
        line = gettext("%(net)s, of which you are %(role)s, has changed since we wrote to you.") % words
    else:
        line = gettext("You are %(role)s of %(net)s after all.") % words
    facts = [*when_and_where(told, net.zone, recipient)]
    if before.told.starts_at != told.starts_at:
        facts.append((gettext("Instead of"), wall_time(before.told.starts_at, recipient.zone)))
    if before.told.where != told.where:
        facts.append((gettext("Instead of"), before.told.where))
    return Letter(
        subject=gettext("Changed: %(net)s, %(when)s") % words,
        lines=(line, gettext("Please say whether you will be there.")),
        facts=tuple(facts),
        links=answer_and_session(duty, told),
        **request_and_told(duty, told, recipient),
    )


def _ended(recipient: Member, duty: Duty | None, told: Told, now: dt.datetime) -> Letter:
    words = {"duty": told.title, "when": wall_time(told.starts_at, recipient.zone)}
    if told.standing == "off":
        line = gettext("%(duty)s on %(when)s is called off. You need not be there.")
    elif duty is not None:
        line = gettext(
            "You said that you cannot be there: %(duty)s on %(when)s. You are no longer counted on."
        )
    else:
        line = gettext("You are no longer down for this: %(duty)s on %(when)s. You need not be there.")
    note = duty.session.note if duty is not None and told.standing == "off" else ""
    short = {"duty": told.title, "when": short_time(told.starts_at, recipient.zone)}
    return Letter(
        subject=gettext("You are free: %(duty)s, %(when)s") % short,
        lines=(line % words, note) if note else (line % words,),
        calendar=invitations.cancel(told, recipient, now=now),
        told=replace(told, in_calendar=False).to_json(),
    )


REASONS = {
    "declined": gettext_noop("%(who)s cannot be there."),
    "unconfirmed": gettext_noop("%(who)s has not said yet whether they will be there."),
    "unsubscribed": gettext_noop("%(who)s has switched reminders off and will not be reminded of it."),
    "away": gettext_noop(
        "%(who)s will be away by their own calendar, and has not said that they cannot be there."
    ),
    "left": gettext_noop("%(who)s is no longer an active member."),
    "empty": gettext_noop("Nobody is down for it."),
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
    words = {
        "role": spoken.role(role),
        "net": session.net.name,
        "when": short_time(session.starts_at, notice.recipient.zone),
        "reason": gettext(REASONS[why]) % {"who": duty.member.call_sign if duty else ""},
    }
    if notice.kind == wishes.IN_DOUBT_BACKUP:
        ask = gettext("Please be ready to take the chair.")
    else:
        ask = gettext("Please see whether somebody else is needed.")
    page = reverse("nets:session", args=[session.net.slug, session.occurrence_date.isoformat()])
    return Letter(
        subject=gettext("In doubt: %(role)s of %(net)s, %(when)s") % words,
        lines=(capfirst(gettext("%(role)s of %(net)s is in doubt. %(reason)s") % words), ask),
        facts=_when(session.starts_at, session.net.zone, notice.recipient),
        links=(Link(gettext("The session and its chairs"), settings.SITE_ADDRESS + page),),
    )


def request_and_told(duty: Duty, told: Told, recipient: Member) -> dict[str, Any]:
    """The calendar object of a letter to somebody who is expected, and what the letter tells with it."""
    part = invitations.request(duty, told, recipient)
    told = replace(told, in_calendar=told.in_calendar or part is not None)
    return {"calendar": part, "told": told.to_json()}


def _when(at: dt.datetime, net_zone: str, recipient: Member) -> tuple[tuple[str, str], ...]:
    """In the recipient's zone, and in the net's where its clocks show something else."""
    facts = [(gettext("When"), wall_time(at, recipient.zone))]
    if clock.to_wall(at, net_zone) != clock.to_wall(at, recipient.zone):
        label = gettext("By %(zone)s") % {"zone": zone_words(net_zone)}
        facts.append((label, wall_time(at, net_zone)))
    return tuple(facts)


def when_and_where(told: Told, net_zone: str, recipient: Member) -> tuple[tuple[str, str], ...]:
    return (*_when(told.starts_at, net_zone, recipient), (gettext("Where"), told.where))


def around(duty: Duty, now: dt.datetime) -> tuple[tuple[str, str], ...]:
    """The other chair, and how the relay hears this person."""
    other_role = Duty.Role.BACKUP if duty.role == Duty.Role.NET_CONTROL else Duty.Role.NET_CONTROL
    others = duty.session.duties.filter(role=other_role).exclude(state=Duty.State.DECLINED)
    other = others.select_related("member").first()
    nobody = gettext("nobody yet")
    facts = [(capfirst(spoken.role(other_role)), other.member.call_sign if other else nobody)]
    standing = duties.standing_of(duty.session, duty.station, now=now)
    if standing is not None:
        # Only the verdict itself: a reason why there is no answer may name a place on the path.
        found = spoken.verdict(standing.verdict) if standing.verdict else gettext("not worked out")
        facts.append((gettext("Your path"), found))
    return tuple(facts)
