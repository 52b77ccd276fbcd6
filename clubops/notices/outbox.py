"""Claim, send, settle: how a notice leaves the ledger once, whatever dies on the way.

A worker **claims** a notice by one conditional UPDATE that must change exactly one row; the claim carries a
random token and lapses with its lease. It may then **gather** what else is due for the same person, each row
by a conditional UPDATE of its own, to travel in the same mail. It writes the mail, **stamps** the rows with
what the mail tells (one conditional UPDATE on the token, which also proves that the claim still stands),
sends, and **settles** by one conditional UPDATE on the token. The database alone knows what is to be done; no
queue holds a notice.

What a crash does, by the moment at which the worker is killed, power fails or the database goes away:

| the worker dies                          | the mail is | because                                          |
|------------------------------------------|-------------|--------------------------------------------------|
| before the claim is committed            | neither     | the row still waits; the next run takes it       |
| after the claim, or while gathering      | neither     | the lease lapses; the next run claims it again   |
| after the stamp, before its end is sent  | neither     | the server drops what has no end (1); as above   |
| once the server has it, before settling  | repeated    | nobody can know; again, with the same Message-ID |
| (alive) once the server's answer is lost | repeated    | the same window, seen from the other side        |
| after settling                           | neither     | a sent row is closed and nothing opens it        |

(1) RFC 5321 section 4.1.1.4. Neither means neither lost nor repeated. Lost is in no line: a claim is never
the last word. The one window is as long as one UPDATE, and while the worker lives it goes on trying to settle
(`delivery`), so that a database restart does not open it. A run that hangs is killed before its claims can
lapse (settings NOTICES_RUN_LIMIT_S < NOTICES_LEASE_S), so a lapsed claim has no living owner, with two
exceptions that end in the same harmless way: a machine that slept in the middle of a mail, and a clock that
jumped forward by more than the lease during one. Their mail may be repeated, with the same Message-ID.

When the clock jumps back, nothing is sent twice because what was sent is closed; a claim that would last
longer than two leases was made by a clock that was wrong and counts as lapsed.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.db.models import Exists, F, Q, QuerySet

from clubops.notices import kinds
from clubops.notices.models import Notice
from clubops.notices.policy import Policy

State = Notice.State
MOST_IN_ONE_MAIL = 20
# So many invitations at once, a quarter's turns, come one by one, as calendar programs take them. More (a rota for
# a year) come in one mail, each as a file of its own: nobody wants forty mails in one evening.
MOST_ALONE = 6
LONGEST_REASON = 300
STILL_WAITING = "It was still waiting when it had become too late to send it."
DIED_SENDING = (
    "A worker stopped while sending it, and then it was too late to try again; it may have arrived."
)


@dataclass(frozen=True)
class Claim:
    """The right to send one mail: its leading notice, what travels with it, the token that proves it."""

    token: uuid.UUID
    lead: Notice
    companions: tuple[Notice, ...] = ()

    @property
    def notices(self) -> tuple[Notice, ...]:
        return (self.lead, *self.companions)


@dataclass(frozen=True)
class Outcome:
    """What became of one notice of a mail. `alone` takes a companion out of the mail it was to travel in."""

    state: str
    error: str = ""
    next_try_at: dt.datetime | None = None
    alone: bool = False

    def columns(self, now: dt.datetime) -> dict[str, Any]:
        columns: dict[str, Any] = {
            "state": self.state,
            "error": self.error[:LONGEST_REASON],
            "claim_token": None,
            "lease_until": None,
        }
        if self.state == State.SENT:
            columns["sent_at"] = now
        if self.state in (State.FAILED, State.MISSED):
            columns["needs_report"] = True
        if self.next_try_at is not None:
            columns["next_try_at"] = self.next_try_at
        return columns


@dataclass(frozen=True)
class Settled:
    """Whether the claim still stood, and how many rows it closed."""

    stood: bool
    rows: int = field(default=0)


# Taking work -----------------------------------------------------------------------------------------


def _claimable(now: dt.datetime, policy: Policy) -> Q:
    lapsed = Q(lease_until__lte=now) | Q(lease_until__gt=now + 2 * policy.lease)
    ready = Q(state=State.WAITING, next_try_at__lte=now) | (Q(state=State.CLAIMED) & lapsed)
    return ready & Q(carried_by__isnull=True, not_after__gte=now)


def due(*, now: dt.datetime, policy: Policy, limit: int) -> list[Notice]:
    """Notices that somebody should take now, the longest due first, with their recipients."""
    rows = Notice.objects.filter(_claimable(now, policy)).select_related("recipient__notice_choice")
    return list(rows.order_by("due_at", "pk")[:limit])


def claim(notice: Notice, *, now: dt.datetime, policy: Policy) -> Claim | None:
    """Take one notice; None when it is not to be had, because another worker was first or it has changed."""
    token = uuid.uuid4()
    taken = Notice.objects.filter(_claimable(now, policy), pk=notice.pk).update(
        state=State.CLAIMED,
        claim_token=token,
        claimed_at=now,
        lease_until=now + policy.lease,
        attempts=F("attempts") + 1,
    )
    if taken != 1:
        return None
    lead = Notice.objects.select_related("recipient__notice_choice").get(pk=notice.pk)
    return Claim(token, lead)


def gather(claim: Claim, *, now: dt.datetime) -> Claim:
    """Add to a claim what else is due for the same person.

    A mail's company is chosen at its first try and never grows, so that a mail that is repeated after a crash
    is the same mail with the same Message-ID. Each row is taken by an UPDATE of its own: no two locks are
    ever held at once, so workers that gather for the same person cannot wait for each other in a circle.
    """
    carried = Notice.objects.filter(carried_by=claim.lead, state__in=[State.WAITING, State.CLAIMED])
    if claim.lead.attempts > 1:
        taken = [
            pk for pk in carried.values_list("pk", flat=True) if _take(claim, carried.filter(pk=pk), now)
        ]
    else:
        free = _company_for(claim.lead, now)
        chosen = list(free.order_by("due_at", "pk").values_list("pk", flat=True)[: MOST_IN_ONE_MAIL - 1])
        if claim.lead.kind in kinds.solitary() and len(chosen) < MOST_ALONE:
            chosen = []
        taken = [pk for pk in chosen if _take(claim, free.filter(pk=pk), now)]
    companions = Notice.objects.filter(pk__in=taken).select_related("recipient__notice_choice")
    return Claim(claim.token, claim.lead, tuple(companions))


def _company_for(lead: Notice, now: dt.datetime) -> QuerySet[Notice]:
    """What may travel with `lead`: one of a kind that travels alone goes, if at all, with its own kind."""
    alone = kinds.solitary()
    kind = Q(kind=lead.kind) if lead.kind in alone else ~Q(kind__in=alone)
    return Notice.objects.filter(
        kind,
        recipient=lead.recipient_id,
        state=State.WAITING,
        attempts=0,
        carried_by__isnull=True,
        next_try_at__lte=now,
        not_after__gte=now,
    ).exclude(pk=lead.pk)


def _take(claim: Claim, row: QuerySet[Notice], now: dt.datetime) -> bool:
    # A worker that slept through its own lease must not add to a mail that somebody else is writing by now.
    still_ours = Exists(Notice.objects.filter(pk=claim.lead.pk, claim_token=claim.token))
    return bool(
        row.filter(still_ours).update(
            state=State.CLAIMED, carried_by=claim.lead, claimed_at=now, attempts=F("attempts") + 1
        )
    )


def hold(notice: Notice, *, until: dt.datetime) -> bool:
    """Let a waiting notice wait until the end of quiet hours. No try is counted."""
    waiting = Notice.objects.filter(pk=notice.pk, state=State.WAITING, next_try_at=notice.next_try_at)
    return bool(waiting.update(next_try_at=until))


# Closing it ------------------------------------------------------------------------------------------


@transaction.atomic
def stamp(claim: Claim, told: Mapping[int, dict[str, Any]], *, now: dt.datetime, policy: Policy) -> bool:
    """Write down what the mail is about to tell, and renew the lease. False when the claim no longer stands.

    It is written before the mail goes, not after: should the worker die in between, a later change is told
    once too often rather than not at all.
    """
    renewed = Notice.objects.filter(pk=claim.lead.pk, claim_token=claim.token).update(
        lease_until=now + policy.lease
    )
    if renewed != 1:
        return False
    for pk, facts in told.items():
        Notice.objects.filter(pk=pk).update(told=facts)
    return True


@transaction.atomic
def settle(claim: Claim, outcomes: Mapping[int, Outcome], *, now: dt.datetime) -> Settled:
    """Write down what became of every notice of the claim, or nothing when it no longer stands."""
    lead = Notice.objects.filter(pk=claim.lead.pk, claim_token=claim.token)
    if lead.update(**outcomes[claim.lead.pk].columns(now)) != 1:
        return Settled(stood=False)
    rows = 1
    for notice in claim.companions:
        outcome = outcomes[notice.pk]
        columns = outcome.columns(now)
        if outcome.alone or outcome.state == State.FAILED:
            columns["carried_by"] = None
        rows += Notice.objects.filter(pk=notice.pk, carried_by=claim.lead, state=State.CLAIMED).update(
            **columns
        )
    # Rows that another worker had gathered for this mail and that were not in it: they wait again, on
    # their own.
    Notice.objects.filter(carried_by=claim.lead, state=State.CLAIMED).update(
        state=State.WAITING, carried_by=None, next_try_at=now
    )
    return Settled(stood=True, rows=rows)


def mark_missed(*, now: dt.datetime, policy: Policy) -> int:
    """Close everything for which it is too late now; how many. It is reported, not sent."""
    late = Notice.objects.filter(not_after__lt=now)
    missed = 0
    for pk in _keys(late.filter(state=State.WAITING)):
        missed += late.filter(pk=pk, state=State.WAITING).update(**_missed(STILL_WAITING), carried_by=None)
    lapsed = Q(lease_until__lte=now) | Q(lease_until__gt=now + 2 * policy.lease)
    for pk in _keys(late.filter(lapsed, state=State.CLAIMED)):
        with transaction.atomic():
            if late.filter(lapsed, pk=pk, state=State.CLAIMED).update(**_missed(DIED_SENDING)):
                carried = Notice.objects.filter(carried_by=pk, state=State.CLAIMED)
                missed += 1 + carried.update(**_missed(DIED_SENDING))
    return missed


def free_the_stranded() -> int:
    """Let notices wait on their own whose carrying mail is closed; how many.

    The leader of a mail may become too late before its companions do. And should two workers and a clock ever
    find another way to leave one behind, it is sent late rather than lost.
    """
    open_states = [State.WAITING, State.CLAIMED]
    stranded = Notice.objects.filter(state__in=open_states, carried_by__isnull=False)
    keys = _keys(stranded.exclude(carried_by__state__in=open_states))
    return sum(
        stranded.filter(pk=pk).update(
            state=State.WAITING, carried_by=None, claim_token=None, lease_until=None
        )
        for pk in keys
    )


def _keys(rows: QuerySet[Notice]) -> Iterable[int]:
    return list(rows.order_by("pk").values_list("pk", flat=True))


def _missed(reason: str) -> dict[str, Any]:
    return {
        "state": State.MISSED,
        "error": reason,
        "needs_report": True,
        "claim_token": None,
        "lease_until": None,
    }


def resend(notices: QuerySet[Notice], *, now: dt.datetime) -> int:
    """Let failed and missed notices try again; how many will.

    Nothing that was sent or is on its way is touched, so pressing twice sends once. What is about something
    past stays as it is. The Message-ID stays too: should a missed one have arrived after all, it is
    recognised.
    """
    again = 0
    for notice in notices.filter(state__in=[State.FAILED, State.MISSED]).exclude(event_at__lte=now):
        again += Notice.objects.filter(pk=notice.pk, state=notice.state).update(
            state=State.WAITING,
            attempts=0,
            error="",
            carried_by=None,
            needs_report=False,
            report=None,
            resent_at=now,
            next_try_at=now,
            not_after=notice.event_at or max(notice.not_after, now + dt.timedelta(days=1)),
        )
    return again
