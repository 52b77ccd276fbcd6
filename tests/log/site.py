"""The club's site as a process of its own on a database file, for browsers that write at the same time.

A test's live server shares one in-memory connection between its threads, so that two browsers writing at once would
share a transaction; here every request has a connection of its own, as in a real club. The clock is the real one.

`python -m tests.log.site VERB [ARGUMENTS]` is the inside: it runs on the database that CLUBOPS_DATABASE_URL names.
"""

from __future__ import annotations

import json
import os
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from datetime import date, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any

ROOT = Path(__file__).parents[2]
ENOUGH_S = 120
FIRST_DATE = date(2026, 1, 1)
EVENINGS = 30


def environment(database: Path) -> dict[str, str]:
    return os.environ | {
        "CLUBOPS_DATABASE_URL": f"sqlite:///{database}",
        "CLUBOPS_VAR_DIR": str(database.parent),
        "CLUBOPS_ALLOWED_HOSTS": "127.0.0.1",
        "CLUBOPS_LOG_LEVEL": "ERROR",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "PYTHONPATH": str(ROOT),
    }


class Site:
    """A club with thirty sessions on the air, served until the end of the `with` block; a test takes the next."""

    def __init__(self, folder: Path) -> None:
        self.database = folder / "club.sqlite3"
        migrate = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
        subprocess.run(migrate, env=environment(self.database), check=True, timeout=ENOUGH_S)
        self.cookies: dict[str, str] = json.loads(self.ask("prepare"))
        self.evening = FIRST_DATE - timedelta(days=1)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"

    def ask(self, verb: str, *words: str) -> str:
        command = [sys.executable, "-m", "tests.log.site", verb, *words]
        done = subprocess.run(
            command,
            cwd=ROOT,
            env=environment(self.database),
            stdout=subprocess.PIPE,
            text=True,
            timeout=ENOUGH_S,
        )
        assert done.returncode == 0
        return done.stdout

    def next_evening(self) -> None:
        """Turn to a session in whose log nobody has written yet."""
        self.evening += timedelta(days=1)
        assert self.evening < FIRST_DATE + timedelta(days=EVENINGS)

    @property
    def log(self) -> str:
        """The address of tonight's log page."""
        return f"{self.url}/nets/ridge-net/{self.evening}/log/"

    def open_the_log(self) -> None:
        self.ask("open", self.evening.isoformat())

    def rows(self) -> list[dict[str, Any]]:
        """What tonight's log holds, in the order in which it arrived, read past the site."""
        with sqlite3.connect(f"file:{self.database}?mode=ro", uri=True) as connection:
            connection.row_factory = sqlite3.Row
            found = connection.execute(
                "SELECT row.* FROM nets_checkin AS row JOIN nets_session AS session ON session.id = row.session_id "
                "WHERE session.occurrence_date = ? ORDER BY row.version",
                [self.evening.isoformat()],
            )
            return [dict(each) for each in found]

    def __enter__(self) -> Site:
        command = [sys.executable, "-m", "tests.log.site", "serve", str(self.port)]
        self.process = subprocess.Popen(command, cwd=ROOT, env=environment(self.database))
        until = time.monotonic() + ENOUGH_S
        while time.monotonic() < until:
            try:
                urllib.request.urlopen(f"{self.url}/login/", timeout=5).close()
            except OSError:
                assert self.process.poll() is None, "the site did not start"
                time.sleep(0.2)
            else:
                return self
        raise AssertionError("the site did not answer")

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.process.terminate()
        self.process.wait(ENOUGH_S)


# Inside ----------------------------------------------------------------------------------------------


def _prepare() -> None:
    """Five members, a relay, a net, and sessions that all began five minutes ago with net control and a roll."""
    import datetime as dt  # noqa: PLC0415  Django is set up only in the process of its own

    from django.contrib.auth.models import Group  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from clubops.members.models import Member, User  # noqa: PLC0415
    from clubops.members.permissions import NET_MANAGER  # noqa: PLC0415
    from nets.checkins import rollcall  # noqa: PLC0415
    from nets.models import Duty, Net, Session  # noqa: PLC0415
    from relays.models import Relay, Site  # noqa: PLC0415

    people = [("QZ2NCS", "Nell Control"), ("QZ2MGR", "Max Manager"), ("QZ2ADA", "Ada Fenwick")]
    people += [("QZ2BRM", "Bram Okoye"), ("QZ2CLE", "Cleo Marsh")]
    cookies = {}
    for call_sign, name in people:
        user = User.objects.create_user(call_sign.lower())
        Member.objects.create(call_sign=call_sign, name=name, user=user, takes_the_chair=True)
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        cookies[call_sign] = client.cookies["sessionid"].value
    User.objects.get(username="qz2mgr").groups.add(Group.objects.get(name=NET_MANAGER))
    place = Site.objects.create(
        name="High Ridge", slug="high-ridge", latitude_deg=36.4847, longitude_deg=-84.2308
    )
    relay = Relay.objects.create(
        site=place,
        name="Ridge 2 m",
        slug="ridge-2m",
        call_sign="QZ2RLY",
        output_mhz="146.730",
        input_mhz="146.130",
    )
    now = timezone.now()
    net = Net.objects.create(
        name="Ridge Net", slug="ridge-net", relay=relay, first_date=dt.date(2026, 1, 1),
        start_time=dt.time(19, 30), zone="America/New_York", script="Good evening.\nIs the frequency clear?",
    )  # fmt: skip
    for day in range(EVENINGS):
        session = Session.objects.create(
            net=net, occurrence_date=FIRST_DATE + dt.timedelta(days=day), starts_at=now - dt.timedelta(minutes=5),
            ends_at=now + dt.timedelta(minutes=55),
        )  # fmt: skip
        control = Member.objects.get(call_sign="QZ2NCS")
        Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=control)
        for call_sign in ("QZ2ADA", "QZ2BRM", "QZ2CLE"):
            rollcall.add(session, call_sign, by="QZ2NCS")
    print(json.dumps(cookies))


def _open(evening: str) -> None:
    from django.utils import timezone  # noqa: PLC0415

    from nets.checkins import keeping  # noqa: PLC0415
    from nets.models import Session  # noqa: PLC0415

    keeping.open_log(Session.objects.get(occurrence_date=evening), by="QZ2NCS", now=timezone.now())


def _serve(port: str) -> None:
    from django.contrib.staticfiles.handlers import StaticFilesHandler  # noqa: PLC0415
    from django.core.servers.basehttp import get_internal_wsgi_application, run  # noqa: PLC0415

    run("127.0.0.1", int(port), StaticFilesHandler(get_internal_wsgi_application()), threading=True)


if __name__ == "__main__":
    import django

    django.setup()
    {"prepare": _prepare, "open": _open, "serve": _serve}[sys.argv[1]](*sys.argv[2:])
