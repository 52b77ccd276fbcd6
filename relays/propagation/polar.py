"""Between a lattice of posts and the radials around one place: compiled kernels.

Heights under the samples of radials; where the pixels of a raster lie as seen from the centre; receivers on the
two radials that enclose each pixel, at the pixel's own distance; and their losses blended into the pixel.

Positions come from `geodesics` at a few nodes and are interpolated between them.

The kernels here call none of another file, because the compiler's cache on disk would not see it change.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
SingleArray = npt.NDArray[np.float32]
ByteArray = npt.NDArray[np.uint8]
IntArray = npt.NDArray[np.int64]

_Kernel = TypeVar("_Kernel", bound=Callable[..., Any])

_ENTRY: dict[str, Any] = {"nogil": True, "cache": True}
# Pieces keep no array, so they need no counting of references between threads.
_PIECE: dict[str, Any] = {"nogil": True, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_ARRAY_PIECE: dict[str, Any] = {"nogil": True}


def _entry(function: _Kernel) -> _Kernel:
    compiled: _Kernel = numba.njit(**_ENTRY)(function)
    return compiled


def _piece(function: _Kernel) -> _Kernel:
    compiled: _Kernel = numba.njit(**_PIECE)(function)
    return compiled


def _array_piece(function: _Kernel) -> _Kernel:
    """A piece that makes an array."""
    compiled: _Kernel = numba.njit(**_ARRAY_PIECE)(function)
    return compiled


#: Posts along one side of the blocks in which pixels are placed by interpolation.
BLOCK = 32

# A place this close to the outermost posts, in posts, is on them.
_ON_THE_LINE = 1e-6


# ----------------------------------------------------------------------------------------------
# 1. Ground under the samples of radials
# ----------------------------------------------------------------------------------------------


@_piece
def _bilinear(posts: SingleArray, row: float, column: float) -> float:
    """The value between four posts, NaN off the lattice or beside a void."""
    rows, columns = posts.shape
    if not (-_ON_THE_LINE <= row <= rows - 1 + _ON_THE_LINE):
        return math.nan
    if not (-_ON_THE_LINE <= column <= columns - 1 + _ON_THE_LINE):
        return math.nan
    row = min(max(row, 0.0), rows - 1.0)
    column = min(max(column, 0.0), columns - 1.0)
    top, left = min(int(row), rows - 2), min(int(column), columns - 2)
    down, right = row - top, column - left
    upper = posts[top, left] * (1.0 - right) + posts[top, left + 1] * right
    lower = posts[top + 1, left] * (1.0 - right) + posts[top + 1, left + 1] * right
    return float(upper * (1.0 - down) + lower * down)


@_piece
def _nearest(position: float, count: int) -> int:
    return min(max(int(position + 0.5), 0), count - 1)


@_piece
def _post(polynomials: FloatArray, j: int, t: float, origin: FloatArray) -> tuple[float, float]:
    """Row and column, fractional, at the share t of radial j's length.

    origin: row and column of the centre, latitude step and longitude step in degrees.
    """
    last = polynomials.shape[1] - 1
    latitude, longitude = polynomials[2 * j, last], polynomials[2 * j + 1, last]
    for c in range(last - 1, -1, -1):
        latitude = latitude * t + polynomials[2 * j, c]
        longitude = longitude * t + polynomials[2 * j + 1, c]
    return origin[0] - latitude / origin[2], origin[1] + longitude / origin[3]


@_entry
def radial_places(polynomials: FloatArray, j: int, out: FloatArray) -> None:
    """Latitude and longitude gained at every sample of radial j, degrees, into out (2, samples)."""
    degrees = np.array([0.0, 0.0, 1.0, 1.0])
    for i in range(out.shape[1]):
        south, east = _post(polynomials, j, i / (out.shape[1] - 1), degrees)
        out[0, i] = -south
        out[1, i] = east


@_entry
def sample_radials(
    posts: SingleArray,
    clutter_posts: SingleArray,
    zone_posts: ByteArray,
    origin: FloatArray,
    polynomials: FloatArray,
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    last: IntArray,
) -> None:
    """Heights (bilinear), clutter and zone (nearest post) under radials.

    posts, clutter_posts, zone_posts: one lattice, (rows, columns); the latter two (0, 0) for none.
    origin: row and column of the centre, latitude step and longitude step in degrees.
    polynomials: from `geodesics.radial_polynomials`. ground, clutter, zones: (radials, samples), the latter two
    (0, 0) if not wanted. last: (radials,), filled: the last sample before the ground is unknown, -1 if it is
    so at the centre; a radial that left the known ground does not come back.
    """
    samples = ground.shape[1]
    for j in range(ground.shape[0]):
        last[j] = samples - 1
        for i in range(samples):
            row, column = _post(polynomials, j, i / (samples - 1), origin)
            height = _bilinear(posts, row, column)
            if math.isnan(height):
                last[j] = i - 1
                break
            ground[j, i] = height
            if clutter.shape[0] > 0:
                cover = clutter_posts[_nearest(row, posts.shape[0]), _nearest(column, posts.shape[1])]
                clutter[j, i] = cover if cover > 0.0 else 0.0
            if zones.shape[0] > 0:
                zones[j, i] = zone_posts[_nearest(row, posts.shape[0]), _nearest(column, posts.shape[1])]


# ----------------------------------------------------------------------------------------------
# 2. From radials to pixels
# ----------------------------------------------------------------------------------------------


@_piece
def _block_meets_sector(
    east: FloatArray, north: FloatArray, down: int, across: int, middle: float, half: float, radius_m: float
) -> bool:
    """Whether a block can hold a pixel within radius_m and half of the azimuth middle (rad).

    By the circle around the block, a little enlarged: blocks are nearly, not exactly, straight-sided.
    """
    x = 0.25 * (
        east[down, across] + east[down, across + 1] + east[down + 1, across] + east[down + 1, across + 1]
    )
    y = 0.25 * (
        north[down, across] + north[down, across + 1] + north[down + 1, across] + north[down + 1, across + 1]
    )
    reach = 0.0
    for d in range(2):
        for a in range(2):
            dx, dy = east[down + d, across + a] - x, north[down + d, across + a] - y
            reach = max(reach, math.sqrt(dx * dx + dy * dy))
    reach *= 1.01
    away = math.sqrt(x * x + y * y)
    if away <= reach:
        return True
    if away - reach > radius_m:
        return False
    apart = abs(math.atan2(x, y) - middle) % (2.0 * math.pi)
    apart = min(apart, 2.0 * math.pi - apart)
    return apart <= half + math.asin(min(1.0, reach / away)) + 1e-9


@_array_piece
def _order(turn: FloatArray, steps: FloatArray, found: int, wedges: int) -> IntArray:
    """Indices of the first `found` pixels by wedge, within a wedge by distance in whole samples, rounded up.

    Two counting sorts, the second of which keeps the order of the first.
    """
    farthest = 0
    for p in range(found):
        farthest = max(farthest, math.ceil(steps[p]))
    by_distance = np.empty(found, np.int64)
    start = np.zeros(farthest + 2, np.int64)
    for p in range(found):
        start[math.ceil(steps[p]) + 1] += 1
    for k in range(1, farthest + 2):
        start[k] += start[k - 1]
    for p in range(found):
        k = math.ceil(steps[p])
        by_distance[start[k]] = p
        start[k] += 1
    order = np.empty(found, np.int64)
    start = np.zeros(wedges + 1, np.int64)
    for p in range(found):
        start[int(turn[p]) + 1] += 1
    for wedge in range(1, wedges + 1):
        start[wedge] += start[wedge - 1]
    for i in range(found):
        wedge = int(turn[by_distance[i]])
        order[start[wedge]] = by_distance[i]
        start[wedge] += 1
    return order


@_array_piece
def _longer(values: FloatArray, size: int) -> FloatArray:
    more = np.empty(size)
    more[: values.shape[0]] = values
    return more


@_entry
def find_pixels(
    first: int,
    count: int,
    radials: int,
    spacing_m: float,
    radius_m: float,
    rows: int,
    columns: int,
    east: FloatArray,
    north: FloatArray,
) -> tuple[IntArray, FloatArray, FloatArray]:
    """The pixels of a sector: those within radius_m whose azimuth lies from radial first up to, not including, radial
    first + count, so that every pixel belongs to one sector only.

    Gives, ordered by wedge and within a wedge by distance in whole samples, rounded up: the pixels' numbers (row by
    row), their azimuths in radials clockwise from `first`, their distances in samples. east, north: from
    `geodesics.place_nodes`, BLOCK posts apart.
    """
    width = 2.0 * math.pi / radials
    half = 0.5 * count * width
    middle = first * width + half
    # Pixels that are clearly in another sector need no arc tangent; the rest is decided by theirs.
    narrow = half < 1.0
    sin_m, cos_m, tangent = math.sin(middle), math.cos(middle), math.tan(half) if narrow else 0.0
    pixel, turn, steps = np.empty(1024, np.int64), np.empty(1024), np.empty(1024)
    found = 0
    for down in range(east.shape[0] - 1):
        for across in range(east.shape[1] - 1):
            if not _block_meets_sector(east, north, down, across, middle, half, radius_m):
                continue
            if found + BLOCK * BLOCK > pixel.shape[0]:
                more = np.empty(2 * pixel.shape[0] + BLOCK * BLOCK, np.int64)
                more[:found] = pixel[:found]
                pixel, turn, steps = more, _longer(turn, more.shape[0]), _longer(steps, more.shape[0])
            for row in range(down * BLOCK, min((down + 1) * BLOCK, rows)):
                v = row / BLOCK - down
                x0 = east[down, across] * (1.0 - v) + east[down + 1, across] * v
                y0 = north[down, across] * (1.0 - v) + north[down + 1, across] * v
                x1 = east[down, across + 1] * (1.0 - v) + east[down + 1, across + 1] * v
                y1 = north[down, across + 1] * (1.0 - v) + north[down + 1, across + 1] * v
                for column in range(across * BLOCK, min((across + 1) * BLOCK, columns)):
                    u = column / BLOCK - across
                    x, y = x0 + (x1 - x0) * u, y0 + (y1 - y0) * u
                    if narrow and abs(x * cos_m - y * sin_m) > (x * sin_m + y * cos_m) * tangent + 1e-3:
                        continue
                    away = math.sqrt(x * x + y * y)
                    if away > radius_m:
                        continue
                    azimuth = math.atan2(x, y) / width
                    if azimuth < 0.0:
                        azimuth += radials
                    if azimuth >= radials:  # the last bit may carry a hair west of north to a full turn
                        azimuth = 0.0
                    if first <= azimuth < first + count:
                        pixel[found] = row * columns + column
                        turn[found] = azimuth - first
                        steps[found] = away / spacing_m
                        found += 1
    order = _order(turn, steps, found, count)
    return pixel[order], turn[order], steps[order]


@_entry
def order_receivers(
    turn: FloatArray, steps: FloatArray, count: int, offsets: IntArray, source: IntArray, at: FloatArray
) -> int:
    """One receiver on each of the two radials that enclose a pixel, in the order `sweep.sweep_radials` wants.

    turn, steps: from `find_pixels`, (pixels,). offsets: (count + 2,), filled: the receivers of radial j are
    offsets[j] .. offsets[j + 1] - 1. source: (2 pixels,), filled: 2 p where the receiver is on the radial
    before pixel p, 2 p + 1 where it is on the one after. at: (2 pixels,), filled: its distance. Gives their number.
    """
    start = np.zeros(count + 3, np.int64)  # of the pixels of every wedge, with an empty wedge at either side
    for p in range(turn.shape[0]):
        start[int(turn[p]) + 2] += 1
    for wedge in range(1, count + 3):
        start[wedge] += start[wedge - 1]
    found = 0
    for j in range(count + 1):
        offsets[j] = found
        a, a_end = start[j], start[j + 1]  # pixels for which this is the radial after
        b, b_end = start[j + 1], start[j + 2]  # ... the radial before
        while a < a_end or b < b_end:
            if b >= b_end or (a < a_end and math.ceil(steps[a]) <= math.ceil(steps[b])):
                p, side = a, 1
                a += 1
            else:
                p, side = b, 0
                b += 1
            if side == 1 and turn[p] == math.floor(turn[p]):
                continue  # the pixel lies on the radial before
            source[found] = 2 * p + side
            at[found] = steps[p]
            found += 1
    offsets[count + 1] = found
    return found


@_entry
def place_receivers(
    posts: SingleArray,
    clutter_posts: SingleArray,
    zone_posts: ByteArray,
    origin: FloatArray,
    polynomials: FloatArray,
    samples: int,
    offsets: IntArray,
    at: FloatArray,
    spots: FloatArray,
    spot_zones: ByteArray,
) -> None:
    """Ground, clutter and zones at receivers, as `sweep.sweep_radials` wants them.

    posts .. polynomials: as in `sample_radials`, for radials of `samples` steps. offsets, at: from
    `order_receivers`. spots: (3, receivers), filled; spot_zones: (2, receivers), filled if there are zones.
    """
    for j in range(offsets.shape[0] - 1):
        for r in range(offsets[j], offsets[j + 1]):
            row, column = _post(polynomials, j, at[r] / samples, origin)
            spots[0, r] = _bilinear(posts, row, column)
            near_row, near_column = _post(polynomials, j, max(at[r] - 1.0, 0.0) / samples, origin)
            spots[1, r] = _bilinear(posts, near_row, near_column)
            near_row_i = _nearest(near_row, posts.shape[0])
            near_column_i = _nearest(near_column, posts.shape[1])
            spots[2, r] = 0.0
            if clutter_posts.shape[0] > 0:
                cover = clutter_posts[near_row_i, near_column_i]
                spots[2, r] = cover if cover > 0.0 else 0.0
            if zone_posts.shape[0] > 0:
                here = _nearest(row, posts.shape[0]), _nearest(column, posts.shape[1])
                spot_zones[0, r] = zone_posts[here]
                spot_zones[1, r] = zone_posts[near_row_i, near_column_i]


@_entry
def blend(
    source: IntArray,
    pixel: IntArray,
    turn: FloatArray,
    steps: FloatArray,
    spacing_km: float,
    loss: FloatArray,
    floor: FloatArray,
    horizons: FloatArray,
    loss_out: SingleArray,
    floor_out: SingleArray,
    horizons_out: SingleArray,
) -> None:
    """Blend the losses of the two radials around every pixel by azimuth.

    loss, floor: (heights, receivers) from `sweep.sweep_radials`. loss_out: (heights, pixels of the raster), filled
    with the loss, not below its floor; floor_out: likewise, or no heights if not wanted; horizons_out: (2, heights,
    pixels), km from either end to its horizon along the nearer radial, or no heights. NaN where either is.
    """
    for r in range(source.shape[0]):
        p, side = source[r] >> 1, source[r] & 1
        share = turn[p] - math.floor(turn[p])
        weight = share if side == 1 else 1.0 - share
        q = pixel[p]
        for h in range(loss.shape[0]):
            # The radial before comes first, in this order of receivers.
            so_far = loss_out[h, q] if side == 1 else 0.0
            loss_out[h, q] = so_far + weight * max(loss[h, r], floor[h, r])
        for h in range(floor_out.shape[0]):
            so_far = floor_out[h, q] if side == 1 else 0.0
            floor_out[h, q] = so_far + weight * floor[h, r]
        if weight >= 0.5:
            for h in range(horizons_out.shape[1]):
                if horizons[0, h, r] >= 0.0:
                    horizons_out[0, h, q] = horizons[0, h, r] * spacing_km
                    horizons_out[1, h, q] = (steps[p] - horizons[1, h, r]) * spacing_km
