"""The web server as the service starts it, on a database of its own."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from clubops.processes import service
from clubops.processes.child import RunningChild

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60.0


@dataclass
class Served:
    """A running server; `paths` are those of its calendars, `folder` holds its database and log."""

    port: int
    paths: dict[str, str]
    folder: Path
    pid: int

    @property
    def log(self) -> str:
        return (self.folder / "web.log").read_text(errors="replace")

    def ask_raw(self, request: bytes) -> bytes:
        """Send bytes, and read until the server closes or falls silent."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as connection:
            connection.sendall(request)
            answer = b""
            while piece := connection.recv(65536):
                answer += piece
            return answer

    def ask(self, path: str, method: str = "GET", *headers: str) -> tuple[str, dict[str, str], bytes]:
        """One request; the status line, the headers in lower case and the body as they came."""
        lines = [f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", "Connection: close", *headers, "", ""]
        head, _, body = self.ask_raw("\r\n".join(lines).encode()).partition(b"\r\n\r\n")
        status, *rest = head.decode().split("\r\n")
        return (
            status,
            {name.lower(): value.strip() for name, _, value in (each.partition(":") for each in rest)},
            body,
        )


@contextmanager
def serving(folder: Path, nets: int = 1) -> Iterator[Served]:
    """Make a small club in `folder` and serve it."""
    environment = {
        "CLUBOPS_VAR_DIR": str(folder),
        "CLUBOPS_SECRET_KEY": "a key for tests only",
        "CLUBOPS_DATABASE_URL": f"sqlite:///{folder / 'club.sqlite3'}",
        "DJANGO_SETTINGS_MODULE": "clubops.settings",
        "CLUBOPS_BROKER_URL": "memory://",
    }
    made = subprocess.run(
        [sys.executable, "-m", "tests.feeds.small_club", str(nets)],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=True,
        timeout=180,
    )
    listener = service.open_listener(0)
    child = RunningChild(service.web_child(ROOT, environment, listener), folder / "web.log")
    pid = child.start()
    try:
        end = time.monotonic() + PATIENCE_S
        while not (child.child.is_ready and child.child.is_ready()):
            assert child.is_alive, child.how_it_ended()
            assert time.monotonic() < end, "the web server did not answer"
            time.sleep(0.1)
        yield Served(listener.getsockname()[1], json.loads(made.stdout.splitlines()[-1]), folder, pid)
    finally:
        child.stop(out_of_patience=lambda: False)
        listener.close()
