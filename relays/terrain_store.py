"""The club's imported ground: files in the private store, one row each, and the mosaic made of them.

A file is rewritten on import (see `rasters.normalise`) and never changed afterwards. Where tiles overlap
the finer one counts, and of equally fine ones the one imported last.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import rasterio
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import IntegrityError
from django.utils.text import slugify
from rasterio.errors import RasterioError
from rasterio.windows import Window

from relays.ground import MOST_GRID_POSTS, Ground, RelayEnd
from relays.models import TerrainTile
from relays.propagation.errors import PropagationError
from relays.propagation.mosaic import ElevationMosaic, common_lattice, needed
from relays.propagation.profile import PathProfile
from relays.propagation.terrain import ElevationGrid, Lattice
from relays.rasters import classes as class_tables
from relays.rasters.hgt import is_hgt_name
from relays.rasters.normalise import Normal, normalise
from relays.rasters.opening import check_file, opened
from relays.rasters.refusal import RasterRefused
from relays.stored_files import clear_leftovers, digest_of, fresh_name, publish, scratch_in
from relays.terrain_report import ImportReport

GROUND_HEIGHT_M = (-500.0, 9000.0)
NOT_STATED = "not stated"

_FOLDER = "terrain"


class TerrainLost(PropagationError):
    """A stored file of ground cannot be read any more."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(
            "terrain",
            name,
            "stored files as they were imported",
            f"The stored ground of {name} cannot be read; import {name} again.",
        )

    def __reduce__(self) -> tuple[type[TerrainLost], tuple[str]]:
        return type(self), (self.name,)


class _Stored(NamedTuple):
    """What the mosaic has to know of one tile."""

    kind: str
    sha256: str
    name: str
    file: str
    lattice: Lattice
    imported_at: datetime


def terrain_version() -> str:
    """A digest of all imported tiles and of which counts where they overlap, 64 hexadecimal digits.

    It changes with every import, repair and removal, and costs one small query.
    """
    return _version(_stored())


def current_ground() -> Ground:
    """The ground as imported now. Blocks read before are kept in memory for as long as no tile changes.

    Asked again, it costs one small query. Safe to call from several threads and processes.
    """
    tiles = _stored()
    key = (_version(tiles), tuple(tile.file for tile in tiles), settings.PATH_CLUTTER_M)
    with _cache_lock:
        held = _cache.get(key)
        if held is None:
            held = Ground(
                version=key[0],
                heights=_mosaic([tile for tile in tiles if tile.kind == TerrainTile.Kind.GROUND]),
                cover=_mosaic([tile for tile in tiles if tile.kind == TerrainTile.Kind.COVER]),
                clutter_m=settings.PATH_CLUTTER_M,
            )
            _cache.clear()
            _cache[key] = held
        return held


_cache: dict[tuple[str, tuple[str, ...], float], Ground] = {}
_cache_lock = threading.Lock()


def profile_between(
    first_latitude_deg: float,
    first_longitude_deg: float,
    last_latitude_deg: float,
    last_longitude_deg: float,
    *,
    spacing_m: float | None = None,
    relay_end: RelayEnd = "neither",
) -> PathProfile:
    """`Ground.profile_between` over the ground as imported now; PATH_SPACING_M unless a spacing is given."""
    return current_ground().profile_between(
        first_latitude_deg,
        first_longitude_deg,
        last_latitude_deg,
        last_longitude_deg,
        spacing_m=settings.PATH_SPACING_M if spacing_m is None else spacing_m,
        relay_end=relay_end,
    )


def grid_around(
    latitude_deg: float, longitude_deg: float, radius_km: float, *, most_posts: int = MOST_GRID_POSTS
) -> ElevationGrid:
    """`Ground.grid_around` over the ground as imported now."""
    return current_ground().grid_around(latitude_deg, longitude_deg, radius_km, most_posts=most_posts)


def import_tile(
    path: Path,
    *,
    kind: str,
    source: str = "",
    now: datetime,
    datum: str = "",
    classes: Path | None = None,
    progress: Callable[[float], None] = lambda done: None,
) -> ImportReport:
    """Check one raster file, rewrite it into the store and add its row; if RasterRefused, nothing changed.

    kind: "ground", or "cover" for heights of trees and buildings, which `classes` (a CSV table
    class,height_m) turns from classes into heights. source, datum: in words, where the file does not say.
    progress: called with 0 to 1.

    The new file appears in the store under a name of its own just before its row is committed, and is taken
    away when that fails; killed in between, it is an orphan that nothing reads and a later import clears.
    The same file given twice is reported as already there, unless its stored copy is gone: then it is put
    back.
    """
    check_file(path)
    chosen = TerrainTile.Kind(kind)
    if classes is not None and chosen is not TerrainTile.Kind.COVER:
        raise RasterRefused(path.name, "A table of classes goes with land cover only; add --kind cover.")
    table = class_tables.read(classes) if classes else None
    sha256 = _digest_of_files(path, classes)
    before = TerrainTile.objects.filter(kind=chosen, sha256=sha256).first()
    if before is not None and default_storage.exists(str(before.file.name)):
        return ImportReport(before, already_there=True)
    clear_leftovers(_FOLDER, TerrainTile.objects.values_list("file", flat=True), now=now)
    with scratch_in(_FOLDER) as scratch:
        target = scratch / "tile.tif"
        given_datum, done = _normalised(path, target, scratch, chosen, table, progress)
        tile = before or TerrainTile(kind=chosen, name=path.name[:200], sha256=sha256)
        _describe(tile, done, source=source, datum=datum or given_datum, now=now)
        return _kept(tile, done, target)


