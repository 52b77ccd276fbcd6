"""Writing down that a task was done, once, however often the button is pressed."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.conf import settings
from django.db import transaction

from clubops import clock
from clubops.members.models import Member
from relays.models import Reading, ReadingKind, UpkeepRecord, UpkeepTask
from relays.upkeep import due, readings

NOON = dt.time(12)
LONGEST_AGO = dt.timedelta(days=3660)


class RecordRefused(ValueError):
    """A visit that cannot be written down; the sentence says why. `field` is the one at fault."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        self.sentence = sentence
        super().__init__(sentence)


@dataclass(frozen=True, slots=True)
class Visit:
    """What somebody says they did. `values` are readings by the id of their kind; `token` is that of the form."""

    done_on: dt.date
    by: Member | None
    notes: str = ""
    values: Mapping[int, float] = field(default_factory=dict)
    token: uuid.UUID = field(default_factory=uuid.uuid4)


@transaction.atomic
def record(task: UpkeepTask, visit: Visit, *, now: dt.datetime) -> tuple[UpkeepRecord, bool]:
    """Write a visit down with its readings; the record, and whether it is new.

    The same token again gives the record that is there already and changes nothing. Raises `RecordRefused` for a
    date in the future or long past, a reading the task does not have, and a token of another task.
    """
    today = due.club_day(now)
    _require_usable(visit, today)
    kinds = _kinds(task, visit)
    row, made = UpkeepRecord.objects.get_or_create(
        token=visit.token,
        defaults={
            "task": task,
            "done_on": visit.done_on,
            "by": visit.by,
            "notes": visit.notes.strip(),
            "was_due_on": _was_due_on(task, visit, today),
            "recorded_at": now,
        },
    )
    if row.task_id != task.pk:
        raise RecordRefused("token", "This form belongs to another task; open the page again.")
    if not made:
        return row, False
    Reading.objects.bulk_create(
        Reading(
            kind=kinds[pk],
            value=value,
            at=_read_at(visit.done_on, now),
            by=visit.by,
            record=row,
            token=uuid.uuid5(visit.token, str(pk)),
        )
        for pk, value in visit.values.items()
    )
    if task.postponed_to is not None:
        task.postponed_to = None
        task.save(update_fields=["postponed_to"])
    return row, True


def mark_done_today(tasks: Iterable[UpkeepTask], *, by: Member | None, now: dt.datetime) -> int:
    """Write down a visit of today to each task that has none today; how many."""
    today = due.club_day(now)
    count = 0
    for task in tasks:
        # One token a task and day, so that two officers pressing at once write one record.
        token = uuid.uuid5(task.public_id, today.isoformat())
        if not task.records.filter(done_on=today).exists():
            count += record(task, Visit(today, by, token=token), now=now)[1]
    return count


def _was_due_on(task: UpkeepTask, visit: Visit, today: dt.date) -> dt.date | None:
    """When the visit was due; None for one that is written down after a later one."""
    standing = due.standing_of(task, today=today)
    is_afterthought = standing.last_done_on is not None and visit.done_on < standing.last_done_on
    return None if is_afterthought else standing.due_on


def _require_usable(visit: Visit, today: dt.date) -> None:
    if visit.done_on > today:
        raise RecordRefused(
            "done_on", f"{visit.done_on} is in the future; today is {today}. Write it down when done."
        )
    if visit.done_on < today - LONGEST_AGO:
        raise RecordRefused("done_on", f"{visit.done_on} is more than ten years ago; look at the year.")
    for value in visit.values.values():
        try:
            readings.require_plain(value)
        except readings.ReadingRefused as refusal:
            raise RecordRefused("values", str(refusal)) from refusal


def _kinds(task: UpkeepTask, visit: Visit) -> dict[int, ReadingKind]:
    kinds = {kind.pk: kind for kind in task.reading_kinds.all()}
    if strange := sorted(set(visit.values) - set(kinds)):
        raise RecordRefused("values", f"This task has no reading with the number {strange[0]}.")
    return kinds


def _read_at(done_on: dt.date, now: dt.datetime) -> dt.datetime:
    """The time of a reading: now, or noon of the day it was taken on."""
    if done_on == due.club_day(now):
        return now
    return clock.to_utc(dt.datetime.combine(done_on, NOON), settings.CLUB_ZONE).at
