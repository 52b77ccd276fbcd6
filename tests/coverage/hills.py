"""The ground of the coverage tests."""

from __future__ import annotations

from typing import Any

import numpy as np

ROWS, COLUMNS = 90, 120
# Outer edges of the first pixel.
WEST, NORTH, STEP = -84.0, 36.0, 1 / 1200


def hills(rows: int = ROWS, columns: int = COLUMNS) -> Any:
    """A ridge along one side, a hollow behind it, and a slope; no two directions alike."""
    row, column = np.mgrid[0:rows, 0:columns]
    ridge = 260.0 * np.exp(-(((column - 40) / 9.0) ** 2)) * (0.4 + row / rows)
    hollow = -90.0 * np.exp(-(((column - 18) / 8.0) ** 2 + ((row - 30) / 14.0) ** 2))
    return (320.0 + 0.9 * row + 0.4 * column + ridge + hollow).astype(np.float32)
