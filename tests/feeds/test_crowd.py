"""Editors and builders at once, as threads on a real database: nothing is lost and nothing goes back."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.conftest import (  # noqa: F401  fixtures
    DATABASES,
    database,
    database_url,
    empty_postgresql,
    empty_sqlite,
)

ROOT = Path(__file__).resolve().parents[2]


def crowd(database_url: str, folder: Path, seed: int) -> dict[str, object]:  # noqa: F811
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "CLUBOPS_DATABASE_URL": database_url,
        "CLUBOPS_VAR_DIR": str(folder),
        "CLUBOPS_LOG_LEVEL": "ERROR",
    }
    command = [sys.executable, "-m", "tests.feeds.crowd", str(seed)]
    ran = subprocess.run(
        command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=240, check=False
    )
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout.splitlines()[-1])


@pytest.mark.parametrize("seed", [1])
def test_a_crowd_leaves_every_calendar_as_one_builder_would(
    seed: int,
    database_url: str,  # noqa: F811
    tmp_path: Path,
) -> None:
    found = crowd(database_url, tmp_path, seed)
    assert found["faults"] == []
    assert (found["stale"], found["behind"]) == (0, 0)
    assert found["dates_in_order"] is True
    assert found["served"] == {"club": 200, "net": 200, "member": 200, "revoked": 404}
    assert int(str(found["versions"])) > int(str(found["calendars"]))
