"""The whole service on this machine: what the demo serves and how it is stopped."""

from __future__ import annotations

import contextlib
import errno
import fcntl
import http.client
import os
import shutil
import socket
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from clubops.processes.broker import Broker, choose_broker
from clubops.processes.child import Child
from clubops.processes.errors import ProcessError
from clubops.processes.supervisor import Supervisor

HOST = "127.0.0.1"
WAIT_FOR_EARLIER_RUN_S = 15.0


@contextlib.contextmanager
def only_run(var_folder: Path) -> Iterator[int]:
    """Hold the right to run the service on this folder's data; yields the lock for `serve`.

    Raises ProcessError when another run holds it. A run that was killed may still be stopping its
    children, for which this waits.
    """
    var_folder.mkdir(parents=True, exist_ok=True)
    lock_fd = os.open(var_folder / "service.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        end = time.monotonic() + WAIT_FOR_EARLIER_RUN_S
        while not _try_lock(lock_fd):
            owner = os.pread(lock_fd, 20, 0).decode().strip()
            if _is_running(owner) or time.monotonic() > end:
                raise ProcessError(
                    f"This is already running in {var_folder.parent} (process {owner}); stop that run first."
                )
            time.sleep(0.1)
        os.ftruncate(lock_fd, 0)
        os.pwrite(lock_fd, str(os.getpid()).encode(), 0)
        yield lock_fd
    finally:
        os.close(lock_fd)


def _try_lock(lock_fd: int) -> bool:
    try:
        fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_running(process: str) -> bool:
    try:
        os.kill(int(process), 0)
    except (ValueError, ProcessLookupError):
        return False
    except PermissionError:
        return True
    return True


def open_listener(port: int) -> socket.socket:
    """Take the port now, so that nobody else can between this and the web server's start.

    Port 0 takes any free one. The web server inherits the socket, and a restarted one inherits it again:
    visitors wait a moment and are not refused. Raises ProcessError when the port cannot be had.
    """
    if not 0 <= port <= 65535:
        raise ProcessError(f"{port} is not a port; give one from 1024 to 65535, for example --port 8001.")
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen(128)
    except OSError as reason:
        listener.close()
        if reason.errno == errno.EADDRINUSE:
            raise ProcessError(
                f"Port {port} on {HOST} is taken by another program; choose another, for example "
                f"--port {port + 1 if port < 65535 else 8001}."
            ) from None
        if reason.errno == errno.EACCES:
            raise ProcessError(f"Port {port} is kept for the system; choose one above 1023.") from None
        raise ProcessError(f"Port {port} on {HOST} cannot be used: {reason.strerror}.") from None
    return listener


def address_of(listener: socket.socket) -> str:
    return f"http://{HOST}:{listener.getsockname()[1]}"


def serve(
    *,
    folder: Path,
    var_folder: Path,
    listener: socket.socket,
    lock_fd: int | None = None,
    say: Callable[[str], object] = print,
    when_ready: Callable[[str], object] | None = None,
) -> None:
    """Run broker, web, worker and beat until ^C, SIGTERM or the terminal's end; call from the main thread.

    `folder` is the project's, `var_folder` holds logs and the broker's socket. `when_ready` is given the
    address once the web server answers. Raises ProcessError if something cannot be started.
    """
    broker = choose_broker(var_folder / "run")
    if broker.note:
        say(broker.note)
    address = address_of(listener)
    try:
        Supervisor(
            children_of_the_service(folder, var_folder, listener, broker),
            log_folder=var_folder / "log",
            say=say,
            lock_fd=lock_fd,
            temporary_folders=broker.temporary_folders,
        ).run(lambda: when_ready(address) if when_ready else say(f"{address}/ (stop with ^C)"))
    finally:
        listener.close()
        for temporary in broker.temporary_folders:
            shutil.rmtree(temporary, ignore_errors=True)


def children_of_the_service(
    folder: Path, var_folder: Path, listener: socket.socket, broker: Broker
) -> list[Child]:
    """In starting order: what the others need comes first."""
    environment = {
        "DJANGO_SETTINGS_MODULE": "clubops.settings",
        "PYTHONUNBUFFERED": "1",
        "CLUBOPS_VAR_DIR": str(var_folder),
        "CLUBOPS_BROKER_URL": broker.url,
        "CLUBOPS_SITE_ADDRESS": os.environ.get("CLUBOPS_SITE_ADDRESS", address_of(listener)),
        **broker.environment,
    }
    return [
        *([broker.child] if broker.child else []),
        web_child(folder, environment, listener),
        worker_child(folder, environment),
        beat_child(folder, environment, var_folder / "run" / "beat-schedule"),
    ]


def web_child(folder: Path, environment: Mapping[str, str], listener: socket.socket) -> Child:
    """gunicorn on the socket it inherits. No access log: feed addresses are secrets and would be in it."""
    port = listener.getsockname()[1]
    return Child(
        name="web",
        argv=(
            *(sys.executable, "-m", "gunicorn", "clubops.wsgi:application"),
            *("--bind", f"fd://{listener.fileno()}", "--workers", "2", "--threads", "4"),
            *("--graceful-timeout", "5", "--no-control-socket"),
        ),
        folder=folder,
        environment=environment,
        is_ready=lambda: web_answers(port),
        keep_open=(listener.fileno(),),
    )


def worker_child(folder: Path, environment: Mapping[str, str], concurrency: int = 2) -> Child:
    """The Celery worker: a parent and `concurrency` forked processes. Alone, it needs no word from peers."""
    return Child(
        name="worker",
        argv=(
            *(sys.executable, "-m", "celery", "-A", "clubops.celery:app", "worker"),
            *("--pool", "prefork", "--concurrency", str(concurrency), "--loglevel", "INFO"),
            *("--without-gossip", "--without-mingle", "--hostname", "service@%h"),
        ),
        folder=folder,
        environment=environment,
        stop_s=20.0,  # a task under way may finish
    )


def beat_child(folder: Path, environment: Mapping[str, str], schedule_file: Path) -> Child:
    """The Celery clock. One is enough; a second one would only ask for everything twice, and get it once."""
    return Child(
        name="beat",
        argv=(
            *(sys.executable, "-m", "celery", "-A", "clubops.celery:app", "beat"),
            *("--schedule", str(schedule_file), "--pidfile", "", "--loglevel", "INFO"),
        ),
        folder=folder,
        environment=environment,
        stop_s=5.0,
    )


def web_answers(port: int) -> bool:
    """Whether the web server gives any answer at all; what it says is for its log and its own tests."""
    connection = http.client.HTTPConnection(HOST, port, timeout=1.0)
    try:
        connection.request("GET", "/")
        connection.getresponse()
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
    return True
