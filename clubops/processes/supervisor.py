"""Start the children in order, keep them running, stop them in reverse order."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import FrameType

from clubops.processes import leash
from clubops.processes.child import Child, RunningChild
from clubops.processes.errors import ProcessError

TICK_S = 0.1
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Guard:
    """The process that stops the children should the supervisor die without doing so itself.

    It inherits `lock_fd`, so a lock held by the supervisor stays held until the last child is gone.
    """

    def __init__(self, lock_fd: int | None, folders: Sequence[Path]) -> None:
        self.keep_open = () if lock_fd is None else (lock_fd,)
        self.folders = folders
        self.groups: list[int] = []
        self.process = self._start()

    def _start(self) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-I", "-S", leash.__file__, "guard"],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=self.keep_open,
            start_new_session=True,
            text=True,
        )
        for folder in self.folders:
            self._tell(process, f"folder {folder}")
        for group in self.groups:
            self._tell(process, f"group {group}")
        return process

    def _tell(self, process: subprocess.Popen[str], line: str) -> None:
        assert process.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # a dead guard is replaced at the next look
            process.stdin.write(f"{line}\n")
            process.stdin.flush()

    def add(self, group: int) -> None:
        self.groups.append(group)
        self._tell(self.process, f"group {group}")

    def remove(self, group: int) -> None:
        self.groups.remove(group)
        self._tell(self.process, f"gone {group}")

    def replace_if_dead(self) -> None:
        if self.process.poll() is not None:
            assert self.process.stdin is not None
            with contextlib.suppress(BrokenPipeError):
                self.process.stdin.close()
            self.process = self._start()

    def dismiss(self) -> None:
        """Let the guard clear up what is left on its list, normally nothing, and wait for it to go."""
        assert self.process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self.process.stdin.close()
        self.process.wait()


class Supervisor:
    """Runs the children until asked to stop; call from the main thread.

    `say` gets one plain line at a time. A dead child is started again after `first_pause_s`, twice that
    the next time, and so on up to `longest_pause_s`; one that has run for `steady_after_s` begins afresh.
    """

    def __init__(
        self,
        children: Sequence[Child],
        *,
        log_folder: Path,
        say: Callable[[str], object] = print,
        lock_fd: int | None = None,
        temporary_folders: Sequence[Path] = (),
        patience_s: float = 90.0,
        first_pause_s: float = 1.0,
        longest_pause_s: float = 30.0,
        steady_after_s: float = 60.0,
    ) -> None:
        log_folder.mkdir(parents=True, exist_ok=True)
        self.running = [RunningChild(child, log_folder / f"{child.name}.log") for child in children]
        self.patience_s = patience_s
        self.first_pause_s = first_pause_s
        self.longest_pause_s = longest_pause_s
        self.steady_after_s = steady_after_s
        self._say_line = say
        self._lock_fd = lock_fd
        self._folders = temporary_folders
        self._times_asked_to_stop = 0

    def run(self, when_ready: Callable[[], object] = lambda: None) -> None:
        """Start everything, call `when_ready`, and stay until asked to stop.

        Raises ProcessError if a child cannot be started in the first place; the others are stopped first.
        """
        with self._listening_for_signals():
            self.guard = Guard(self._lock_fd, self._folders)
            try:
                for one in self.running:
                    self._start_and_wait(one)
                if not self._times_asked_to_stop:
                    when_ready()
                while not self._times_asked_to_stop:
                    self.look_after()
                    time.sleep(TICK_S)
            finally:
                self._stop_all()
                self.guard.dismiss()

    def _start_and_wait(self, one: RunningChild) -> None:
        if self._times_asked_to_stop:
            return
        self.guard.add(one.start())
        end = time.monotonic() + self.patience_s
        while one.child.is_ready is not None and not self._times_asked_to_stop:
            if not one.is_alive:
                raise ProcessError(
                    f"{one.child.name} did not start ({one.how_it_ended()}). Its log: {one.log_path}"
                )
            if one.child.is_ready():
                return
            if time.monotonic() > end:
                raise ProcessError(
                    f"{one.child.name} did not answer within {self.patience_s:.0f} s. Its log: {one.log_path}"
                )
            time.sleep(TICK_S / 2)

    def look_after(self) -> None:
        """Notice children that died, and start again those whose pause is over."""
        self.guard.replace_if_dead()
        for one in self.running:
            if one.process is not None and not one.is_alive:
                self._lay_to_rest(one)
            if one.process is None and time.monotonic() >= one.start_again_at_s:
                try:
                    self.guard.add(one.start())
                except OSError as reason:
                    pause_s = self._put_off(one)
                    self._say(f"{one.child.name} could not be started ({reason}); again in {pause_s:g} s.")

    def _put_off(self, one: RunningChild) -> float:
        """Set when a child is started again; returns how many seconds from now."""
        pause_s = min(self.first_pause_s * 2.0**one.deaths_in_a_row, self.longest_pause_s)
        one.deaths_in_a_row += 1
        one.start_again_at_s = time.monotonic() + pause_s
        return pause_s

    def _lay_to_rest(self, one: RunningChild) -> None:
        assert one.process is not None
        if time.monotonic() - one.started_at_s >= self.steady_after_s:
            one.deaths_in_a_row = 0
        pause_s = self._put_off(one)
        self._say(
            f"{one.child.name} stopped by itself ({one.how_it_ended()}); "
            f"starting it again in {pause_s:g} s. Its log: {one.log_path}"
        )
        group = one.process.pid
        leash.kill_group(group)  # what the dead process left behind
        one.process = None
        self.guard.remove(group)

    def _stop_all(self) -> None:
        for one in reversed(self.running):
            if one.process is None:
                continue
            group = one.process.pid
            # Asked a second time, nobody waits any longer.
            if not one.stop(out_of_patience=lambda: self._times_asked_to_stop > 1):
                self._say(f"{one.child.name} did not stop when asked and was killed.")
            self.guard.remove(group)

    def _say(self, line: str) -> None:
        with contextlib.suppress(OSError, ValueError):  # the terminal may be gone, and the work goes on
            self._say_line(line)

    @contextlib.contextmanager
    def _listening_for_signals(self) -> Iterator[None]:
        def ask(_signal: int, _frame: FrameType | None) -> None:
            self._times_asked_to_stop += 1

        before = {number: signal.signal(number, ask) for number in STOP_SIGNALS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
