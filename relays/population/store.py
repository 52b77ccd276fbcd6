"""The club's imported people: files in the private store, one row each.

A file is rewritten on import (see `reading`) and never changed afterwards.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from django.core.files.storage import default_storage
from django.db import IntegrityError
from django.utils.text import slugify
from rasterio.errors import RasterioError

from relays.models import PopulationRaster, TerrainTile
from relays.population import reading
from relays.population.reading import Cells
from relays.population.report import PopulationReport
from relays.rasters.opening import check_file, opened
from relays.rasters.refusal import RasterRefused
from relays.stored_files import clear_leftovers, digest_of, fresh_name, publish, scratch_in

NOT_STATED = "not stated"

_FOLDER = "population"


def import_population(
    path: Path,
    *,
    given_as: str = "",
    source: str = "",
    now: datetime,
    is_dense: bool = False,
    progress: Callable[[float], None] = lambda done: None,
) -> PopulationReport:
    """Check one raster of people, rewrite it into the store and add its row; if RasterRefused, nothing changed.

    given_as: "count" for people in each cell, "density" for people per km²; if neither, the unit of the file's
    band must say so. is_dense: believe a density that hardly any place has. progress: called with 0 to 1.

    The new file appears in the store under a name of its own just before its row is committed, and is taken away
    when that fails; killed in between, it is an orphan that nothing reads and a later import clears. The same file
    given twice is reported as already there; given with another reading, it takes the place of the first.
    """
    check_file(path)
    sha256 = digest_of(path)
    before = PopulationRaster.objects.filter(sha256=sha256).first()
    clear_leftovers(_FOLDER, PopulationRaster.objects.values_list("file", flat=True), now=now)
    with scratch_in(_FOLDER) as scratch:
        target, unpacked = scratch / "people.tif", scratch / "given"
        unpacked.mkdir()
        try:
            with opened(path, unpacked, of_heights=False) as given:
                wanted = reading.quantity(given, given_as)
                if before is not None and _is_whole(before) and before.given_as == wanted:
                    return PopulationReport(before, already_there=True)
                cells = reading.rewrite(given, target, wanted, progress, is_dense=is_dense)
        except (RasterioError, OSError) as error:
            raise RasterRefused(
                path.name, f"{path.name} could not be rewritten into the store ({error}); is the disk full?"
            ) from error
        raster = before or PopulationRaster(name=path.name[:200], sha256=sha256)
        _describe(raster, cells, given_as=wanted, source=source, now=now)
        _check_under_terrain(raster)
        return _kept(raster, cells, target, is_new=before is None)


def _describe(
    raster: PopulationRaster, cells: Cells, *, given_as: PopulationRaster.GivenAs, source: str, now: datetime
) -> None:
    lattice = cells.lattice
    half_row, half_column = lattice.latitude_step_deg / 2, lattice.longitude_step_deg / 2
    raster.given_as = given_as
    raster.source = (source or raster.source or NOT_STATED)[:200]
    raster.north_deg, raster.south_deg = lattice.north_deg + half_row, lattice.south_deg - half_row
    raster.west_deg, raster.east_deg = lattice.west_deg - half_column, lattice.east_deg + half_column
    raster.rows, raster.columns = lattice.rows, lattice.columns
    raster.people, raster.densest_per_km2 = cells.people, cells.densest_per_km2
    raster.cells_without = cells.cells_without
    raster.imported_at = now


def _check_under_terrain(raster: PopulationRaster) -> None:
    """Refuse people who live nowhere on the imported ground. Before any ground is imported all are welcome."""
    tiles = TerrainTile.objects.filter(kind=TerrainTile.Kind.GROUND)
    edges = list(tiles.values_list("west_deg", "south_deg", "east_deg", "north_deg"))
    if not edges or any(_meets(raster, *tile) for tile in edges):
        return
    raise RasterRefused(
        raster.name,
        f"{raster.name} lies beside the imported terrain: it covers {_range(raster.south_deg, raster.north_deg, 'SN')} "
        f"and {_range(raster.west_deg, raster.east_deg, 'WE')}, and no tile of ground reaches into that.",
    )


def _meets(raster: PopulationRaster, west: float, south: float, east: float, north: float) -> bool:
    apart_deg = (west - raster.west_deg + 180.0) % 360.0 - 180.0
    beside = -(east - west) < apart_deg < raster.east_deg - raster.west_deg
    return beside and raster.south_deg < north and south < raster.north_deg


def _range(low: float, high: float, letters: str) -> str:
    return " to ".join(f"{abs(value):.2f}° {letters[value >= 0]}" for value in (low, high))


def _kept(raster: PopulationRaster, cells: Cells, target: Path, *, is_new: bool) -> PopulationReport:
    """Move the file into the store and save the row, both or neither."""
    raster.file.name = fresh_name(_FOLDER, slugify(Path(raster.name).stem)[:60] or "people")
    try:
        publish(target, str(raster.file.name), raster.save)
    except IntegrityError:
        # Somebody else imported the same file meanwhile.
        return PopulationReport(PopulationRaster.objects.get(sha256=raster.sha256), already_there=True)
    return PopulationReport(raster, read_anew=not is_new, moved=cells.moved, cells_given=cells.cells_given)


def _is_whole(raster: PopulationRaster) -> bool:
    return default_storage.exists(str(raster.file.name))
