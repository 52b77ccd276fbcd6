"""Keeping the ledger in step with what the rules want today.

A rule says what it wants as a `Wanted`, again and again, from the state of the database alone. Reconciling
makes what is missing, moves what has moved and withdraws what nobody wants any more. Repeating it changes
nothing, two workers may do it at once, and a worker killed half-way leaves only work that the next one finds
again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

from django.conf import settings
from django.db.models import QuerySet
from django.utils.crypto import salted_hmac

from clubops.notices import choices
from clubops.notices.models import Notice

CHUNK = 400
VANISHED = "What it was about has changed or gone."
UNWANTED = "The recipient does not want this kind of notice."


@dataclass(frozen=True, slots=True)
class Wanted:
    """A wish for one notice. `key` is its identity: the same wish has the same key, for ever.

    Without a `due_at` it is due when it is first seen.
    """

    key: str
    recipient_id: int
    kind: str
    subject_key: str
    title: str
    due_at: dt.datetime | None
    not_after: dt.datetime
    event_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Reconciled:
    """How many rows were missing, moved, wanted again after all, and withdrawn."""

    made: int = 0
    moved: int = 0
    revived: int = 0
    withdrawn: int = 0


def mint_message_id(key: str) -> str:
    """The Message-ID of the notice with this key (RFC 5322 section 3.6.4).

    Drawn from the key and this installation's secret: the same notice keeps it through every retry, and even
    when the database is restored from a backup, so that a repeated mail can be recognised; no other club
    mints it.
    """
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].rstrip("> ") or "localhost"
    return f"<{salted_hmac('clubops.notices.message_id', key, algorithm='sha256').hexdigest()[:40]}@{domain}>"


def enqueue(wanted: Wanted, *, now: dt.datetime) -> bool:
    """Enter one wish. False, and nothing changed, when its key is in the ledger already."""
    _row, made = Notice.objects.get_or_create(key=wanted.key, defaults=_columns(wanted, now))
    return made


def reconcile(wanted: Iterable[Wanted], *, kinds: Collection[str], now: dt.datetime) -> Reconciled:
    """Bring every untried row of `kinds` in step with `wanted`, which must be complete for them.

    Rows that were sent, refused or are on their way stay as they are. A withdrawn or missed row that is
    wanted again in good time (a session put back, a clock put right) waits again.
    """
    unwanted = choices.refusals(kinds)
    wishes = {
        each.key: each
        for each in wanted
        if each.not_after > now and (each.recipient_id, each.kind) not in unwanted
    }
    made = moved = revived = 0
    for chunk in _chunks(wishes.values()):
        rows = {row.key: row for row in Notice.objects.filter(key__in=[each.key for each in chunk])}
        # In one order for all: two planners that insert the same keys must not wait for each other in a circle.
        missing = sorted((each for each in chunk if each.key not in rows), key=lambda each: each.key)
        made += _make(missing, now)
        for wish in chunk:
            row = rows.get(wish.key)
            if row is None:
                continue
            if row.state == Notice.State.WAITING:
                moved += _move(row, wish)
            elif row.state in (Notice.State.WITHDRAWN, Notice.State.MISSED):
                revived += _revive(row, wish, now)
            elif row.state in (Notice.State.SENT, Notice.State.FAILED):
                _keep(row, wish)
    return Reconciled(made, moved, revived, _withdraw(wishes.keys(), unwanted, kinds, now))


def _chunks(wishes: Iterable[Wanted]) -> Iterator[list[Wanted]]:
    rest = iter(wishes)
    while chunk := list(islice(rest, CHUNK)):
        yield chunk


def _columns(wish: Wanted, now: dt.datetime) -> dict[str, object]:
    return {
        "recipient_id": wish.recipient_id,
        "kind": wish.kind,
        "subject_key": wish.subject_key,
        "title": wish.title,
        "due_at": wish.due_at or now,
        "not_after": wish.not_after,
        "event_at": wish.event_at,
        "next_try_at": wish.due_at or now,
        "message_id": mint_message_id(wish.key),
    }


def _make(missing: list[Wanted], now: dt.datetime) -> int:
    """Insert what is missing; a row that another worker inserted meanwhile is left to stand."""
    Notice.objects.bulk_create(
        [Notice(key=wish.key, **_columns(wish, now)) for wish in missing], ignore_conflicts=True
    )
    return len(missing)


def _move(row: Notice, wish: Wanted) -> int:
    """Give an untried row its new times and title. A held row whose due time stands stays held."""
    due_at = wish.due_at or row.due_at
    new = {"title": wish.title, "due_at": due_at, "not_after": wish.not_after, "event_at": wish.event_at}
    if all(getattr(row, name) == value for name, value in new.items()):
        return 0
    if row.due_at != due_at:
        new["next_try_at"] = due_at
    return _untried().filter(pk=row.pk).update(**new)


def _revive(row: Notice, wish: Wanted, now: dt.datetime) -> int:
    return Notice.objects.filter(pk=row.pk, state=row.state).update(
        state=Notice.State.WAITING,
        title=wish.title,
        due_at=wish.due_at or now,
        not_after=wish.not_after,
        event_at=wish.event_at,
        next_try_at=max(wish.due_at or now, now),
        attempts=0,
        carried_by=None,
        error="",
        needs_report=False,
    )


def _keep(row: Notice, wish: Wanted) -> None:
    """Let a closed row that is still wanted stand for as long as its wish does; see `pruning`."""
    if wish.not_after > row.not_after:
        Notice.objects.filter(pk=row.pk, state=row.state).update(not_after=wish.not_after)


def _untried() -> QuerySet[Notice]:
    """Rows that no worker has touched and no officer has sent again: only these follow the rules.

    A row that was tried settles at its next try, when its renderer looks at the truth anyway; withdrawing it
    here could strand the notices that travel in its mail.
    """
    return Notice.objects.filter(
        state=Notice.State.WAITING, attempts=0, carried_by__isnull=True, resent_at__isnull=True
    )


def _withdraw(
    keys: Collection[str], unwanted: Collection[tuple[int, str]], kinds: Collection[str], now: dt.datetime
) -> int:
    """Withdraw what is not among `keys`. What is too late already is left to be marked missed."""
    rows = _untried().filter(kind__in=kinds, not_after__gte=now)
    withdrawn = 0
    for key, pk, recipient_id, kind in rows.values_list("key", "pk", "recipient_id", "kind"):
        if key not in keys:
            reason = UNWANTED if (recipient_id, kind) in unwanted else VANISHED
            withdrawn += _untried().filter(pk=pk).update(state=Notice.State.WITHDRAWN, error=reason)
    return withdrawn
