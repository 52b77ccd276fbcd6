"""Raster files made to order for the tests of terrain."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import rasterio
from affine import Affine

THREE_SECONDS = 1 / 1200
ONE_SECOND = 1 / 3600


def slope(rows: int, columns: int, *, south: float = 2.0, east: float = 1.0, base: float = 300.0) -> Any:
    """A plane that falls to no side alike, so that swapped axes or a flipped row order show."""
    row, column = np.mgrid[0:rows, 0:columns]
    return (base + south * row + east * column).astype(np.float32)


def write_geotiff(
    path: Path,
    heights: npt.NDArray[Any],
    *,
    west: float = -84.0,
    north: float = 36.0,
    step: float = THREE_SECONDS,
    crs: str | None = "EPSG:4326",
    transform: Affine | None = None,
    **profile: Any,
) -> Path:
    """A one-band GeoTIFF; west and north are the outer edges of its first pixel."""
    placed = Affine(step, 0.0, west, 0.0, -step, north) if transform is None else transform
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        dtype=heights.dtype.name,
        count=1,
        height=heights.shape[0],
        width=heights.shape[1],
        crs=crs,
        transform=placed,
        **profile,
    ) as raster:
        raster.write(heights, 1)
    return path


def write_hgt(path: Path, heights: npt.NDArray[Any]) -> Path:
    """The bytes of an .hgt file: big-endian 16-bit metres, north row first."""
    path.write_bytes(heights.astype(">i2").tobytes())
    return path


def write_zip(path: Path, **members: bytes) -> Path:
    """A zip with the given members; a double underscore in a name stands for a dot."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "."), content)
    return path
