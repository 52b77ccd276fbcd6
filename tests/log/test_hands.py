"""Several people writing in one log at once: real processes on a real database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HANDS = "ABCD"
ENOUGH_S = 120


@pytest.fixture(params=["SQLite", pytest.param("PostgreSQL", marks=pytest.mark.postgresql)])
def environment(request: pytest.FixtureRequest, tmp_path: Path) -> dict[str, str]:
    """A migrated database of its own, as the variables that lead a process to it."""
    if request.param == "SQLite":
        url = f"sqlite:///{tmp_path / 'club.sqlite3'}"
    else:
        url = request.getfixturevalue("postgresql_url")
    found = os.environ | {
        "CLUBOPS_DATABASE_URL": url,
        "CLUBOPS_VAR_DIR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "PYTHONPATH": str(ROOT),
    }
    migrate = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
    subprocess.run(migrate, env=found, check=True, timeout=ENOUGH_S)
    return found


def start(environment: dict[str, str], *words: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.log.hands", *words]
    return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)


def run(environment: dict[str, str], *words: str) -> str:
    process = start(environment, *words)
    said, _ = process.communicate(timeout=ENOUGH_S)
    assert process.returncode == 0
    return said


def test_four_hands_at_once_lose_and_double_nothing(environment: dict[str, str]) -> None:
    """Four times twenty entries and five that all of them send: 85 rows, one version for each."""
    run(environment, "prepare")
    processes = [start(environment, "write", hand) for hand in HANDS]
    for process in processes:
        process.communicate(timeout=ENOUGH_S)
    assert [process.returncode for process in processes] == [0, 0, 0, 0]
    assert json.loads(run(environment, "count")) == [85, 85, 85, 85]
