"""One run of the sending: take what is due, write it, hand it to the mail server, settle."""

from __future__ import annotations

import datetime as dt
import logging
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from django.db import InterfaceError, OperationalError, connection

from clubops.members.models import Member
from clubops.notices import choices, health, kinds, languages, mail, outbox, reports
from clubops.notices.models import Notice
from clubops.notices.outbox import Claim, Outcome
from clubops.notices.policy import Policy

log = logging.getLogger(__name__)

State = Notice.State
BATCH = 40
SETTLE_PAUSE_S = 0.5
Clock = Callable[[], dt.datetime]


@dataclass(frozen=True, slots=True)
class Run:
    """What one run did, in notices; `is_more` when it stopped for lack of time."""

    sent: int = 0
    put_off: int = 0
    failed: int = 0
    withdrawn: int = 0
    held: int = 0
    missed: int = 0
    is_more: bool = False
    problem: str = ""


def send_due(*, clock: Clock, policy: Policy, server: mail.MailServer | None = None) -> Run:
    """Send what is due until nothing is or the run's time is over.

    Any number of workers may do this at once. `clock` gives the time, because a run outlives any one `now`.
    """
    server = server or mail.MailServer()
    done: Counter[str] = Counter()
    problem, is_more = "", False
    done[State.MISSED] = outbox.mark_missed(now=clock(), policy=policy)
    outbox.free_the_stranded()
    reports.tell(now=clock())
    try:
        is_more = _work(server, done, clock, policy)
    except mail.ServerAway as away:
        problem = away.sentence
        log.warning("Sending stopped: %s", problem)
    finally:
        server.close()
    health.beat(health.SENDING, now=clock(), problem=problem)
    return Run(
        sent=done[State.SENT],
        put_off=done[State.WAITING],
        failed=done[State.FAILED],
        withdrawn=done[State.WITHDRAWN],
        held=done["held"],
        missed=done[State.MISSED],
        is_more=is_more,
        problem=problem,
    )


def _work(server: mail.MailServer, done: Counter[str], clock: Clock, policy: Policy) -> bool:
    """Go through what is due; true when time ran out first. Raises `mail.ServerAway`."""
    end_s = time.monotonic() + policy.run.total_seconds()
    while batch := outbox.due(now=clock(), policy=policy, limit=BATCH):
        for notice in batch:
            if time.monotonic() >= end_s:
                return True
            if _hold(notice, clock(), policy):
                done["held"] += 1
                continue
            # Nothing is claimed while there is no server to give it to: an outage costs no notice a try.
            server.open()
            if claim := outbox.claim(notice, now=clock(), policy=policy):
                if choices.of(claim.lead.recipient).one_mail:
                    claim = outbox.gather(claim, now=clock())
                done.update(_deliver(claim, server, clock, policy))
    return False


def _hold(notice: Notice, now: dt.datetime, policy: Policy) -> bool:
    """Let it wait for the end of quiet hours, if it can."""
    if notice.state != State.WAITING or _is_urgent(notice):
        return False
    until = policy.hold_until(
        now,
        zone=notice.recipient.zone,
        quiet=choices.quiet_hours(notice.recipient, policy),
        not_after=notice.not_after,
        event_at=notice.event_at,
    )
    return until is not None and outbox.hold(notice, until=until)


def _is_urgent(notice: Notice) -> bool:
    try:
        return kinds.named(notice.kind).is_urgent
    except kinds.UnknownKind:
        return False


def _deliver(claim: Claim, server: mail.MailServer, clock: Clock, policy: Policy) -> list[str]:
    """Write, stamp, send and settle one claim; the state that each of its notices came to."""
    letters, outcomes = _write(claim, clock(), policy)
    if letters:
        told = {pk: letter.told for pk, letter in letters.items()}
        if not outbox.stamp(claim, told, now=clock(), policy=policy):
            return []
        outcomes |= _send(claim, letters, server, clock(), policy)
        together = [each for each in outcomes.values() if each.state == State.WAITING and not each.alone]
        if together:
            # The same mail goes out again later: what is no longer true in it is closed then.
            outcomes = {pk: each if each.alone else together[0] for pk, each in outcomes.items()}
    settled = _insist(lambda: outbox.settle(claim, outcomes, now=clock()), policy)
    if not settled.stood:
        log.warning("The claim on notice %s had lapsed when it was to be settled.", claim.lead.pk)
        return []
    return [outcome.state for outcome in outcomes.values()]


