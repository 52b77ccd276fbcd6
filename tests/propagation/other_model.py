"""The irregular terrain model (Longley-Rice) asked about profiles of a real mountain grid."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from matplotlib.cbook import get_sample_data

from relays.other_model import DELTA_N, loss_db, run

__all__ = ["DELTA_N", "loss_db", "mountain_profiles", "run"]

FloatArray = npt.NDArray[np.float64]

# Three seconds of arc to the south and to the east at 36.6 degrees north.
GRID_ROW_KM, GRID_COLUMN_KM = 0.0926, 0.0744


def mountain_profiles(count: int, seed: int) -> list[tuple[FloatArray, FloatArray]]:
    """Straight profiles of 5 km and more, a point every 100 m, across a real mountain grid."""
    grid = get_sample_data("jacksboro_fault_dem.npz")["elevation"].astype(float)
    random = np.random.default_rng(seed)
    profiles = []
    while len(profiles) < count:
        rows, columns = (random.uniform(0, size - 1, 2) for size in grid.shape)
        length_km = float(np.hypot(np.ptp(rows) * GRID_ROW_KM, np.ptp(columns) * GRID_COLUMN_KM))
        if length_km < 5:
            continue
        share = np.linspace(0, 1, round(length_km / 0.1) + 1)
        heights = _bilinear(grid, rows[0] + np.diff(rows) * share, columns[0] + np.diff(columns) * share)
        profiles.append((length_km * share, heights))
    return profiles


def _bilinear(grid: FloatArray, row: FloatArray, column: FloatArray) -> FloatArray:
    top = np.minimum(row.astype(int), grid.shape[0] - 2)
    left = np.minimum(column.astype(int), grid.shape[1] - 2)
    down, right = row - top, column - left
    upper = (1 - right) * grid[top, left] + right * grid[top, left + 1]
    lower = (1 - right) * grid[top + 1, left] + right * grid[top + 1, left + 1]
    return np.asarray((1 - down) * upper + down * lower)
