"""A store of its own for every test, and rasters of people made to order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from relays.population.report import PopulationReport
from relays.population.store import import_population
from tests.conftest import NOW
from tests.terrain.rasters import write_geotiff


@pytest.fixture
def store(db: None, settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files" / "population"


@pytest.fixture
def take(store: Path) -> Callable[..., PopulationReport]:
    """Import one file now, as counts unless said otherwise."""

    def take_(path: Path, given_as: str = "count", **options: Any) -> PopulationReport:
        return import_population(path, given_as=given_as, **({"now": NOW} | options))

    return take_


@pytest.fixture
def people(
    store: Path, tmp_path: Path, take: Callable[..., PopulationReport]
) -> Callable[..., PopulationReport]:
    """Import an array of people: `people([[1, 2], [3, 4]], step=0.01)`; edges at 84 W and 36 N unless said."""

    def take_(counts: Any, *, name: str = "people.tif", **options: Any) -> PopulationReport:
        here = {key: options.pop(key) for key in ("given_as", "source", "now", "is_dense") if key in options}
        path = write_geotiff(tmp_path / name, np.asarray(counts, dtype=np.float64), **options)
        return take(path, **here)

    return take_
