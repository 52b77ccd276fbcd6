"""Everything a fault test needs: a database, a Redis, a mail server, and real worker and beat processes."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psycopg
from celery import Celery

from clubops.processes import leash
from clubops.processes.child import Child, RunningChild
from tests.faults import stops
from tests.notices.smtp_server import Post
from tests.redis_server import RedisServer

ROOT = Path(__file__).resolve().parents[2]
SEND_DUE = "clubops.notices.tasks.send_due"
# Patience with a slow machine; a test that passes takes far less.
PATIENCE_S = 60.0


class Scene:
    """`limits` are the seconds of a run, its limit and a lease."""

    def __init__(
        self,
        database_url: str,
        folder: Path,
        redis: RedisServer,
        port: int,
        limits: tuple[float, float, float] = (1, 2, 3),
    ) -> None:
        self.database_url, self.folder, self.redis = database_url, folder, redis
        self.children: list[RunningChild] = []
        run_s, limit_s, lease_s = limits
        self.lease_s = lease_s
        self.environment = {
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            "PYTHONPATH": str(ROOT),
            "CLUBOPS_VAR_DIR": str(folder),
            "CLUBOPS_SECRET_KEY": "a key for tests only",
            "CLUBOPS_DATABASE_URL": database_url,
            "CLUBOPS_BROKER_URL": redis.url,
            "CLUBOPS_MAIL_HOST": "127.0.0.1",
            "CLUBOPS_MAIL_PORT": str(port),
            "CLUBOPS_MAIL_TIMEOUT_S": "1",
            "CLUBOPS_NOTICES_RUN_S": str(run_s),
            "CLUBOPS_NOTICES_RUN_LIMIT_S": str(limit_s),
            "CLUBOPS_NOTICES_LEASE_S": str(lease_s),
            stops.FOLDER: str(folder),
        }
        self._sender = Celery(broker=redis.url, broker_connection_retry_on_startup=False)

    # Processes ---------------------------------------------------------------------------------------

    def worker(self, name: str = "worker", *, wait: bool = True) -> RunningChild:
        """Start a worker with one sending process, and wait until it is ready."""
        argv = ("worker", "--pool", "prefork", "--concurrency", "1", "--loglevel", "INFO")
        argv += ("--without-gossip", "--without-mingle", "--without-heartbeat", "--hostname", f"{name}@%h")
        running = self._start(f"{name} {len(self.children)}", argv)
        if wait:
            self.until(lambda: " ready." in self.log_of(running), f"{name} is ready")
        return running

    def beat(self, name: str = "beat") -> RunningChild:
        """Start a beat: two of them have two schedule files, as two by mistake would."""
        schedule = self.folder / f"{name} {len(self.children)}.schedule"
        argv = ("beat", "--schedule", str(schedule), "--pidfile", "", "--loglevel", "INFO")
        return self._start(f"{name} {len(self.children)}", argv)

    def _start(self, name: str, argv: tuple[str, ...]) -> RunningChild:
        whole = (sys.executable, "-m", "celery", "-A", "clubops.celery:app", *argv)
        child = Child(name=name, argv=whole, folder=ROOT, environment=self.environment)
        running = RunningChild(child, self.folder / f"{name}.log")
        running.start()
        self.children.append(running)
        return running

    def log_of(self, running: RunningChild) -> str:
        return running.log_path.read_text(errors="replace")

    def kill(self, running: RunningChild) -> None:
        """SIGKILL to a process and everything it has started."""
        assert running.process is not None
        leash.kill_group(running.process.pid)
        running.process.wait()

    def stop_all(self) -> None:
        for running in self.children:
            if running.is_alive:
                self.kill(running)

    def run_script(self, *given: object) -> Any:
        """A verb of `script` in a process of its own; what it printed."""
        command = [sys.executable, "-m", "tests.faults.script", *map(str, given)]
        done = subprocess.run(
            command,
            cwd=ROOT,
            env={**os.environ, **self.environment},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.splitlines()[-1])

    def wake(self) -> None:
        """A wake-up as the beat sends it."""
        self._sender.send_task(SEND_DUE)

    # What is so --------------------------------------------------------------------------------------

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Asked of the database directly, past the code under test."""
        if self.database_url.startswith("sqlite"):
            connection: Any = sqlite3.connect(self.database_url.removeprefix("sqlite:///"), timeout=20)
        else:
            connection = psycopg.connect(self.database_url, autocommit=True)
        try:
            return list(connection.execute(query).fetchall())
        finally:
            connection.close()

    def states(self) -> Counter[str]:
        return Counter(dict(self.rows("SELECT state, count(*) FROM notices_notice GROUP BY state")))

    def until(self, condition: Callable[[], object], what: str, within_s: float = PATIENCE_S) -> None:
        end = time.monotonic() + within_s
        while not condition():
            assert time.monotonic() < end, f"Not within {within_s} s: {what}. {self.states()}\n{self._logs()}"
            time.sleep(0.05)

    def until_all_sent(self, count: int, *, by_waking: bool = True) -> None:
        """Wait until every notice is sent; the beat's part is played here unless a real one runs."""

        def done() -> bool:
            if by_waking:
                self.wake()
                time.sleep(0.3)
            return self.states() == {"sent": count}

        self.until(done, f"{count} notices are sent")

    def _logs(self) -> str:
        return "\n".join(f"--- {each.child.name}\n{self.log_of(each)[-2000:]}" for each in self.children)


def deliveries(post: Post) -> Counter[str]:
    """How often each notice arrived, by the keys in the mails that the server took."""
    found: Counter[str] = Counter()
    for message in post.taken:
        text = next(part for part in message.walk() if part.get_content_type() == "text/plain")
        body = text.get_payload(decode=True)
        assert isinstance(body, bytes)
        found.update(re.findall(r"key <([^>]+)>", body.decode()))
    return found


def doubled(post: Post) -> int:
    """How many deliveries there were beyond the first of each notice."""
    return sum(times - 1 for times in deliveries(post).values())
