"""Rewrite a given raster as float32 metres on WGS 84, north up, mended where a height or two is missing.

Done in strips, so that memory does not grow with the file, and in three steps: read and check, fill small
voids, and put on a latitude-longitude lattice. The last step is a plain copy for what is on one already.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from affine import Affine
from rasterio.enums import Resampling
from rasterio.vrt import WarpedVRT

from relays.propagation.terrain import HeightArray, Lattice
from relays.rasters import voids
from relays.rasters.classes import ClassHeights
from relays.rasters.opening import Given
from relays.rasters.placing import Placing, place
from relays.rasters.refusal import RasterRefused
from relays.rasters.strips import Progress, end_share, part_of, scratch_profile, strips


@dataclass(frozen=True, slots=True)
class Normal:
    """What was written, and what was done for it. Heights in m; voids in posts of the given file."""

    lattice: Lattice
    lowest_m: float
    highest_m: float
    voids_filled: int
    voids_left: int
    posts_given: int
    reprojected: bool
    thinned: bool


def normalise(
    given: Given,
    target: Path,
    folder: Path,
    *,
    height_limits_m: tuple[float, float],
    fill: bool,
    blend: bool,
    classes: ClassHeights | None,
    progress: Progress,
) -> Normal:
    """Write `target`, a tiled GeoTIFF of float32 metres on WGS 84 with NaN for none, and say what was done.

    folder: for scratch files, thrown away by the caller. fill: mend small voids by interpolation. blend:
    interpolate between posts when reprojecting (ground); otherwise take the nearest (classes). progress:
    called with 0 to 1.

    RasterRefused where the file is cut short, out of range, too void, too coarse, off the globe or across
    the 180 degree meridian.
    """
    placing = place(given)
    plain = folder / "plain.tif"
    void = _read(given, plain, height_limits_m, classes, part_of(progress, 0.0, 0.4))
    missing = int(np.count_nonzero(void))
    voids.check(given.name, missing, void.size)
    filled = 0
    if fill and missing:
        mended = folder / "mended.tif"
        filled = voids.fill(given, plain, mended, void, placing.post_km2, part_of(progress, 0.4, 0.6))
        plain = mended
    _write(plain, target, placing, blend=blend, progress=part_of(progress, 0.6, 1.0))
    lowest_m, highest_m = _range(given.name, target)
    return Normal(
        lattice=placing.lattice,
        lowest_m=lowest_m,
        highest_m=highest_m,
        voids_filled=filled,
        voids_left=missing - filled,
        posts_given=void.size,
        reprojected=placing.reprojected,
        thinned=placing.thinned,
    )


def _read(
    given: Given,
    plain: Path,
    limits_m: tuple[float, float],
    classes: ClassHeights | None,
    progress: Progress,
) -> npt.NDArray[np.bool_]:
    """Copy the heights to a plain file and return where there are none."""
    void = np.zeros((given.rows, given.columns), dtype=np.bool_)
    with rasterio.open(plain, "w", **scratch_profile(given)) as sink:
        for window in strips(given.rows, given.columns):
            raw, masked = given.read(window)
            heights_m = _metres(given, raw, masked, classes)
            _check_range(given.name, heights_m, limits_m)
            void[window.toslices()] = np.isnan(heights_m)
            sink.write(heights_m, 1, window=window)
            progress(end_share(window, given.rows))
    return void


def _metres(
    given: Given, raw: npt.NDArray[np.generic], masked: npt.NDArray[np.bool_], classes: ClassHeights | None
) -> HeightArray:
    void = masked | ~np.isfinite(raw) | (raw == voids.VOID)
    if classes is not None:
        heights = np.full(raw.shape, np.nan, dtype=np.float32)
        heights[~void] = classes.heights(given.name, raw[~void])
        return heights
    scale, offset = float(given.dataset.scales[0]), float(given.dataset.offsets[0])
    heights = ((raw.astype(np.float64) * scale + offset) * given.metres).astype(np.float32)
    heights[void] = np.nan
    return heights


def _check_range(name: str, heights_m: HeightArray, limits_m: tuple[float, float]) -> None:
    low, high = limits_m
    wrong = heights_m[(heights_m < low) | (heights_m > high)]
    if wrong.size == 0:
        return
    raise RasterRefused(
        name,
        f"{name} has heights such as {wrong[0]:,.0f} m, outside {low:,.0f} to {high:,.0f} m; if that number "
        "marks missing heights the file must declare it as its nodata value, and if the heights are in feet "
        "it must say so.",
    )


def _write(plain: Path, target: Path, placing: Placing, *, blend: bool, progress: Progress) -> None:
    lattice = placing.lattice
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "nodata": math.nan,
        "crs": "EPSG:4326",
        "transform": pixel_transform(lattice),
        "width": lattice.columns,
        "height": lattice.rows,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
        "compress": "deflate",
        "predictor": 3,
        "bigtiff": "if_safer",
    }
    with rasterio.open(plain) as source, rasterio.open(target, "w", **profile) as sink:
        if not placing.reprojected:
            _copy(source, sink, lattice, progress)
            return
        with WarpedVRT(
            source,
            crs="EPSG:4326",
            transform=pixel_transform(lattice),
            width=lattice.columns,
            height=lattice.rows,
            resampling=Resampling.bilinear if blend else Resampling.nearest,
            src_nodata=math.nan,
            nodata=math.nan,
            tolerance=0.01,
        ) as warped:
            _copy(warped, sink, lattice, progress)


def pixel_transform(lattice: Lattice) -> Affine:
    """The GeoTIFF transform of a lattice of posts: its origin is the outer corner of the first pixel."""
    return Affine(
        lattice.longitude_step_deg,
        0.0,
        lattice.west_deg - lattice.longitude_step_deg / 2,
        0.0,
        -lattice.latitude_step_deg,
        lattice.north_deg + lattice.latitude_step_deg / 2,
    )


def _copy(
    source: rasterio.DatasetReader, sink: rasterio.io.DatasetWriter, lattice: Lattice, progress: Progress
) -> None:
    for window in strips(lattice.rows, lattice.columns):
        sink.write(source.read(1, window=window), 1, window=window)
        progress(end_share(window, lattice.rows))


def _range(name: str, target: Path) -> tuple[float, float]:
    """Lowest and highest of what was written, m, read back from the file: a bad copy is found here."""
    lowest, highest = math.inf, -math.inf
    with rasterio.open(target) as dataset:
        for window in strips(dataset.height, dataset.width):
            heights_m = dataset.read(1, window=window)
            known = heights_m[np.isfinite(heights_m)]
            if known.size:
                lowest, highest = min(lowest, float(known.min())), max(highest, float(known.max()))
    if lowest > highest:
        raise RasterRefused(name, f"{name} leaves no heights on latitude and longitude.")
    return lowest, highest
