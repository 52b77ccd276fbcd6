"""A race run by a script of its own, many threads on one real database made for it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]


def told_by(script: str, rounds: int, database_url: str, folder: Path) -> dict[str, Any]:
    """What the script (its path in the tree) prints at the end of so many rounds."""
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
    race = [sys.executable, str(ROOT / script), str(rounds)]
    done = subprocess.run(race, env=environment, check=False, timeout=180, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer
