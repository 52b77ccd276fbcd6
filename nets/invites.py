"""Invitations: a turn is put into its holder's calendar when it is given, and not only when it is near.

RFC 5546 REQUEST and CANCEL, each with the SEQUENCE that follows what this person was sent before; answers are given
by the signed link, and calendar replies are not read. Here is the first word about a turn. What becomes of it
(moved, called off, given to somebody else) is told by `reminders` to whoever had this word, and the calendar object
goes along. What was sent last is kept on the notice itself, so that a duty whose row is gone can still be cancelled.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.utils.translation import gettext, gettext_noop

from clubops.notices import kinds, wanted
from clubops.notices.kinds import Letter, Untrue
from clubops.notices.models import Notice
from clubops.notices.templatetags.ledger import short_time
from clubops.notices.wanted import Wanted
from nets import spoken
from nets.reminders import history, letters, timing, wishes
from nets.reminders.history import INVITE
from nets.reminders.kinds import titled, watcher

FIRST_REMINDER = timing.RULES[0].before


def top_up(*, now: dt.datetime) -> wanted.Reconciled:
    """Bring the ledger in step with the turns that were given. Safe to repeat, to kill and to run twice at once."""
    return wanted.reconcile(invite_wishes(now), kinds=[INVITE], now=now)


def invite_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """One for each person and chair, once, unless they know of it.

    A turn given so late that its first reminder is due at once needs none: the reminder brings the invitation.
    """
    told = {(word.notice.recipient_id, word.notice.subject_key) for word in history.last_words(now=now)}
    for duty in wishes.coming_duties(now).filter(member__is_active=True):
        subject = history.subject_key(duty.session_id, duty.role)
        is_early = duty.session.starts_at - duty.assigned_at > FIRST_REMINDER
        if is_early and wishes.is_on(duty) and (duty.member_id, subject) not in told:
            yield Wanted(
                key=f"{INVITE}/{subject}/member:{duty.member_id}",
                recipient_id=duty.member_id,
                kind=INVITE,
                subject_key=subject,
                title=wishes.title_of(duty.session, duty.role),
                due_at=None,
                not_after=duty.session.starts_at,
                event_at=duty.session.starts_at,
            )


def invitation(notice: Notice, now: dt.datetime) -> Letter:
    """You are given a turn: when, where, who else, and a link to say yes or no."""
    duty = history.duty_about(notice)
    if duty is None:
        raise Untrue(letters.GONE)
    truth = history.truth_of(duty)
    if truth.standing != "on":
        raise Untrue("The session was called off, or the duty declined.")
    if duty.session.starts_at <= now:
        raise Untrue("The session has begun.")
    before = history.last_word(notice)
    if before is not None and before.told.says_the_same_as(truth):
        raise Untrue("It was told by another mail already.")
    recipient, net = notice.recipient, duty.session.net
    words = {
        "role": spoken.role(duty.role),
        "net": net.name,
        "ahead": timing.spoken_span(duty.session.starts_at - now),
        "when": short_time(truth.starts_at, recipient.zone),
    }
    return Letter(
        subject=gettext("Your turn: %(role)s of %(net)s, %(when)s") % words,
        lines=(
            gettext("You are down as %(role)s of %(net)s %(ahead)s.") % words,
            gettext("Your calendar program can take it from this mail. We remind you when it is near."),
            gettext(
                "Please say by the link whether you will be there: an answer sent from a calendar does not reach us."
            ),
        ),
        facts=(*letters.when_and_where(truth, net.zone, recipient), *letters.around(duty, now)),
        links=letters.answer_and_session(duty, truth),
        **letters.request_and_told(duty, history.following(truth, before), recipient),
    )


KIND = kinds.Kind(
    INVITE,
    gettext_noop("calendar invitation to a duty"),
    invitation,
    watcher,
    travels_alone=True,
    titled=titled,
)


def register() -> None:
    kinds.register(KIND)
