"""A worker killed with SIGKILL at each step of a run, and a disk that is full: nothing half-made is ever seen."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.faults

ROOT = Path(__file__).parents[2]


Worker = Callable[..., dict[str, Any]]


def worker_on(database_url: str, folder: Path) -> Worker:
    """Runs the script in a process and gives the line it prints; one that hangs is killed where it hangs."""
    environment = os.environ | {
        "CLUBOPS_VAR_DIR": str(folder),
        "CLUBOPS_DATABASE_URL": database_url,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "CLUBOPS_LOG_LEVEL": "ERROR",
    }

    def run(*words: object) -> dict[str, Any]:
        command = [sys.executable, "-m", "tests.coverage.worker_script", *map(str, words)]
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
        try:
            assert process.stdout is not None
            line = process.stdout.readline()
            if words[0] != "hang":
                assert process.wait(timeout=120) == 0
        finally:
            process.kill()
            process.wait()
            process.stdout.close()
        found: dict[str, Any] = json.loads(line)
        return found

    run("prepare")
    return run


@pytest.fixture
def worker(tmp_path: Path) -> Worker:
    return worker_on(f"sqlite:///{tmp_path / 'club.sqlite3'}", tmp_path)


def test_asked_by_four_at_once_it_is_one_run_for_one_worker(worker: Worker) -> None:
    assert worker("race") == {"asked": 1, "rows": 1, "won": 1}


@pytest.mark.postgresql
def test_it_is_one_run_on_postgresql_too(postgresql_url: str, tmp_path: Path) -> None:
    assert worker_on(postgresql_url, tmp_path)("race") == {"asked": 1, "rows": 1, "won": 1}


@pytest.mark.parametrize("point", ["sweep", "file", "row"])
def test_a_killed_worker_leaves_nothing_and_its_run_is_done_again(point: str, worker: Worker) -> None:
    assert worker("hang", point) == {"hanging": True}
    too_early = worker("work")
    assert (too_early["state"], too_early["fresh"]) == ("running", False)
    after_the_lease = worker("work", 61)
    assert (after_the_lease["state"], after_the_lease["attempts"]) == ("done", 2)
    assert after_the_lease["fresh"]
    # Killed between the file's move and the row: one orphan that no row names, for `tidy`.
    assert len(after_the_lease["files"]) == (2 if point == "row" else 1)
    assert Path(after_the_lease["raster"]).name in after_the_lease["files"]


def test_a_disk_that_refuses_the_raster_leaves_a_sentence(worker: Worker) -> None:
    """A real refusal by the system, in the middle of the file (setrlimit, EFBIG)."""
    found = worker("work", 0, 20_000)
    assert found["state"] == "failed"
    assert found["error"].startswith("The raster could not be stored (File too large); is the disk full?")
    assert (found["files"], found["raster"], found["fresh"]) == ([], "", False)


def test_when_there_is_room_again_it_is_done(worker: Worker) -> None:
    worker("work", 0, 20_000)
    found = worker("work", 301)
    assert (found["state"], found["attempts"], found["error"]) == ("done", 2, "")
