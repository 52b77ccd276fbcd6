"""Run in a process of its own: `hands.py VERB [ARGUMENT]`, on the database that CLUBOPS_DATABASE_URL names."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
import uuid

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from django.db.models import Max  # noqa: E402

from nets.checkins import sync  # noqa: E402
from nets.models import CheckIn, Net, Session, SessionLog  # noqa: E402

STARTS_AT = dt.datetime(2026, 3, 4, 0, 30, tzinfo=dt.UTC)
OWN = "ABCDEFGHIJKLMNOPQRST"
SHARED = "ABCDE"


def prepare() -> None:
    """A simplex net with one session and nothing in its log."""
    net = Net.objects.create(
        name="Hands",
        slug="hands",
        simplex_mhz="146.550",
        first_date=dt.date(2026, 3, 3),
        start_time=dt.time(19, 30),
    )
    ends_at = STARTS_AT + dt.timedelta(hours=1)
    Session.objects.create(net=net, occurrence_date=dt.date(2026, 3, 3), starts_at=STARTS_AT, ends_at=ends_at)


def write(hand: str) -> None:
    """Log twenty stations of one's own and five that every hand logs under the same keys; all of them twice."""
    session = Session.objects.get()
    own = [entry(f"Q{hand}2AA{letter}", uuid.uuid4()) for letter in OWN]
    shared = [entry(f"QX2SH{letter}", uuid.uuid5(uuid.NAMESPACE_DNS, letter)) for letter in SHARED]
    for operations in ([*own, *shared], [*shared, *own]):
        results = sync.apply(session, operations, by=hand, now=STARTS_AT)
        assert all(result["saved"] for result in results), results


def entry(call_sign: str, key: uuid.UUID) -> dict[str, str]:
    return {"do": "check_in", "key": str(key), "call_sign": call_sign, "heard_at": STARTS_AT.isoformat()}


def count() -> None:
    """Rows, different call signs, the highest version of a row, and the version of the log."""
    found = [
        CheckIn.objects.count(),
        CheckIn.objects.values("call_sign").distinct().count(),
        CheckIn.objects.aggregate(highest=Max("version"))["highest"],
        SessionLog.objects.get().version,
    ]
    print(json.dumps(found))


if __name__ == "__main__":
    {"prepare": prepare, "write": write, "count": count}[sys.argv[1]](*sys.argv[2:])
