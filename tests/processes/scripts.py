"""Small processes to supervise: they write down what happens to them in a shared notebook."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.bootstrap.tiny_project import ROOT

PATIENCE_S = 20.0

PREAMBLE = """
import os, signal, subprocess, sys, time
name, notebook = sys.argv[1], sys.argv[2]
def note(word):
    with open(notebook, "a") as book:
        book.write(f"{name} {word} {os.getpid()}\\n")
"""
POLITE = """
def stop(*_):
    note("stopped"); sys.exit(0)
signal.signal(signal.SIGTERM, stop)
note("started")
while True: time.sleep(60)
"""
# Deaf to SIGTERM, like the descendant it starts.
STUBBORN = """
signal.signal(signal.SIGTERM, signal.SIG_IGN)
if name.endswith("descendant"):
    note("started")
else:
    subprocess.Popen([sys.executable, "-I", "-S", "-c", sys.argv[3], name + "-descendant", notebook, ""])
    note("started")
while True: time.sleep(60)
"""
SHORT_LIVED = 'note("started"); print("I have had enough"); sys.exit(7)'

SUPERVISE = """
import sys
sys.path.insert(0, {root!r})
from pathlib import Path
from clubops.processes.child import Child
from clubops.processes.errors import ProcessError
from clubops.processes.supervisor import Supervisor
folder = Path({folder!r})
def child(name, code, **more):
    code = {preamble!r} + code
    command = (sys.executable, "-I", "-S", "-c", code, name, str(folder / "notebook"), code)
    return Child(name, command, folder, **more)
def say(line): print(line, flush=True)
supervisor = Supervisor({children}, log_folder=folder / "log", say=say, {more})
try:
    supervisor.run(lambda: print("ready", flush=True))
except ProcessError as trouble:
    sys.exit(str(trouble))
"""


class Supervised:
    """A supervisor in a process of its own, and the notebook its children write in."""

    def __init__(self, folder: Path, children: str, more: str = "first_pause_s=0.1") -> None:
        self.notebook = folder / "notebook"
        self.notebook.touch()
        script = SUPERVISE.format(
            root=str(ROOT), folder=str(folder), preamble=PREAMBLE, children=children, more=more
        )
        self.process = subprocess.Popen(
            [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def notes(self, word: str) -> list[str]:
        """The names of the children that wrote `word`, in order."""
        return [line.split()[0] for line in self.notebook.read_text().splitlines() if f" {word} " in line]

    def processes(self) -> list[int]:
        """Every process that ever wrote in the notebook, each once however often it wrote."""
        return list(dict.fromkeys(int(line.split()[2]) for line in self.notebook.read_text().splitlines()))

    def wait_for(self, what: Callable[[], object]) -> None:
        wait_for(what, self.process)

    def finish(self) -> tuple[str, str]:
        return self.process.communicate(timeout=PATIENCE_S)


def wait_for(what: Callable[[], object], process: subprocess.Popen[str] | None = None) -> None:
    """Wait until `what` holds; fails after PATIENCE_S or when `process` ends before."""
    end = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end, "it did not happen in time"
        assert process is None or process.poll() is None, "the supervisor ended first"
        time.sleep(0.02)


def is_alive(process: int) -> bool:
    """Whether a process runs; one that has ended and waits to be collected by init does not."""
    state = Path(f"/proc/{process}/stat")
    if state.parent.parent.joinpath("self").exists():
        try:
            return state.read_text().rpartition(")")[2].split()[0] != "Z"
        except (FileNotFoundError, ProcessLookupError):
            return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


@contextmanager
def supervised(folder: Path, children: str, more: str = "first_pause_s=0.1") -> Iterator[Supervised]:
    """A supervisor that is gone after the test, with everything it started, whatever the test found."""
    one = Supervised(folder, children, more)
    try:
        yield one
    finally:
        for number in [one.process.pid, *one.processes()]:
            if is_alive(number):
                os.kill(number, signal.SIGKILL)
        one.process.wait()
        for stream in (one.process.stdout, one.process.stderr):
            assert stream is not None
            stream.close()
