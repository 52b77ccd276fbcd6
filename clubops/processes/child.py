"""One child process: what it is, and its life under the supervisor."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from clubops.processes import leash

LARGEST_LOG_BYTES = 5_000_000
# The last line of a Python traceback.
_EXCEPTION = re.compile(r"^[\w.]*(Error|Exception|ImproperlyConfigured)\b")


@dataclass(frozen=True)
class Child:
    """A command to keep running.

    `environment` is added to the supervisor's own. `is_ready`, where given, is asked until it says yes
    before the next child is started. `keep_open` are file descriptors the child inherits. `stop_s` is how
    long it may take to stop when asked before it is killed.
    """

    name: str
    argv: tuple[str, ...]
    folder: Path
    environment: Mapping[str, str] = field(default_factory=dict)
    is_ready: Callable[[], bool] | None = None
    keep_open: tuple[int, ...] = ()
    stop_s: float = 10.0


class RunningChild:
    """A child's present process, if any, and how often it has died lately."""

    def __init__(self, child: Child, log_path: Path) -> None:
        self.child = child
        self.log_path = log_path
        self.process: subprocess.Popen[bytes] | None = None
        self.started_at_s = 0.0
        self.deaths_in_a_row = 0
        self.start_again_at_s = 0.0
        self._log_offset = 0

    def start(self) -> int:
        """Start the process in a group of its own; returns the group's number, which is the process's."""
        if self.log_path.exists() and self.log_path.stat().st_size > LARGEST_LOG_BYTES:
            self.log_path.replace(self.log_path.with_suffix(".log.1"))
        held = (sys.executable, "-I", "-S", leash.__file__, "hold", str(os.getpid()), *self.child.argv)
        with self.log_path.open("ab") as log:
            self._log_offset = log.tell()
            self.process = subprocess.Popen(
                held,
                cwd=self.child.folder,
                env={**os.environ, **self.child.environment},
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                pass_fds=self.child.keep_open,
                start_new_session=True,  # ^C at the terminal reaches the supervisor alone
            )
        self.started_at_s = time.monotonic()
        return self.process.pid

    @property
    def is_alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def how_it_ended(self) -> str:
        """The exit in words, with its last words to the log unless it was killed and could leave none."""
        assert self.process is not None
        status = self.process.returncode
        if status < 0:
            return f"ended by {signal.Signals(-status).name}"
        how = f"exit status {status}"
        with self.log_path.open("rb") as log:
            log.seek(self._log_offset)
            lines = log.read().decode(errors="replace").strip().splitlines()
        # gunicorn ends with a summary; the exception that explains it stands further up.
        errors = [line for line in lines if _EXCEPTION.match(line)]
        words = (errors or lines)[-1:]
        return f"{how}: {words[0].strip()[:300]}" if words else how

    def stop(self, out_of_patience: Callable[[], bool]) -> bool:
        """Ask the process to stop, wait, and kill what is left of its group; False if it had to be killed.

        A descendant that outlives its leader is killed at once: every leader here waits for its own.
        """
        process = self.process
        if process is None:
            return True
        end = time.monotonic() + self.child.stop_s
        if process.poll() is None:
            process.terminate()
        while process.poll() is None and time.monotonic() < end and not out_of_patience():
            time.sleep(0.02)
        stopped = process.poll() is not None
        leash.kill_group(process.pid)
        process.wait()
        self.process = None
        return stopped
