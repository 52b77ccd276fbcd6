"""A store of its own for every test of terrain, and the demo's ground in it where asked for."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from relays import terrain_store
from relays.demo_terrain import import_demo_terrain
from relays.terrain_report import ImportReport

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def store(db: None, settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files" / "terrain"


@pytest.fixture
def take(store: Path) -> Any:
    """Import one file now, as ground unless said otherwise."""

    def take_(path: Path, kind: str = "ground", **options: Any) -> ImportReport:
        return terrain_store.import_tile(path, kind=kind, **({"now": NOW} | options))

    return take_


@pytest.fixture
def demo_ground(store: Path) -> ImportReport:
    return import_demo_terrain(now=NOW)