def _normalised(
    path: Path,
    target: Path,
    scratch: Path,
    kind: TerrainTile.Kind,
    table: class_tables.ClassHeights | None,
    progress: Callable[[float], None],
) -> tuple[str, Normal]:
    is_ground = kind is TerrainTile.Kind.GROUND
    unpacked = scratch / "given"
    unpacked.mkdir()
    try:
        with opened(path, unpacked) as given:
            done = normalise(
                given,
                target,
                scratch,
                height_limits_m=GROUND_HEIGHT_M if is_ground else class_tables.HEIGHT_M,
                fill=is_ground,
                blend=is_ground,
                classes=table,
                progress=progress,
            )
            return given.datum, done
    except (RasterioError, OSError) as error:
        raise RasterRefused(
            path.name, f"{path.name} could not be rewritten into the store ({error}); is the disk full?"
        ) from error


def _describe(tile: TerrainTile, done: Normal, *, source: str, datum: str, now: datetime) -> None:
    lattice = done.lattice
    half_row, half_column = lattice.latitude_step_deg / 2, lattice.longitude_step_deg / 2
    tile.source = (source or tile.source or NOT_STATED)[:200]
    tile.datum = datum[:120]
    tile.north_deg, tile.south_deg = lattice.north_deg + half_row, lattice.south_deg - half_row
    tile.west_deg, tile.east_deg = lattice.west_deg - half_column, lattice.east_deg + half_column
    tile.rows, tile.columns = lattice.rows, lattice.columns
    tile.lowest_m, tile.highest_m = done.lowest_m, done.highest_m
    tile.voids_filled, tile.voids_left = done.voids_filled, done.voids_left
    tile.imported_at = now


def _kept(tile: TerrainTile, done: Normal, target: Path) -> ImportReport:
    """Move the file into the store and save the row, both or neither."""
    tile.file.name = fresh_name(_FOLDER, slugify(Path(tile.name).stem)[:60] or "tile")
    try:
        publish(target, str(tile.file.name), tile.save)
    except IntegrityError:
        # Somebody else imported the same file meanwhile.
        return ImportReport(TerrainTile.objects.get(kind=tile.kind, sha256=tile.sha256), already_there=True)
    return ImportReport(
        tile, reprojected=done.reprojected, thinned=done.thinned, posts_given=done.posts_given
    )


def _digest_of_files(path: Path, classes: Path | None) -> str:
    # The name is the place: two tiles of open sea hold the same bytes.
    place = path.name.upper() if is_hgt_name(path.name) else ""
    return digest_of(*(file for file in (path, classes) if file is not None), named=place)


def _stored() -> list[_Stored]:
    """All tiles, the one to be preferred first."""
    columns = ("kind", "sha256", "name", "file", "imported_at")
    place = ("north_deg", "west_deg", "south_deg", "east_deg", "rows", "columns")
    tiles = [
        _Stored(
            kind=row["kind"],
            sha256=row["sha256"],
            name=row["name"],
            file=default_storage.path(row["file"]),
            lattice=_lattice(*(row[name] for name in place)),
            imported_at=row["imported_at"],
        )
        for row in TerrainTile.objects.order_by("-imported_at", "sha256").values(*columns, *place)
    ]
    # Sorting is stable, so equal steps stay newest first. Steps are compared as people see them, not to the
    # last bit.
    return sorted(tiles, key=lambda tile: round(tile.lattice.latitude_step_deg * 3600.0, 3))


def _lattice(north: float, west: float, south: float, east: float, rows: int, columns: int) -> Lattice:
    down, across = (north - south) / rows, (east - west) / columns
    return Lattice(north - down / 2, west + across / 2, down, across, rows, columns)


def _version(tiles: Iterable[_Stored]) -> str:
    digest = hashlib.sha256()
    for tile in tiles:
        digest.update(f"{tile.kind} {tile.sha256} {tile.imported_at.timestamp():.6f}\n".encode())
    return digest.hexdigest()


def _mosaic(tiles: Sequence[_Stored]) -> ElevationMosaic | None:
    if not tiles:
        return None

    def read(target: Lattice) -> list[ElevationGrid]:
        wanted = [(tile, needed(target, tile.lattice)) for tile in tiles]
        return [_piece(tile, *window) for tile, window in wanted if window is not None]

    return ElevationMosaic(common_lattice([tile.lattice for tile in tiles]), read)


def _piece(tile: _Stored, rows: slice, columns: slice) -> ElevationGrid:
    window = Window(columns.start, rows.start, columns.stop - columns.start, rows.stop - rows.start)
    try:
        with rasterio.open(tile.file, driver="GTiff") as dataset:
            heights_m = dataset.read(1, window=window)
    except RasterioError as error:
        raise TerrainLost(tile.name) from error
    return ElevationGrid(tile.lattice.part(rows, columns), heights_m)
