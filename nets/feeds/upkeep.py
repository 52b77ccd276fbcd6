"""Upkeep duties in the private calendar of whoever is asked: one all-day entry a task, on the day it is due.

The entry moves on when the task is done, is put off, or changes its rhythm; it is struck out when somebody else is
asked or the task is laid to rest. Its number only rises (RFC 5545 section 3.8.7.4), whatever becomes of the task. No
public calendar holds one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse

from clubops.members.models import Member
from nets.calendars import entries, identity
from nets.feeds.entries import KEPT
from nets.models import UpkeepEntry
from relays.upkeep import due, hazards
from relays.upkeep.due import Standing

WHOLE_DAY = dt.timedelta(days=1)
CANCELLED = "cancelled"
BEFORE_YOU_GO = "Read the cautions on the task’s page before you go: {}."


@dataclass(frozen=True, slots=True)
class Statement:
    """What a member's calendar is to say of one task."""

    seed: str
    member_id: int
    facts: dict[str, Any]


def follow(members: Collection[int], *, now: dt.datetime) -> int:
    """Write down what the calendars of these members are to say of upkeep; how many entries changed.

    Repeating it changes nothing, and two workers may do it at once: a row is changed by one conditional UPDATE.
    """
    if not members:
        return 0
    wanted = {each.seed: each for each in _statements(members, now)}
    known = {row.seed: row for row in UpkeepEntry.objects.filter(member__in=members)}
    for seed, row in known.items():
        wanted.setdefault(seed, Statement(seed, row.member_id, row.facts | {"status": CANCELLED}))
    fresh: list[UpkeepEntry] = []
    changed = 0
    for seed, statement in sorted(wanted.items()):
        stored = known.get(seed)
        before = identity.Revision(stored.sequence, stored.digest) if stored else None
        revised = identity.revise(before, sorted(statement.facts.items()))
        if stored is None:
            fresh.append(_entry(statement, revised.digest, now))
        elif revised != before:
            changed += UpkeepEntry.objects.filter(pk=stored.pk, sequence=stored.sequence).update(
                sequence=revised.sequence,
                digest=revised.digest,
                facts=statement.facts,
                modified_at=max(now, stored.modified_at),
            )
    # Another worker may have said the same a moment ago.
    UpkeepEntry.objects.bulk_create(fresh, ignore_conflicts=True)
    return len(fresh) + changed


def events(member: Member, *, now: dt.datetime) -> list[entries.SingleEvent]:
    """What this member's calendar says of upkeep; what is struck out stays as long as other entries do."""
    rows = UpkeepEntry.objects.filter(member=member)
    kept = (row for row in rows if row.facts["status"] != CANCELLED or row.modified_at > now - KEPT)
    return [_event(row) for row in kept]


def _statements(members: Collection[int], now: dt.datetime) -> Iterator[Statement]:
    for each in due.standings(due.active_tasks(), today=due.club_day(now)):
        if each.asked is not None and each.asked.pk in members:
            seed = f"{each.task.public_id}/{each.asked.pk}"
            yield Statement(seed, each.asked.pk, _facts(each))


def _facts(standing: Standing) -> dict[str, Any]:
    task = standing.task
    dangers = ", ".join(hazard.label for hazard in hazards.named(task.hazards))
    return {
        "status": "confirmed",
        "title": f"Upkeep: {task.name}",
        "due_on": standing.due_on.isoformat(),
        "location": task.where,
        "description": BEFORE_YOU_GO.format(dangers) if dangers else "",
        "url": settings.SITE_ADDRESS + reverse("relays:upkeep_task", args=[task.pk]),
    }


def _entry(statement: Statement, digest: str, now: dt.datetime) -> UpkeepEntry:
    return UpkeepEntry(
        seed=statement.seed,
        member_id=statement.member_id,
        facts=statement.facts,
        digest=digest,
        created_at=now,
        modified_at=now,
    )


def _event(row: UpkeepEntry) -> entries.SingleEvent:
    facts = row.facts
    day = dt.date.fromisoformat(facts["due_on"])
    return entries.SingleEvent(
        kind="event",
        seed=f"upkeep/{row.seed}",
        title=facts["title"],
        starts_at=dt.datetime.combine(day, dt.time(), dt.UTC),
        duration=WHOLE_DAY,
        sequence=row.sequence,
        created=row.created_at,
        last_modified=row.modified_at,
        status=facts["status"],
        description=facts["description"],
        location=facts["location"],
        url=facts["url"],
        all_day=True,
    )
