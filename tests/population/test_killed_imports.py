"""An import killed with SIGKILL at each step, and one asked for twice at once: nothing half-made is ever counted."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.terrain.rasters import write_geotiff

pytestmark = pytest.mark.faults

ROOT = Path(__file__).parents[2]

Importer = Callable[..., dict[str, Any]]


@pytest.fixture
def begun(tmp_path: Path) -> Callable[..., subprocess.Popen[str]]:
    """Begins the script in a process of its own, on a database of this test."""
    environment = os.environ | {
        "CLUBOPS_VAR_DIR": str(tmp_path),
        "CLUBOPS_DATABASE_URL": f"sqlite:///{tmp_path / 'club.sqlite3'}",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "CLUBOPS_LOG_LEVEL": "ERROR",
    }

    def begin(*words: object) -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "tests.population.import_script", *map(str, words)]
        return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)

    return begin


@pytest.fixture
def importer(begun: Callable[..., subprocess.Popen[str]]) -> Importer:
    """Runs the script and gives the line it prints; one that hangs is killed where it hangs."""

    def run(*words: object) -> dict[str, Any]:
        with begun(*words) as process:
            assert process.stdout is not None
            line = process.stdout.readline()
            if words[0] == "hang":
                process.kill()
            else:
                assert process.wait(timeout=120) == 0
        found: dict[str, Any] = json.loads(line)
        return found

    run("prepare")
    return run


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """3,200 people in 600 rows, which are read in three strips."""
    counts = np.zeros((600, 4))
    counts[:, 1] = 3200.0 / 600
    return write_geotiff(tmp_path / "people.tif", counts, step=0.001)


@pytest.mark.parametrize("point", ["reading", "moving", "row"])
def test_a_killed_import_counts_nobody_and_can_be_done_again(
    point: str, importer: Importer, file: Path
) -> None:
    assert importer("hang", point, file) == {"hanging": True}
    after = importer("show")
    assert (after["rows"], after["people"]) == (0, None)
    # Killed between the file's move and the row's commit: one orphan that no row names, cleared a day later.
    assert after["files"] == (1 if point == "row" else 0)
    again = importer("take", file)
    assert (again["rows"], again["people"]) == (1, pytest.approx(3200.0, abs=0.01))


def test_imported_by_two_at_once_it_is_there_once(
    importer: Importer, begun: Callable[..., subprocess.Popen[str]], file: Path
) -> None:
    both = [begun("take", file) for _ in range(2)]
    for process in both:
        process.communicate(timeout=120)
        assert process.returncode == 0
    assert importer("show") == {"rows": 1, "people": pytest.approx(3200.0, abs=0.01), "files": 1}
