"""Two people who plan at the same moment do not both get one channel, on either database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 6


def run(database_url: str, folder: Path) -> dict[str, Any]:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "clubops.settings",
        "CLUBOPS_DATABASE_URL": database_url,
        "CLUBOPS_VAR_DIR": str(folder),
        "CLUBOPS_SECRET_KEY": "a key for tests only",
        "CLUBOPS_LOG_LEVEL": "WARNING",
        "PYTHONPATH": str(ROOT),
    }
    migrate = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
    subprocess.run(migrate, env=environment, check=True, timeout=180)
    race = [sys.executable, str(ROOT / "tests/nets/race.py"), str(ROUNDS)]
    done = subprocess.run(race, env=environment, check=False, timeout=180, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def check(answer: dict[str, Any]) -> None:
    assert len(answer["told"]) == 4
    for race, rounds in answer["told"].items():
        assert len(rounds) == ROUNDS
        for told in rounds:
            refused = [words for words in told if words != "saved"]
            assert len(told) - len(refused) == 1, f"{race}: {told}"
            why = (
                "is already net control of"
                if race == "two_chairs_of_one_person"
                else "would both be on Ridge 2 m"
            )
            assert all(why in words for words in refused), told


def test_one_of_them_is_let_through_on_sqlite(tmp_path: Path) -> None:
    answer = run(f"sqlite:///{tmp_path / 'club.sqlite3'}", tmp_path)
    assert answer["vendor"] == "sqlite"
    check(answer)


@pytest.mark.postgresql
def test_one_of_them_is_let_through_on_postgresql(postgresql_url: str, tmp_path: Path) -> None:
    answer = run(postgresql_url, tmp_path)
    assert answer["vendor"] == "postgresql"
    check(answer)
