"""Starting, looking after and stopping children."""

from __future__ import annotations

import os
import re
import signal
import sys
import time
from pathlib import Path

import pytest

from tests.processes.scripts import POLITE, SHORT_LIVED, STUBBORN, is_alive, supervised, wait_for

THREE = f"[child('one', {POLITE!r}), child('two', {POLITE!r}), child('three', {POLITE!r})]"


@pytest.mark.parametrize("asked", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_stops_its_children_in_reverse_order(tmp_path: Path, asked: signal.Signals) -> None:
    with supervised(tmp_path, THREE) as one:
        one.wait_for(lambda: len(one.notes("started")) == 3)
        one.process.send_signal(asked)
        out, err = one.finish()
        assert (out, err, one.process.returncode) == ("ready\n", "", 0)
        assert one.notes("stopped") == ["three", "two", "one"]


def test_a_child_that_does_not_stop_is_killed_with_its_descendants(tmp_path: Path) -> None:
    with supervised(tmp_path, f"[child('deaf', {STUBBORN!r}, stop_s=0.3)]") as one:
        one.wait_for(lambda: len(one.notes("started")) == 2)
        one.process.terminate()
        assert "deaf did not stop when asked and was killed." in one.finish()[0]
        assert not any(is_alive(process) for process in one.processes())


def test_asked_twice_it_does_not_wait(tmp_path: Path) -> None:
    with supervised(tmp_path, f"[child('deaf', {STUBBORN!r}, stop_s=600)]") as one:
        one.wait_for(lambda: len(one.notes("started")) == 2)
        one.process.send_signal(signal.SIGINT)
        time.sleep(0.5)
        assert is_alive(one.processes()[0])
        one.process.send_signal(signal.SIGINT)
        one.finish()
        assert not any(is_alive(process) for process in one.processes())


def test_it_starts_a_dead_child_again_ever_more_slowly(tmp_path: Path) -> None:
    children = f"[child('steady', {POLITE!r}), child('weak', {SHORT_LIVED!r})]"
    with supervised(tmp_path, children, "first_pause_s=0.1, longest_pause_s=0.3") as one:
        one.wait_for(lambda: one.notes("started").count("weak") == 4)
        one.process.terminate()
        out = one.finish()[0]
        assert re.findall(r"again in ([\d.]+) s", out)[:3] == ["0.1", "0.2", "0.3"]
        assert "weak stopped by itself (exit status 7: I have had enough); starting it again" in out
        assert one.notes("started").count("steady") == 1


def test_a_child_that_is_never_ready_stops_everything(tmp_path: Path) -> None:
    children = f"[child('first', {POLITE!r}), child('second', {SHORT_LIVED!r}, is_ready=lambda: False)]"
    with supervised(tmp_path, children) as one:
        out, err = one.finish()
        assert (out, one.process.returncode) == ("", 1)
        assert err.startswith("second did not start (exit status 7: I have had enough). Its log: ")
        assert not any(is_alive(process) for process in one.processes())


def test_it_names_the_exception_and_not_the_summary_after_it(tmp_path: Path) -> None:
    code = "print('Traceback:\\nValueError: no such tone\\n[ERROR] It failed to boot.'); sys.exit(3)"
    with supervised(tmp_path, f"[child('web', {code!r}, is_ready=lambda: False)]") as one:
        assert "web did not start (exit status 3: ValueError: no such tone)." in one.finish()[1]


def test_it_does_not_wait_for_ever_for_an_answer(tmp_path: Path) -> None:
    children = f"[child('silent', {POLITE!r}, is_ready=lambda: False)]"
    with supervised(tmp_path, children, "patience_s=0.5") as one:
        assert "silent did not answer within" in one.finish()[1]


@pytest.mark.faults
def test_no_orphan_survives_the_supervisors_murder(tmp_path: Path) -> None:
    children = f"[child('polite', {POLITE!r}), child('deaf', {STUBBORN!r})]"
    with supervised(tmp_path, children) as one:
        one.wait_for(lambda: len(one.notes("started")) == 3)
        one.process.kill()
        one.process.wait()
        assert len(one.processes()) == 3
        wait_until_gone(one.processes())
        assert one.notes("stopped") == ["polite"]


@pytest.mark.faults
@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child of its parent's death")
def test_children_learn_of_a_murder_even_if_the_guard_is_killed_too(tmp_path: Path) -> None:
    with supervised(tmp_path, THREE) as one:
        one.wait_for(lambda: len(one.notes("started")) == 3)
        (guard,) = guards_of(one.process.pid)
        os.kill(one.process.pid, signal.SIGSTOP)  # so that it cannot replace the guard
        os.kill(guard, signal.SIGKILL)
        one.process.kill()
        one.process.wait()
        wait_until_gone(one.processes())


@pytest.mark.faults
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_a_killed_guard_is_replaced_and_knows_the_children(tmp_path: Path) -> None:
    with supervised(tmp_path, f"[child('deaf', {STUBBORN!r})]") as one:
        one.wait_for(lambda: len(one.notes("started")) == 2)
        (guard,) = guards_of(one.process.pid)
        os.kill(guard, signal.SIGKILL)
        one.wait_for(lambda: guards_of(one.process.pid) not in ([], [guard]))
        one.process.kill()
        one.process.wait()
        wait_until_gone(one.processes())


def guards_of(parent: int) -> list[int]:
    """The supervisor's running guard, found among all processes."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            line = folder.joinpath("cmdline").read_bytes().split(b"\0")
            mother = int(folder.joinpath("stat").read_text().rpartition(")")[2].split()[1])
        except (FileNotFoundError, ProcessLookupError):
            continue
        if b"guard" in line and mother == parent:
            found.append(int(folder.name))
    return found


def wait_until_gone(processes: list[int]) -> None:
    wait_for(lambda: not any(is_alive(process) for process in processes))
