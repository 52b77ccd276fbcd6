"""Two people at once, on real databases with a connection each."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
Run = Callable[[str, int], Any]


@pytest.fixture(params=["SQLite", pytest.param("PostgreSQL", marks=pytest.mark.postgresql)])
def run(request: pytest.FixtureRequest, tmp_path: Path) -> Run:
    """Runs a verb of `race.py` on an empty database."""
    if request.param == "PostgreSQL":
        url = request.getfixturevalue("postgresql_url")
    else:
        url = f"sqlite:///{tmp_path / 'club.sqlite3'}"

    def go(verb: str, times: int) -> Any:
        done = subprocess.run(
            [sys.executable, "-m", "tests.rota.race", verb, str(times)],
            cwd=ROOT,
            env=os.environ | {"CLUBOPS_DATABASE_URL": url, "CLUBOPS_VAR_DIR": str(tmp_path)},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.splitlines()[-1])

    return go


def test_of_two_people_accepting_at_once_one_wins(run: Run) -> None:
    found = run("accept", 20)
    assert len(found["said"]) == 20
    for said, sits in zip(found["said"], found["sits"], strict=True):
        winner = sits[0]
        assert len(sits) == 1
        assert winner in said
        assert f"{winner} was first: the turn is taken." in said


def test_two_exchanges_of_the_same_chairs_do_not_wait_for_each_other(run: Run) -> None:
    found = run("cross", 10)
    assert len(found["said"]) == 10
    for said, sits in zip(found["said"], found["sits"], strict=True):
        assert sorted(sits) == ["QZ3AAA", "QZ3BBB"]
        assert sits == ["QZ3BBB", "QZ3AAA"]
        assert sorted(answer == "done" for answer in said) == [False, True]


def test_two_turns_taken_at_once_keep_the_gap_their_taker_asks_for(run: Run) -> None:
    found = run("gap", 10)
    assert len(found["said"]) == 10
    for said, sits in zip(found["said"], found["sits"], strict=True):
        assert sits == ["QZ3AAA", "QZ3BBB"]
        assert any("14 days between turns" in each for each in said)


def test_a_draft_published_twice_at_once_is_published_once(run: Run) -> None:
    found = run("publish", 12)
    assert sorted(found["said"]) == [False, True]
    assert found["duties"] == 24
    assert found["sequences"] == 0
