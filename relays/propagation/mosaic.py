"""Several tiles of ground heights as one lattice, read a block at a time.

Tiles of one series share a lattice (.hgt files even share their edge posts), and then a mosaic is a copy:
seams are ordinary ground. Where tiles differ in step or phase the finest lattice is carried on over all of
them and the others are interpolated on to it.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence

import numpy as np
import numpy.typing as npt

from relays.propagation.terrain import (
    ElevationGrid,
    FloatArray,
    HeightArray,
    Lattice,
    Sampler,
    bilinear,
    nearest,
)

# Posts along one side of a block: 512 x 512 float32 posts are 1 MB.
BLOCK_POSTS = 512
# About 130 MB a mosaic at most, enough for a square of 160 km at 1 arc second.
BLOCKS_KEPT = 128
# A post of one tile this close to a post of another, in posts, is the same post: 1 m at 3 arc seconds,
# below the horizontal accuracy of any of these data.
_SAME_POST = 0.01

PatchReader = Callable[[Lattice], Sequence[ElevationGrid]]


class ElevationMosaic:
    """One seamless ground out of many tiles; blocks are read when first needed and the last used are kept.

    lattice: where the posts of the whole mosaic stand. read_patches: given a part of that lattice, returns
    the pieces of tiles that bear on it (see `needed`), the one to be preferred first.

    Safe to share between threads: two that want the same unread block may both read it, which costs time and
    changes nothing.
    """

    def __init__(
        self,
        lattice: Lattice,
        read_patches: PatchReader,
        *,
        block_posts: int = BLOCK_POSTS,
        blocks_kept: int = BLOCKS_KEPT,
    ) -> None:
        self.lattice = lattice
        self._read_patches = read_patches
        self._block_posts = block_posts
        self._blocks_kept = blocks_kept
        self._blocks: OrderedDict[tuple[int, int], HeightArray] = OrderedDict()
        self._lock = threading.Lock()

    def at(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> FloatArray:
        """Bilinear heights in m at places (1-D arrays); NaN where the ground is not known."""
        return self._sample(bilinear, latitude_deg, longitude_deg)

    def nearest(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> FloatArray:
        """The value of the nearest post at places (1-D arrays); NaN where there is none."""
        return self._sample(nearest, latitude_deg, longitude_deg)

    def window(self, rows: slice, columns: slice) -> ElevationGrid:
        """The posts of ``[rows, columns]`` as one grid; slices may have a positive step, to thin them."""
        lattice = self.lattice.part(rows, columns)
        row = np.arange(*rows.indices(self.lattice.rows))
        column = np.arange(*columns.indices(self.lattice.columns))
        heights = np.empty((row.size, column.size), dtype=np.float32)
        block_row, block_column = self._block_of(row, column)
        for down in np.unique(block_row):
            rows_here = block_row == down
            for across in np.unique(block_column):
                columns_here = block_column == across
                posts = np.ix_(
                    row[rows_here] - down * self._block_posts,
                    column[columns_here] - across * self._block_posts,
                )
                heights[np.ix_(rows_here, columns_here)] = self._block(int(down), int(across))[posts]
        return ElevationGrid(lattice, heights)

    def _sample(
        self, sampler: Sampler, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike
    ) -> FloatArray:
        row, column = (np.atleast_1d(a) for a in self.lattice.place(latitude_deg, longitude_deg))
        heights = np.full(row.shape, np.nan)
        known = np.flatnonzero(~np.isnan(row))
        block_row, block_column = self._block_of(row[known], column[known])
        key = block_row * self.lattice.columns + block_column
        for block in np.unique(key):
            down, across = divmod(int(block), self.lattice.columns)
            here = known[key == block]
            heights[here] = sampler(
                self._block(down, across),
                row[here] - down * self._block_posts,
                column[here] - across * self._block_posts,
            )
        return heights

    def _block_of(
        self, row: npt.NDArray[np.number], column: npt.NDArray[np.number]
    ) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
        # The outermost row and column of posts belong to the last block, so that none is one post wide.
        last_row = max(0, math.ceil((self.lattice.rows - 1) / self._block_posts) - 1)
        last_column = max(0, math.ceil((self.lattice.columns - 1) / self._block_posts) - 1)
        return (
            np.minimum(row // self._block_posts, last_row).astype(np.intp),
            np.minimum(column // self._block_posts, last_column).astype(np.intp),
        )

    def _block(self, down: int, across: int) -> HeightArray:
        """One block, with the first posts of its southern and eastern neighbours, m."""
        key = (down, across)
        with self._lock:
            if key in self._blocks:
                self._blocks.move_to_end(key)
                return self._blocks[key]
        row, column = down * self._block_posts, across * self._block_posts
        lattice = self.lattice.part(
            slice(row, row + self._block_posts + 1), slice(column, column + self._block_posts + 1)
        )
        heights = lay(lattice, self._read_patches(lattice))
        heights.setflags(write=False)
        with self._lock:
            self._blocks[key] = heights
            while len(self._blocks) > self._blocks_kept:
                self._blocks.popitem(last=False)
        return heights


def common_lattice(tiles: Sequence[Lattice]) -> Lattice:
    """The finest tile's lattice carried on over all of them: the posts inside the box around every tile.

    Of equally fine tiles the first gives the phase. Longitudes are unwrapped at the widest gap between
    tiles, so a mosaic across the 180 degree meridian is as small as one anywhere else.
    """
    anchor_at = min(range(len(tiles)), key=lambda i: tiles[i].latitude_step_deg * tiles[i].longitude_step_deg)
    anchor = tiles[anchor_at]
    wests = _unwrapped_wests(tiles)
    north = max(tile.north_deg for tile in tiles)
    south = min(tile.south_deg for tile in tiles)
    east = max(west + tile.east_deg - tile.west_deg for west, tile in zip(wests, tiles, strict=True))
    up = math.floor((north - anchor.north_deg) / anchor.latitude_step_deg + _SAME_POST)
    down = math.floor((anchor.north_deg - south) / anchor.latitude_step_deg + _SAME_POST)
    to_west = math.floor((wests[anchor_at] - min(wests)) / anchor.longitude_step_deg + _SAME_POST)
    to_east = math.floor((east - wests[anchor_at]) / anchor.longitude_step_deg + _SAME_POST)
    west = wests[anchor_at] - to_west * anchor.longitude_step_deg
    return Lattice(
        north_deg=anchor.north_deg + up * anchor.latitude_step_deg,
        west_deg=(west + 180.0) % 360.0 - 180.0 if not -180.0 <= west < 180.0 else west,
        latitude_step_deg=anchor.latitude_step_deg,
        longitude_step_deg=anchor.longitude_step_deg,
        rows=up + down + 1,
        columns=to_west + to_east + 1,
    )


def needed(target: Lattice, tile: Lattice) -> tuple[slice, slice] | None:
    """The rows and columns of a tile that bear on a target lattice, or None where the two are apart."""
    row, column = _positions(target, tile)
    rows, columns = _reach(row, tile.rows), _reach(column, tile.columns)
    return None if rows is None or columns is None else (rows, columns)


def lay(target: Lattice, patches: Iterable[ElevationGrid]) -> HeightArray:
    """Heights on the target lattice, m, float32; the first patch that knows a post decides it.

    First every post between known posts of a patch. Then the slivers that remain along seams of tiles with
    unlike lattices, where a post has some but not all four neighbours in one tile: those that it has are
    averaged by the same weights, which moves the ground by at most one post of the coarser tile. Posts that
    no tile reaches stay NaN.
    """
    heights = np.full((target.rows, target.columns), np.nan, dtype=np.float32)
    pieces = list(patches)
    for lenient in (False, True):
        for patch in pieces:
            if not np.isnan(heights).any():
                return heights
            heights = np.where(np.isnan(heights), _on_lattice(target, patch, lenient=lenient), heights)
    return heights


def _on_lattice(target: Lattice, patch: ElevationGrid, *, lenient: bool) -> HeightArray:
    row, column = _positions(target, patch.lattice)
    row_in, row_at = _usable(row, patch.lattice.rows, lenient)
    column_in, column_at = _usable(column, patch.lattice.columns, lenient)
    result = np.full((target.rows, target.columns), np.nan, dtype=np.float32)
    if not (row_in.any() and column_in.any()):
        return result
    result[np.ix_(row_in, column_in)] = _blend(
        patch.heights_m, row_at[row_in], column_at[column_in], lenient=lenient
    )
    return result


def _blend(
    heights_m: HeightArray, row: FloatArray, column: FloatArray, *, lenient: bool
) -> FloatArray | HeightArray:
    """Bilinear on the product of rows and columns; `lenient` lets the known corners stand for all four."""
    if np.array_equal(row, np.floor(row)) and np.array_equal(column, np.floor(column)):
        return heights_m[np.ix_(row.astype(np.intp), column.astype(np.intp))]
    top = np.minimum(np.floor(row), heights_m.shape[0] - 2).astype(np.intp)
    left = np.minimum(np.floor(column), heights_m.shape[1] - 2).astype(np.intp)
    down, right = (row - top)[:, None], (column - left)[None, :]
    total = np.zeros((row.size, column.size))
    weight_sum = np.zeros_like(total)
    for below, down_weight in ((0, 1.0 - down), (1, down)):
        for aside, right_weight in ((0, 1.0 - right), (1, right)):
            weight = down_weight * right_weight
            if not weight.any():
                continue
            height = heights_m[np.ix_(top + below, left + aside)].astype(np.float64)
            missing = np.isnan(height) if lenient else np.zeros(height.shape, dtype=np.bool_)
            weight = np.where(missing, 0.0, weight)
            weight_sum += weight
            total += np.where(weight == 0.0, 0.0, weight * height)
    return np.divide(total, weight_sum, out=np.full_like(total, np.nan), where=weight_sum > 0.0)


def _positions(target: Lattice, tile: Lattice) -> tuple[FloatArray, FloatArray]:
    """Fractional rows and columns of a tile under every row and column of the target."""
    row = (tile.north_deg - target.latitude_deg) / tile.latitude_step_deg
    start = ((target.west_deg - tile.west_deg) % 360.0) / tile.longitude_step_deg
    if start > tile.columns - 1 + 0.5:
        start -= 360.0 / tile.longitude_step_deg
    column = start + np.arange(target.columns, dtype=np.float64) * (
        target.longitude_step_deg / tile.longitude_step_deg
    )
    return _snapped(row), _snapped(column)


def _snapped(position: FloatArray) -> FloatArray:
    whole = np.rint(position)
    return np.where(np.abs(position - whole) < _SAME_POST, whole, position)


def _usable(position: FloatArray, count: int, lenient: bool) -> tuple[npt.NDArray[np.bool_], FloatArray]:
    # Half a post beyond the last one a pixel still reaches: that far neighbouring tiles may lean on it.
    margin = 0.5 + _SAME_POST if lenient else 0.0
    inside = (position >= -margin) & (position <= count - 1 + margin)
    return inside, np.clip(position, 0.0, count - 1.0)


def _reach(position: FloatArray, count: int) -> slice | None:
    inside, _ = _usable(position, count, True)
    if not inside.any():
        return None
    first = max(0, math.floor(position[inside].min()) - 1)
    last = min(count - 1, math.ceil(position[inside].max()) + 1)
    return slice(first, last + 1) if last > first else None


def _unwrapped_wests(tiles: Sequence[Lattice]) -> list[float]:
    """The western edge of each tile, degrees, counted on eastwards from the widest gap between tiles."""
    spans = sorted((tile.west_deg % 360.0, tile.east_deg - tile.west_deg) for tile in tiles)
    origin, widest, reach = spans[0][0], -math.inf, spans[0][0]
    for west, width in spans:
        if west - reach > widest:
            origin, widest = west, west - reach
        reach = max(reach, west + width)
    if spans[0][0] + 360.0 - reach >= widest:
        origin = spans[0][0]
    # 1e-9 degrees: the origin tile itself must not be sent once round the globe by rounding.
    return [origin + (tile.west_deg - origin + 1e-9) % 360.0 - 1e-9 for tile in tiles]
