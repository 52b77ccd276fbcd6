"""Open a raster file that somebody brought, and refuse it where it cannot be heights of this Earth."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyproj
import rasterio
from affine import Affine
from rasterio.errors import NotGeoreferencedWarning, RasterioError, RasterioIOError
from rasterio.windows import Window

from relays.rasters import blocks, hgt
from relays.rasters.refusal import RasterRefused

# Earth ellipsoids and spheres in use lie within 6.35 to 6.40 thousand km; Venus, the nearest in size, has
# 6.05.
_EARTH_RADIUS_M = (6.35e6, 6.40e6)
# Tiles of a national survey have up to 117 million posts; past this memory and patience run out.
MOST_POSTS = 150_000_000
_METRES = {"": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0}
_FEET = {"ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "us survey foot": 1200 / 3937, "us-ft": 1200 / 3937}
_UNITS_M = _METRES | _FEET


@dataclass(frozen=True, slots=True)
class Given:
    """One open raster of heights, classes or people.

    crs: of its two horizontal axes. transform: from (column, row) of pixel corners to them. metres: what
    one of its units of height is worth. datum: horizontal and vertical reference in words.
    """

    name: str
    dataset: rasterio.DatasetReader
    crs: pyproj.CRS
    transform: Affine
    metres: float
    datum: str

    @property
    def rows(self) -> int:
        return int(self.dataset.height)

    @property
    def columns(self) -> int:
        return int(self.dataset.width)

    def read(self, window: Window) -> tuple[npt.NDArray[np.generic], npt.NDArray[np.bool_]]:
        """The numbers of a window as the file holds them, and where it has none. Raises RasterRefused."""
        try:
            raw = self.dataset.read(1, window=window)
            return raw, self.dataset.read_masks(1, window=window) == 0
        except RasterioError as error:
            last = window.row_off + window.height
            raise RasterRefused(
                self.name,
                f"{self.name} cannot be read between rows {window.row_off:,} and {last:,}: "
                "it is cut short or damaged; get it again from where it came.",
            ) from error


@contextmanager
def opened(path: Path, folder: Path, *, of_heights: bool = True) -> Iterator[Given]:
    """Open a GeoTIFF, a .hgt or a zipped .hgt; RasterRefused with a sentence for anything else.

    of_heights: whether its numbers are heights or classes; otherwise no vertical datum or unit is looked for.
    folder: an empty one of our own, where a zip is unpacked. Only these two formats are tried: others may
    name further files or addresses to be read, and files lying beside the given one are not looked at.
    """
    file, driver = _as_file(path, folder)
    with rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN="EMPTY_DIR", CPL_DEBUG="OFF"):
        try:
            with warnings.catch_warnings():
                # Said again below, as a refusal.
                warnings.simplefilter("ignore", NotGeoreferencedWarning)
                dataset = rasterio.open(file, driver=driver)
        except RasterioIOError as error:
            raise RasterRefused(
                path.name,
                f"{path.name} is not a GeoTIFF, a .hgt file or a zipped .hgt file, or it is damaged.",
            ) from error
        with dataset:
            _check_contents(path.name, dataset)
            blocks.check(path.name, file, dataset)
            yield _placed(path.name, dataset, is_hgt=driver == "SRTMHGT", of_heights=of_heights)


def check_file(path: Path) -> None:
    """Refuse what is not an ordinary, readable file with something in it."""
    if path.is_dir():
        raise RasterRefused(path.name, f"{path.name} is a folder; name the files in it.")
    if not path.exists():
        raise RasterRefused(path.name, f"There is no file {path.name} at the place given.")
    if not path.is_file():
        raise RasterRefused(path.name, f"{path.name} is not an ordinary file.")
    try:
        with path.open("rb") as file:
            empty = not file.read(1)
    except OSError as error:
        raise RasterRefused(path.name, f"{path.name} cannot be read: {error.strerror}.") from error
    if empty:
        raise RasterRefused(path.name, f"{path.name} is empty.")


def _as_file(path: Path, folder: Path) -> tuple[Path, str]:
    check_file(path)
    if path.suffix.lower() == ".zip":
        return hgt.unpack(path, folder), "SRTMHGT"
    if hgt.is_hgt_name(path.name):
        hgt.check(path)
        return path, "SRTMHGT"
    return path, "GTiff"


def _placed(name: str, dataset: rasterio.DatasetReader, *, is_hgt: bool, of_heights: bool) -> Given:
    crs = _earthly_crs(name, dataset)
    transform = _georeference(name, dataset)
    if not of_heights:
        return Given(name, dataset, _horizontal(crs).to_2d(), transform, 1.0, str(_horizontal(crs).name))
    vertical, metres = _vertical(name, crs, str(dataset.units[0] or ""))
    datum = hgt.DATUM if is_hgt else f"{_horizontal(crs).name}; {vertical}"
    return Given(name, dataset, _horizontal(crs).to_2d(), transform, metres, datum)


def _check_contents(name: str, dataset: rasterio.DatasetReader) -> None:
    if dataset.count != 1:
        raise RasterRefused(
            name,
            f"{name} has {dataset.count} bands, as pictures have; a raster of heights, classes or people has one.",
        )
    if np.dtype(dataset.dtypes[0]).kind not in "iuf":
        raise RasterRefused(name, f"{name} does not hold plain numbers.")
    if dataset.height < 2 or dataset.width < 2:
        raise RasterRefused(
            name, f"{name} has {dataset.height} × {dataset.width} posts; at least 2 × 2 are needed."
        )
    if dataset.height * dataset.width > MOST_POSTS:
        raise RasterRefused(
            name,
            f"{name} has {dataset.height:,} × {dataset.width:,} posts; cut it into parts of at most "
            f"{MOST_POSTS // 1_000_000} million posts.",
        )


def _earthly_crs(name: str, dataset: rasterio.DatasetReader) -> pyproj.CRS:
    if dataset.crs is None:
        raise RasterRefused(
            name,
            f"{name} does not say where on Earth it lies (it has no coordinate reference system); "
            "give it one, or ask for a copy that has.",
        )
    try:
        crs = pyproj.CRS.from_wkt(dataset.crs.to_wkt())
    except (pyproj.exceptions.CRSError, RasterioError) as error:
        raise RasterRefused(
            name, f"{name} names a coordinate reference system that is not known here."
        ) from error
    ellipsoid = crs.ellipsoid
    if ellipsoid is None or crs.is_engineering:
        raise RasterRefused(
            name, f"{name} is in a local system of its own ({crs.name}) that is not tied to the Earth."
        )
    if not _EARTH_RADIUS_M[0] <= ellipsoid.semi_major_metre <= _EARTH_RADIUS_M[1]:
        raise RasterRefused(
            name,
            f"{name} is not of this Earth: its reference body ({crs.name}) has a radius of "
            f"{ellipsoid.semi_major_metre / 1000:,.0f} km, the Earth 6,378 km.",
        )
    return crs


def _georeference(name: str, dataset: rasterio.DatasetReader) -> Affine:
    transform: Affine = dataset.transform
    numbers = tuple(transform)[:6]
    placed = all(math.isfinite(n) for n in numbers) and not transform.is_identity
    if not placed or transform.a * transform.e - transform.b * transform.d == 0.0:
        raise RasterRefused(
            name, f"{name} does not say where its corners lie; ask for a copy that is georeferenced."
        )
    return transform


def _vertical(name: str, crs: pyproj.CRS, unit: str) -> tuple[str, float]:
    """The vertical reference in words, and the metres in one unit of height.

    unit: of the band, which the raster library takes from the vertical axis where only that states it; none
    at all is read as metres.
    """
    vertical = next((part for part in crs.sub_crs_list if part.is_vertical), None)
    if vertical is not None:
        words = f"heights above {vertical.name}"
    elif any(axis.direction == "up" for axis in crs.axis_info):
        words = "heights above the ellipsoid, up to 100 m from sea level"
    else:
        words = "vertical datum unknown"
    metres = _UNITS_M.get(unit.strip().lower())
    if metres is None:
        raise RasterRefused(name, f"{name} says its heights are in {unit!r}; metres or feet can be read.")
    return words, metres


def _horizontal(crs: pyproj.CRS) -> pyproj.CRS:
    return crs.sub_crs_list[0] if crs.is_compound else crs
