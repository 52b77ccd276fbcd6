"""Posts without a height: how many are too many, and interpolation over the small holes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from rasterio.features import sieve
from rasterio.fill import fillnodata
from rasterio.windows import Window

from relays.propagation.terrain import HeightArray
from relays.rasters.opening import Given
from relays.rasters.refusal import RasterRefused
from relays.rasters.strips import Progress, end_share, scratch_profile, strips

#: The void mark of .hgt files, which many files converted from them carry without declaring it.
VOID = -32768
#: Larger holes are left open: ground interpolated over kilometres would be invented.
LARGEST_FILLED_KM2 = 4.0
#: With more than this missing a file is more likely the wrong one, or a broken one, than a coast.
MOST_VOID_PERCENT = 50.0

# How far, in posts, heights are looked for, and the largest hole, in posts, of which no post is farther from
# its rim than that: a quarter of a disc in a corner of the raster.
_REACH_POSTS = 100
_MOST_POSTS = 7_500


def check(name: str, voids: int, posts: int) -> None:
    """Refuse a raster with too little in it."""
    percent = 100.0 * voids / posts
    if voids == posts:
        raise RasterRefused(name, f"{name} holds no heights at all: 100 % of it is void.")
    if percent > MOST_VOID_PERCENT:
        raise RasterRefused(
            name, f"{name} is {percent:.1f} % void; at most {MOST_VOID_PERCENT:.0f} % may be missing."
        )


def fill(
    given: Given, plain: Path, mended: Path, void: npt.NDArray[np.bool_], post_km2: float, progress: Progress
) -> int:
    """Copy `plain` to `mended` with its small holes interpolated over; returns how many posts that were.

    A small hole covers at most LARGEST_FILLED_KM2. Its posts get the mean of the nearest heights in the
    four quadrants round them, weighed by inverse distance, so never more than the highest or less than the
    lowest of them.
    """
    small = _small_holes(void, post_km2)
    filled = 0
    with rasterio.open(plain) as source, rasterio.open(mended, "w", **scratch_profile(given)) as sink:
        for window in strips(given.rows, given.columns):
            first = max(0, window.row_off - _REACH_POSTS)
            last = min(given.rows, window.row_off + window.height + _REACH_POSTS)
            inner = slice(window.row_off - first, window.row_off - first + window.height)
            heights_m = source.read(1, window=Window(0, first, given.columns, last - first))
            holes = small[first:last]
            if holes[inner].any():
                heights_m = np.where(holes, _interpolated(heights_m), heights_m)
                filled += int(np.count_nonzero(holes[inner] & np.isfinite(heights_m[inner])))
            sink.write(heights_m[inner], 1, window=window)
            progress(end_share(window, given.rows))
    return filled


def _small_holes(void: npt.NDArray[np.bool_], post_km2: float) -> npt.NDArray[np.bool_]:
    largest_posts = max(1, min(_MOST_POSTS, round(LARGEST_FILLED_KM2 / post_km2)))
    # sieve() melts patches below its size into what surrounds them: the holes that stay are the large ones.
    large = sieve(void.astype(np.uint8), size=largest_posts + 1, connectivity=8)
    small: npt.NDArray[np.bool_] = void & (large == 0)
    return small


def _interpolated(heights_m: HeightArray) -> HeightArray:
    known = np.isfinite(heights_m)
    marked = np.where(known, heights_m, np.float32(VOID))
    guess = fillnodata(marked, mask=known.astype(np.uint8), max_search_distance=_REACH_POSTS)
    return np.where(guess == VOID, np.float32(np.nan), guess)
