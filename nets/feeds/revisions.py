"""What calendars said last of each thing, so that a SEQUENCE never falls and an end can still be told.

Rows are deleted and made again; readers keep what they were told. Each entry therefore has a row of its own here
that only ever counts up (RFC 5545 section 3.8.7.4), whatever becomes of the session or duty.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from django.db.models import Q

from nets import schedule
from nets.calendars import identity
from nets.feeds import entries
from nets.feeds.entries import KEPT, Known, Statement
from nets.models import CalendarEntry, Net

Kind = CalendarEntry.Kind


def follow(net: Net, *, now: dt.datetime) -> int:
    """Write down what calendars are to say of `net`, its sessions and its duties; how many entries changed.

    Repeating it changes nothing, and two workers may do it at once: a row is changed by one conditional UPDATE.
    """
    statements = list(_statements(net, now))
    known = _known(net, statements, now)
    said = {(each.kind, each.seed) for each, _ in statements}
    wanted = [each for each, is_new in statements if is_new or (each.kind, each.seed) in known]
    wanted.extend(_of_the_gone(net, entry) for key, entry in known.items() if key not in said)
    return _say(net, wanted, known, now)


def _statements(net: Net, now: dt.datetime) -> Iterator[tuple[Statement, bool]]:
    """What the rows say, each with whether it is said even if it never was before."""
    for terms in schedule.rules_of(net):
        yield entries.rule_statement(net, terms, now=now), True
    yield from entries.session_statements(net, now=now)
    for statement in entries.duty_statements(net, now=now):
        yield statement, True


def _known(net: Net, statements: Iterable[tuple[Statement, bool]], now: dt.datetime) -> Known:
    """What was said before of these things, and of recent ones that have no row any more."""
    recent = Q(ends_at__gt=now - KEPT)
    rows = net.calendar_entries.filter(recent | Q(seed__in=[each.seed for each, _ in statements]))
    return {(entry.kind, entry.seed): entry for entry in rows}


def _of_the_gone(net: Net, entry: CalendarEntry) -> Statement:
    is_session = entry.kind == Kind.SESSION
    facts = entries.session_gone(net, entry) if is_session else entry.facts | {"status": "cancelled"}
    return Statement(entry.kind, entry.seed, facts, 0, entry.member_id, entry.occurrence_date)


def _say(net: Net, statements: Iterable[Statement], known: Known, now: dt.datetime) -> int:
    fresh, changed = [], 0
    for statement in statements:
        stored = known.get((statement.kind, statement.seed))
        before = identity.Revision(stored.sequence, stored.digest) if stored else None
        revised = identity.revise(before, sorted(statement.facts.items()))
        if stored is None:
            fresh.append(_entry(net, statement, revised.digest, now))
        elif revised != before:
            changed += CalendarEntry.objects.filter(pk=stored.pk, sequence=stored.sequence).update(
                sequence=max(statement.least_sequence, revised.sequence),
                digest=revised.digest,
                facts=statement.facts,
                ends_at=statement.ends_at,
                modified_at=max(now, stored.modified_at),
            )
    # Another worker may have said the same a moment ago.
    CalendarEntry.objects.bulk_create(fresh, ignore_conflicts=True)
    return len(fresh) + changed


def _entry(net: Net, statement: Statement, digest: str, now: dt.datetime) -> CalendarEntry:
    return CalendarEntry(
        kind=statement.kind,
        seed=statement.seed,
        net=net,
        member_id=statement.member_id,
        occurrence_date=statement.occurrence_date,
        ends_at=statement.ends_at,
        facts=statement.facts,
        sequence=statement.least_sequence,
        digest=digest,
        created_at=now,
        modified_at=now,
    )
