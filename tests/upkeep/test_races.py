"""Six planners and six impatient fingers at once double nothing, on either database."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.races import told_by

ROUNDS = 4
EXPECTED = {"notices": 5, "records": 5, "readings": 1}


def run(database_url: str, folder: Path) -> dict[str, Any]:
    return told_by("tests/upkeep/race.py", ROUNDS, database_url, folder)


def test_nothing_is_doubled_on_sqlite(tmp_path: Path) -> None:
    answer = run(f"sqlite:///{tmp_path / 'club.sqlite3'}", tmp_path)
    assert answer == {"vendor": "sqlite", "told": [EXPECTED] * ROUNDS}


@pytest.mark.postgresql
def test_nothing_is_doubled_on_postgresql(postgresql_url: str, tmp_path: Path) -> None:
    answer = run(postgresql_url, tmp_path)
    assert answer == {"vendor": "postgresql", "told": [EXPECTED] * ROUNDS}
