"""The shelf of built calendars: touched when what they are made from changes, replaced when built again.

A row counts its touches and remembers for which count its bytes were built. Building reads the count first and the
records after it, and puts its bytes down only if nobody has put down later ones, so that any number of workers may
build at once, in any order, and die at any moment: what was not put down is still stale and is built again.
"""

from __future__ import annotations

import datetime as dt
import gzip
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F, QuerySet

from nets.calendars.feed import BuiltFeed
from nets.feeds.catalogue import Subject
from nets.models import StoredCalendar

SECOND = dt.timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Work:
    """A calendar to build, and the count of touches it will then be built for."""

    subject: Subject
    touched: int


@transaction.atomic
def touch(subjects: Collection[Subject]) -> bool:
    """Mark calendars as stale, those that are not there yet too. True when one of them was fresh until now.

    False therefore means that somebody has been called already: a hundred changes call one worker.
    """
    by_key = {subject.key: subject for subject in subjects}
    # Locked in one order, so that two of these cannot wait for each other.
    rows = StoredCalendar.objects.select_for_update().filter(key__in=by_key).order_by("key")
    counts = {key: (touched, built) for key, touched, built in rows.values_list("key", "touched", "built")}
    StoredCalendar.objects.filter(key__in=counts).update(touched=F("touched") + 1)
    missing = [_row(subject) for key, subject in sorted(by_key.items()) if key not in counts]
    StoredCalendar.objects.bulk_create(missing, ignore_conflicts=True)
    return bool(missing) or any(touched == built for touched, built in counts.values())


def _row(subject: Subject) -> StoredCalendar:
    return StoredCalendar(
        key=subject.key,
        net_id=subject.net_id,
        relay_id=subject.relay_id,
        member_id=subject.member_id,
        has_alarms=subject.has_alarms,
    )


def stale() -> list[Work]:
    """What is to be built, with the counts as they are before anything is read for it."""
    return _work(StoredCalendar.objects.exclude(touched=F("built")))


def everything() -> list[Work]:
    """The same for all calendars, fresh or not."""
    return _work(StoredCalendar.objects.all())


def _work(rows: QuerySet[StoredCalendar]) -> list[Work]:
    columns = ("net_id", "relay_id", "member_id", "has_alarms", "touched")
    return [Work(Subject(*ids), touched) for *ids, touched in rows.order_by("pk").values_list(*columns)]


def missing(subjects: Collection[Subject]) -> list[Subject]:
    """Those that are not on the shelf, not even as stale."""
    there = set(StoredCalendar.objects.values_list("key", flat=True))
    return [subject for subject in subjects if subject.key not in there]


@transaction.atomic
def put(work: Work, built: BuiltFeed, *, now: dt.datetime) -> bool:
    """Put bytes on the shelf unless later ones are there. True when a reader gets other bytes than before."""
    row = StoredCalendar.objects.select_for_update().filter(key=work.subject.key).first()
    # A row with fewer touches than the work was made for is another one: its address was made anew meanwhile.
    if row is None or not row.built <= work.touched <= row.touched:
        return False
    is_new = row.etag != built.etag
    if not is_new and row.built == work.touched:
        return False
    row.built = work.touched
    if is_new:
        row.body, row.body_gzip = built.content, gzip.compress(built.content, mtime=0)
        row.etag, row.modified_at = built.etag, _modified_at(row, now)
    row.save(update_fields=["built", *(["body", "body_gzip", "etag", "modified_at"] if is_new else [])])
    return is_new


def _modified_at(row: StoredCalendar, now: dt.datetime) -> dt.datetime:
    """In whole seconds and later than the last: Last-Modified has no finer step, and must tell two apart."""
    now = now.replace(microsecond=0)
    return now if row.modified_at is None else max(now, row.modified_at + SECOND)


def drop_all_but(subjects: Iterable[Subject]) -> int:
    """Forget calendars that nobody has any more, such as one whose address was revoked."""
    gone = StoredCalendar.objects.exclude(key__in=[subject.key for subject in subjects])
    return gone.delete()[0]
