"""Run in a process of its own: `script.py VERB ARGUMENTS`. Prints one line of JSON."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.faults.settings"

import django

django.setup()

from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from clubops.members.models import Member  # noqa: E402
from clubops.notices import outbox, policy, reports, wanted  # noqa: E402
from clubops.notices.models import Notice  # noqa: E402
from clubops.notices.wanted import Wanted  # noqa: E402
from tests.faults.apps import KIND  # noqa: E402

DAY = dt.timedelta(days=1)


def people(count: int) -> list[Member]:
    """The first `count` people of the test club."""
    rows = [
        Member(call_sign=f"QZ{n % 8 + 2}X{n:05d}", name=f"Person {n}", email=f"p{n}@members.club.example")
        for n in range(count)
    ]
    Member.objects.bulk_create(rows, ignore_conflicts=True)
    return list(Member.objects.order_by("pk")[:count])


def wishes(members: list[Member], each: int) -> list[Wanted]:
    today = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
    return [
        Wanted(
            key=f"{KIND}/{number}/member:{member.pk}",
            recipient_id=member.pk,
            kind=KIND,
            subject_key="test:1",
            title=f"Notice {number}",
            due_at=today,
            not_after=today + 40000 * DAY,
        )
        # A person's notices lie side by side, so that workers meet over them.
        for member in members
        for number in range(each)
    ]


def seed(count: int, each: int) -> int:
    """Enter `each` due notices for each of `count` people."""
    return wanted.reconcile(wishes(people(count), each), kinds=[KIND], now=timezone.now()).made


def in_threads(count: int, verb: Callable[[int], object]) -> list[object]:
    """The same verb in `count` threads that begin at once, each with a database connection of its own."""
    start = Barrier(count)

    def one(number: int) -> object:
        try:
            start.wait()
            return verb(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(one, range(count)))


def claim(threads: int) -> list[list[int]]:
    """Let so many workers take all they can get; the notices each got, companions included."""

    def take(_number: int) -> list[int]:
        got: list[int] = []
        current = policy.current()
        while batch := outbox.due(now=timezone.now(), policy=current, limit=40):
            for notice in batch:
                if mine := outbox.claim(notice, now=timezone.now(), policy=current):
                    got += [each.pk for each in outbox.gather(mine, now=timezone.now()).notices]
        return got

    return in_threads(threads, take)  # type: ignore[return-value]


def reconcile(threads: int, count: int, each: int) -> list[object]:
    """Let so many planners enter the same wishes at once."""
    asked = wishes(people(count), each)
    return in_threads(threads, lambda _n: wanted.reconcile(asked, kinds=[KIND], now=timezone.now()).made)


def report(threads: int) -> int:
    """Let so many workers report the same failures at once; how many reports there are."""
    manager = people(1)[0]
    reports._watcher = lambda notice: manager
    Notice.objects.update(state="failed", error="Why.", needs_report=True)
    in_threads(threads, lambda _n: reports.tell(now=timezone.now()))
    return Notice.objects.filter(kind=reports.KIND).count()


if __name__ == "__main__":
    verb, *given = sys.argv[1:]
    print(json.dumps(globals()[verb](*map(int, given))))
