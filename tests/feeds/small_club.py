"""Makes a small club in the database of this process's settings and prints the paths of its calendars.

Run with `python -m tests.feeds.small_club [NETS]` for a server of its own.
"""

from __future__ import annotations

import datetime as dt
import json
import sys

import django
from django.core.management import call_command


def make(nets: int) -> dict[str, str]:
    """A member with a duty and a private calendar, one with a revoked one, and some simplex nets."""
    from django.utils import timezone  # noqa: PLC0415  settings are ready only now

    from nets import feeds, schedule  # noqa: PLC0415
    from nets.models import Duty, Net  # noqa: PLC0415
    from tests.conftest import make_member  # noqa: PLC0415

    now = timezone.now()
    for number in range(nets):
        Net.objects.create(
            name=f"Net {number}",
            slug=f"net-{number}",
            description="Everybody is welcome; a first check-in needs only a call sign and a name.",
            simplex_mhz="146.520",
            first_date=now.date() - dt.timedelta(days=30),
            start_time=dt.time(19, 30),
            zone="America/New_York",
        )
    schedule.plan_all(now=now)
    holder, former = make_member("QZ2NCS"), make_member("QZ2MEM")
    for session in Net.objects.earliest("pk").sessions.all():
        Duty.objects.create(session=session, member=holder, role=Duty.Role.NET_CONTROL)
    feeds.renew(holder, now=now)
    feeds.renew(former, now=now)
    found = {"member": feeds.member_address(holder), "revoked": feeds.member_address(former)}
    feeds.revoke(former, now=now)
    feeds.rebuild_changed(now=now)
    found |= {"club": feeds.club_address(), "net": feeds.net_address(Net.objects.earliest("pk"))}
    return {name: "/" + address.split("/", 3)[3] for name, address in found.items()}


if __name__ == "__main__":
    django.setup()
    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    print(json.dumps(make(int(sys.argv[1]) if len(sys.argv) > 1 else 1)))
