"""Six planners and six impatient fingers at once double nothing, on either database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 4
EXPECTED = {"notices": 5, "records": 5, "readings": 1}


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
    race = [sys.executable, str(ROOT / "tests/upkeep/race.py"), str(ROUNDS)]
    done = subprocess.run(race, env=environment, check=False, timeout=180, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def test_nothing_is_doubled_on_sqlite(tmp_path: Path) -> None:
    answer = run(f"sqlite:///{tmp_path / 'club.sqlite3'}", tmp_path)
    assert answer == {"vendor": "sqlite", "told": [EXPECTED] * ROUNDS}


@pytest.mark.postgresql
def test_nothing_is_doubled_on_postgresql(postgresql_url: str, tmp_path: Path) -> None:
    answer = run(postgresql_url, tmp_path)
    assert answer == {"vendor": "postgresql", "told": [EXPECTED] * ROUNDS}
