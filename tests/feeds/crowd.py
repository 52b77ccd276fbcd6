"""Threads that edit a club and build its calendars at the same time, on a real database.

Run with `python -m tests.feeds.crowd SEED`; prints what came of it as JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import random
import sys
import threading
import time
from collections.abc import Callable

import django
from django.core.management import call_command

EDITORS, BUILDERS, EDITS = 3, 3, 12


def run(seed: int) -> dict[str, object]:
    """Edit and build; then compare the shelf with calendars built anew by one process alone."""
    from django.db import connection  # noqa: PLC0415  settings are ready only now
    from django.test import Client  # noqa: PLC0415  settings are ready only now

    from nets import feeds  # noqa: PLC0415
    from nets.feeds import stored  # noqa: PLC0415
    from nets.models import StoredCalendar  # noqa: PLC0415
    from tests.feeds.small_club import make  # noqa: PLC0415

    paths = make(nets=3)
    editing = threading.Event()
    versions: list[tuple[str, str, float]] = []
    faults: list[str] = []

    def thread(work: Callable[[], None]) -> threading.Thread:
        def guarded() -> None:
            try:
                work()
            except Exception as problem:
                faults.append(f"{type(problem).__name__}: {problem}")
            finally:
                connection.close()

        return threading.Thread(target=guarded)

    def build() -> None:
        while not editing.is_set():
            feeds.rebuild_touched(now=dt.datetime.now(dt.UTC))
            time.sleep(0.01)

    def watch() -> None:
        while not editing.is_set():
            rows = StoredCalendar.objects.exclude(etag="").values_list("key", "etag", "modified_at")
            versions.extend((key, etag, at.timestamp()) for key, etag, at in rows)
            time.sleep(0.01)

    editors = [
        thread(lambda number=number: edit(random.Random(seed * 100 + number))) for number in range(EDITORS)
    ]
    others = [thread(build) for _ in range(BUILDERS)] + [thread(watch)]
    for each in [*editors, *others]:
        each.start()
    for each in editors:
        each.join()
    editing.set()
    for each in others:
        each.join()
    feeds.rebuild_touched(now=dt.datetime.now(dt.UTC))
    shelf = dict(StoredCalendar.objects.values_list("key", "etag"))
    changed_by_a_full_rebuilding = feeds.rebuild_changed(now=dt.datetime.now(dt.UTC))
    return {
        "faults": faults,
        "calendars": len(shelf),
        "versions": len({(key, etag) for key, etag, _ in versions}),
        "stale": len(stored.stale()),
        "behind": changed_by_a_full_rebuilding,
        "served": {
            name: Client(SERVER_NAME="127.0.0.1").get(path).status_code for name, path in paths.items()
        },
        "dates_in_order": _dates_in_order(versions),
    }


def _dates_in_order(versions: list[tuple[str, str, float]]) -> bool:
    """Whether other bytes always had a later date."""
    last: dict[str, tuple[str, float]] = {}
    for key, etag, at in versions:
        before = last.get(key)
        if before and before[0] != etag and at <= before[1]:
            return False
        last[key] = (etag, at)
    return True


def edit(draw: random.Random) -> None:
    """Call off, put back, move and man sessions at random."""
    from django.utils import timezone  # noqa: PLC0415

    from clubops.members.models import Member  # noqa: PLC0415
    from nets import schedule  # noqa: PLC0415
    from nets.models import Duty, Session  # noqa: PLC0415

    for _ in range(EDITS):
        rows = Session.objects.filter(starts_at__gt=timezone.now()).select_related("net")
        session = draw.choice(list(rows))
        action = draw.randrange(4)
        if action == 0:
            schedule.call_off(session, note="Off.")
        elif action == 1:
            schedule.restore(session)
        elif action == 2:
            session.moved_to = session.starts_at + dt.timedelta(hours=draw.choice((1, 2, 30)))
            schedule.amend(session)
        else:
            session.duties.filter(role=Duty.Role.BACKUP).delete()
            Duty.objects.get_or_create(
                session=session,
                role=Duty.Role.BACKUP,
                defaults={"member": Member.objects.get(call_sign="QZ2MEM")},
            )
        time.sleep(draw.random() / 50)


if __name__ == "__main__":
    django.setup()
    call_command("migrate", verbosity=0)
    print(json.dumps(run(int(sys.argv[1]))))