def _write(
    claim: Claim, now: dt.datetime, policy: Policy
) -> tuple[dict[int, kinds.Letter], dict[int, Outcome]]:
    """A letter for each notice that has something true to say, an outcome for each that has not."""
    letters: dict[int, kinds.Letter] = {}
    outcomes: dict[int, Outcome] = {}
    for notice in claim.notices:
        try:
            kind = kinds.named(notice.kind)
            obstacle = _obstacle(notice, kind, now)
            if obstacle is not None:
                outcomes[notice.pk] = obstacle
            else:
                with languages.speaking(notice.recipient):
                    letters[notice.pk] = kind.render(notice, now)
        except kinds.Untrue as change:
            outcomes[notice.pk] = Outcome(State.WITHDRAWN, str(change))
        except (OperationalError, InterfaceError):
            raise  # the database, not the notice; the lease lapses and everything is tried again
        except Exception as fault:
            log.exception("Notice %s (%s) could not be written.", notice.pk, notice.kind)
            outcomes[notice.pk] = _later(
                notice, f"It could not be written: {fault}"[:200], now, policy, alone=True
            )
    if claim.lead.pk in outcomes and outcomes[claim.lead.pk].alone:
        # The Message-ID is the leader's: without it this is no mail, and the others go on their own.
        for pk in letters:
            outcomes[pk] = Outcome(State.WAITING, next_try_at=now, alone=True)
        letters = {}
    return letters, outcomes


def _obstacle(notice: Notice, kind: kinds.Kind, now: dt.datetime) -> Outcome | None:
    """Why this notice will not be sent whatever it says."""
    recipient: Member = notice.recipient
    if notice.not_after < now:
        return Outcome(State.MISSED, outbox.STILL_WAITING)
    if not recipient.is_active:
        return Outcome(State.WITHDRAWN, "The recipient is no longer an active member.")
    if choices.declines(recipient, kind):
        return Outcome(State.WITHDRAWN, "The recipient has unsubscribed from this.")
    if not recipient.email:
        return Outcome(State.FAILED, "There is no mail address on the roster.")
    if recipient.email_problem:
        return Outcome(State.FAILED, f"Mail to this address was refused before: {recipient.email_problem}")
    return None


def _send(
    claim: Claim, letters: dict[int, kinds.Letter], server: mail.MailServer, now: dt.datetime, policy: Policy
) -> dict[int, Outcome]:
    """Hand the mail over; the outcome of everything that was in it."""
    recipient = claim.lead.recipient
    declinable = any(kinds.named(each.kind).may_be_declined for each in claim.notices if each.pk in letters)
    message = mail.compose(
        recipient,
        list(letters.values()),
        message_id=claim.lead.message_id,
        unsubscribe_url=choices.unsubscribe_url(recipient) if declinable else "",
    )
    by_key = {notice.pk: notice for notice in claim.notices}
    try:
        server.send(message)
    except mail.Refused as refusal:
        if refusal.address_at_fault:
            Member.objects.filter(pk=recipient.pk, email=recipient.email).update(
                email_problem=mail.dated(refusal.sentence, now)[:200]
            )
        return dict.fromkeys(letters, Outcome(State.FAILED, refusal.sentence))
    except mail.MailProblem as problem:
        return {pk: _later(by_key[pk], problem.sentence, now, policy) for pk in letters}
    return dict.fromkeys(letters, Outcome(State.SENT))


def _later(notice: Notice, reason: str, now: dt.datetime, policy: Policy, *, alone: bool = False) -> Outcome:
    """Another try after a pause, or the end of trying."""
    if notice.attempts >= policy.most_attempts:
        return Outcome(State.FAILED, f"Given up after {notice.attempts} tries. {reason}")
    pause = policy.pause_after(notice.attempts, notice.key)
    return Outcome(State.WAITING, reason, min(now + pause, notice.not_after), alone)


def _insist(settle: Callable[[], outbox.Settled], policy: Policy) -> outbox.Settled:
    """Settle, and go on trying while the database is away.

    The mail is out and only this process knows it: giving up would send it twice. The patience ends before
    the run is killed anyway.
    """
    end_s = time.monotonic() + (policy.run_limit - policy.run).total_seconds() / 2
    while True:
        try:
            return settle()
        except (OperationalError, InterfaceError):
            if time.monotonic() >= end_s:
                raise
            log.warning("The database is away while a sent mail is to be settled; trying on.")
            connection.close_if_unusable_or_obsolete()
            time.sleep(SETTLE_PAUSE_S)
