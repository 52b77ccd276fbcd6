"""Two people who plan at the same moment do not both get one channel, on either database."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.races import told_by

ROUNDS = 6


def run(database_url: str, folder: Path) -> dict[str, Any]:
    return told_by("tests/nets/race.py", ROUNDS, database_url, folder)


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
