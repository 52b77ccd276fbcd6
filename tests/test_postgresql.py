"""The settings reach a real PostgreSQL by URL."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.postgresql
def test_the_database_url_reaches_the_server(postgresql_url: str, tmp_path: Path) -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "clubops.settings",
        "CLUBOPS_DATABASE_URL": postgresql_url,
        "CLUBOPS_VAR_DIR": str(tmp_path),
    }
    migrate = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
    subprocess.run(migrate, env=environment, check=True, timeout=120)
    with psycopg.connect(postgresql_url) as connection:
        tables = connection.execute("SELECT count(*) FROM django_migrations").fetchone()
    assert tables is not None
    assert tables[0] > 10
