"""A small lopsided ground in a store of its own, and a relay on it: a sweep takes a few milliseconds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from relays import terrain_store
from relays.coverage import live, runs, sweeps, working
from relays.models import CoverageRun, Relay, Site
from relays.reach import summary
from tests.conftest import NOW
from tests.coverage.hills import NORTH, WEST, hills
from tests.terrain.rasters import write_geotiff


@pytest.fixture(autouse=True)
def _nothing_kept() -> None:
    """What one test left in memory must not answer another."""
    for kept in (live._rasters, live._packed, summary._numbers, summary._counts, sweeps._ground):
        kept.forget()


@pytest.fixture
def store(db: None, settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files" / "coverage"


@pytest.fixture
def import_heights(store: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import an array of heights as a tile: `import_heights(hills(), name="b.tif")`."""

    def take(heights: Any, *, name: str = "ground.tif", now: dt.datetime = NOW, **place: Any) -> Any:
        path = write_geotiff(tmp_path / name, heights, west=WEST, north=NORTH, **place)
        return terrain_store.import_tile(path, kind="ground", now=now)

    return take


@pytest.fixture
def hill_ground(import_heights: Callable[..., Any]) -> Any:
    return import_heights(hills())


@pytest.fixture
def hill_relay(hill_ground: Any) -> Relay:
    """A relay on the eastern slope, off the middle of the ground."""
    site = Site.objects.create(name="Slope", slug="slope", latitude_deg=35.953, longitude_deg=-83.948)
    return Relay.objects.create(
        site=site,
        name="Slope 2 m",
        slug="slope-2m",
        call_sign="QZ2SLP",
        output_mhz=Decimal("146.730"),
        input_mhz=Decimal("146.130"),
        power_w=25,
        antenna_height_m=18,
    )


@pytest.fixture
def other_relay(hill_relay: Relay) -> Relay:
    """A second one behind the ridge, on 70 cm."""
    site = Site.objects.create(name="Hollow", slug="hollow", latitude_deg=35.970, longitude_deg=-83.985)
    return Relay.objects.create(
        site=site,
        name="Hollow 70 cm",
        slug="hollow-70cm",
        call_sign="QZ2HLW",
        output_mhz=Decimal("444.325"),
        input_mhz=Decimal("449.325"),
        power_w=20,
        antenna_height_m=25,
        antenna_gain_dbi=8.15,
    )


@pytest.fixture
def done_run(hill_relay: Relay) -> CoverageRun:
    """Today's run of the relay, worked out."""
    run = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == CoverageRun.State.DONE
    return run


def files_in(store: Path) -> list[str]:
    """What lies in the folder of rasters."""
    return sorted(entry.name for entry in store.iterdir()) if store.exists() else []
