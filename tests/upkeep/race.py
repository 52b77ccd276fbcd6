"""Run in a process of its own on a database of its own: `race.py ROUNDS`. Prints one line of JSON.

Threads that begin at once: six planners top up the ledger; six times the same form is sent; six officers press “done
today”.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clubops.settings")

import django

django.setup()

from django.db import connection  # noqa: E402

from clubops.members.models import Member  # noqa: E402
from clubops.notices.models import Notice  # noqa: E402
from relays.models import Reading, ReadingKind, Site, UpkeepRecord, UpkeepTask  # noqa: E402
from relays.upkeep import records, wishes  # noqa: E402

NOW = dt.datetime(2026, 3, 3, 12, tzinfo=dt.UTC)
TODAY = dt.date(2026, 3, 3)
AT_ONCE = 6


def at_once(act: Callable[[], object]) -> None:
    """Run it in threads with connections of their own, all let go together."""
    gate = Barrier(AT_ONCE)

    def run(_: int) -> None:
        try:
            connection.ensure_connection()
            gate.wait()
            act()
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        list(pool.map(run, range(AT_ONCE)))


def one_round(site: Site, member: Member) -> dict[str, int]:
    for rows in (Notice, Reading, UpkeepRecord, ReadingKind, UpkeepTask):
        rows.objects.all().delete()
    tasks = [
        UpkeepTask.objects.create(
            site=site, name=f"Task {n}", every=3, first_due_on=TODAY, responsible=member
        )
        for n in range(5)
    ]
    kind = ReadingKind.objects.create(task=tasks[0], name="Voltage", unit="V")
    at_once(lambda: wishes.top_up(now=NOW))
    visit = records.Visit(TODAY, member, values={kind.pk: 12.6}, token=uuid.uuid4())
    at_once(lambda: records.record(tasks[0], visit, now=NOW))
    at_once(lambda: records.mark_done_today(tasks[1:], by=member, now=NOW))
    return {
        "notices": Notice.objects.count(),
        "records": UpkeepRecord.objects.count(),
        "readings": Reading.objects.count(),
    }


def main(rounds: int) -> None:
    site = Site.objects.create(name="Ridge", slug="ridge", latitude_deg=36.5, longitude_deg=-84.2)
    member = Member.objects.create(call_sign="QZ2MEM", name="M", email="m@members.club.example")
    told = [one_round(site, member) for _ in range(rounds)]
    print(json.dumps({"vendor": connection.vendor, "told": told}))


if __name__ == "__main__":
    main(int(sys.argv[1]))
