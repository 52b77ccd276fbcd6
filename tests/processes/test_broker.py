"""Which broker wakes the workers, and that the private one is private."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
import redis

from clubops.processes import broker, leash
from tests.redis_server import RedisServer


@pytest.fixture(autouse=True)
def _nothing_configured(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CLUBOPS_BROKER_URL", raising=False)


def test_a_configured_broker_is_used_as_it_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CLUBOPS_BROKER_URL", "redis://broker.example:6379/0")
    chosen = broker.choose_broker(tmp_path)
    assert (chosen.url, chosen.child) == ("redis://broker.example:6379/0", None)


def test_without_redis_a_folder_will_do(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(broker, "find_redis", lambda: None)
    chosen = broker.choose_broker(tmp_path / "run")
    assert (chosen.url, chosen.child) == ("filesystem://", None)
    assert chosen.note.startswith("There is no redis-server on this machine")
    assert Path(chosen.environment["CLUBOPS_BROKER_FOLDER"]).is_dir()


def test_a_redis_that_does_not_run_is_passed_over(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    broken = tmp_path / "redis-server"
    broken.write_text("#!/bin/sh\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert broker.find_redis() != str(broken)


def test_a_long_path_moves_the_socket_to_a_short_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(broker, "find_redis", lambda: "redis-server")
    monkeypatch.setenv("TMPDIR", "/tmp")
    chosen = broker.choose_broker(tmp_path / ("long-name-" * 12))
    (folder,) = chosen.temporary_folders
    try:
        assert chosen.url == f"redis+socket://{folder}/redis.sock"
        assert folder.name.startswith(leash.TEMPORARY_PREFIX)
        assert len(chosen.url) < len("redis+socket://") + broker.LONGEST_SOCKET_PATH_BYTES
    finally:
        folder.rmdir()


def test_the_private_redis_is_for_this_user_alone(redis_server: RedisServer) -> None:
    assert stat.filemode(redis_server.socket_path.stat().st_mode) == "srwx------"
    with redis.Redis(unix_socket_path=str(redis_server.socket_path)) as client:
        assert client.config_get("port") == {"port": "0"}


@pytest.mark.parametrize("end", ["stop", "kill"])
def test_the_private_redis_is_empty_after_a_restart(redis_server: RedisServer, end: str) -> None:
    with redis.Redis(unix_socket_path=str(redis_server.socket_path)) as client:
        client.set("word", "kept nowhere")
        getattr(redis_server, end)()
        assert not broker.redis_answers(redis_server.socket_path)
        redis_server.start()
        assert client.get("word") is None
    assert {path.name for path in redis_server.socket_path.parent.iterdir()} == {"redis.sock", "redis.log"}
