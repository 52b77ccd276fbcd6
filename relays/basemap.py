"""The ground under the map: a shaded picture of the terrain around the relays, kept in the private store."""

from __future__ import annotations

import math
import os
import secrets
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from django.conf import settings
from django.core.files.storage import default_storage

from relays import paths, terrain_store
from relays.models import Relay
from relays.propagation.raster_request import KM_PER_DEGREE
from relays.propagation.relief import NO_GROUND, shaded
from relays.propagation.terrain import ElevationGrid, Lattice
from relays.reach import exports

#: About 4 MB as a picture; a browser of a phone still draws it.
MOST_POSTS = 4_000_000
_FOLDER = "relief"
_EDITION = 1


@dataclass(frozen=True, slots=True)
class Relief:
    """A picture in the store and where it lies: lattice of its pixels' centres."""

    version: str
    lattice: Lattice
    path: Path


def relief(relays: Sequence[Relay]) -> Relief | None:
    """The picture of the ground around the relays, made if it is not there yet; None without any ground."""
    window = _window(relays)
    if window is None:
        return None
    rows, columns = window
    version = paths.digest(
        {
            "terrain": terrain_store.terrain_version(),
            "rows": [rows.start, rows.stop, rows.step],
            "columns": [columns.start, columns.stop, columns.step],
            "edition": _EDITION,
        }
    )
    ground = terrain_store.current_ground()
    assert ground.heights is not None, "a window was found in it"
    path = Path(default_storage.path(f"{_FOLDER}/{version}.png"))
    with _lock:
        if not path.exists():
            _write(path, ground.heights.window(rows, columns))
    return Relief(version, ground.heights.lattice.part(rows, columns), path)


def _write(path: Path, grid: ElevationGrid) -> None:
    """Aside, then moved into place; pictures of earlier ground are taken away."""
    path.parent.mkdir(parents=True, exist_ok=True)
    shade = shaded(grid, exaggeration=1.5)
    opacity = np.where(shade == NO_GROUND, 0, 255).astype(np.uint8)
    aside = path.with_name(f"incoming-{secrets.token_hex(8)}")
    try:
        aside.write_bytes(exports.png(np.stack([shade, opacity]), grid.lattice))
        os.replace(aside, path)
    finally:
        aside.unlink(missing_ok=True)
    for other in path.parent.glob("*.png"):
        if other != path:
            other.unlink(missing_ok=True)


def _window(relays: Sequence[Relay]) -> tuple[slice, slice] | None:
    """Rows and columns of the mosaic around all relays, thinned where there are too many."""
    ground = terrain_store.current_ground()
    if ground.heights is None or not relays:
        return None
    lattice = ground.heights.lattice
    up_deg = settings.COVERAGE_RADIUS_KM / KM_PER_DEGREE
    latitude = np.array([relay.site.latitude_deg for relay in relays])
    aside_deg = up_deg / np.maximum(0.05, np.cos(np.radians(np.abs(latitude))))
    # Counted from the lattice's own middle, so that the 180 degree meridian is nothing special.
    middle_deg = 0.5 * (lattice.west_deg + lattice.east_deg)
    longitude = np.array([relay.site.longitude_deg for relay in relays])
    longitude = middle_deg + (longitude - middle_deg + 180.0) % 360.0 - 180.0
    north, south = float((latitude + up_deg).max()), float((latitude - up_deg).min())
    west, east = float((longitude - aside_deg).min()), float((longitude + aside_deg).max())
    step_y, step_x = lattice.latitude_step_deg, lattice.longitude_step_deg
    rows = _span(lattice.north_deg - north, north - south, step_y, lattice.rows)
    columns = _span(west - lattice.west_deg, east - west, step_x, lattice.columns)
    if rows.stop - rows.start < 2 or columns.stop - columns.start < 2:
        return None
    posts = (rows.stop - rows.start) * (columns.stop - columns.start)
    every = max(1, int(np.ceil(np.sqrt(posts / MOST_POSTS))))
    return slice(rows.start, rows.stop, every), slice(columns.start, columns.stop, every)


def _span(first_deg: float, width_deg: float, step_deg: float, count: int) -> slice:
    start = max(0, math.floor(first_deg / step_deg))
    return slice(start, max(start, min(count, math.ceil((first_deg + width_deg) / step_deg) + 1)))


_lock = threading.Lock()
