"""Working through a raster a strip of rows at a time, so that memory does not grow with the file."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import rasterio
from rasterio.windows import Window

from relays.rasters.opening import Given

STRIP_ROWS = 256

Progress = Callable[[float], None]


def strips(rows: int, columns: int) -> Iterator[Window]:
    """Windows over a raster from the north, each the full width and at most STRIP_ROWS high."""
    for row in range(0, rows, STRIP_ROWS):
        yield Window(0, row, columns, min(STRIP_ROWS, rows - row))


def end_share(window: Window, rows: int) -> float:
    """How much of the raster is done at the end of a strip, 0 to 1."""
    return float((window.row_off + window.height) / rows)


def part_of(progress: Progress, start: float, end: float) -> Progress:
    """A progress for one step of several: its 0 to 1 becomes start to end of the whole."""
    return lambda done: progress(start + (end - start) * done)


def scratch_profile(given: Given) -> dict[str, object]:
    """How a scratch copy of a given raster is written: float32 metres in its own place, NaN for none."""
    return {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "nodata": math.nan,
        "crs": rasterio.crs.CRS.from_wkt(given.crs.to_wkt()),
        "transform": given.transform,
        "width": given.columns,
        "height": given.rows,
        "bigtiff": "if_safer",
    }
