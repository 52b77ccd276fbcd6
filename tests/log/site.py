"""The club's site as a process of its own on a database file, for browsers that write at the same time.

A test's live server shares one in-memory connection between its threads, so that two browsers writing at once would
share a transaction; here every request has a connection of its own, as in a real club. The clock is the real one.
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
from datetime import timedelta
from pathlib import Path
from types import TracebackType
from typing import Any

from tests.log.evenings import EVENINGS, FIRST_DATE

ROOT = Path(__file__).parents[2]
ENOUGH_S = 120


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
        command = [sys.executable, "-m", "tests.log.stage", verb, *words]
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
        command = [sys.executable, "-m", "tests.log.stage", "serve", str(self.port)]
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
