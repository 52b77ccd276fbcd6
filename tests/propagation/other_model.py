"""The irregular terrain model (Longley-Rice) asked about the same path as P.1812.

Source: itmlogic, a pure-Python copy of the Irregular Terrain Model, version 1.2.2, in its
point-to-point mode and without its climate statistics. It shares no code and few formulas with P.1812.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from itmlogic.preparatory_subroutines.qlrpfl import qlrpfl
from itmlogic.preparatory_subroutines.qlrps import qlrps
from matplotlib.cbook import get_sample_data

from relays.propagation.optics import effective_radius_km, free_space_loss_db

FloatArray = npt.NDArray[np.float64]

DELTA_N = 45.0
SURFACE_REFRACTIVITY = 301.0
GROUND = (22.0, 0.003)  # relative permittivity and S/m, the land of P.1812

# Three seconds of arc to the south and to the east at 36.6 degrees north.
GRID_ROW_KM, GRID_COLUMN_KM = 0.0926, 0.0744


def run(
    frequency_ghz: float,
    km: FloatArray,
    ground_m: FloatArray,
    heights_m: tuple[float, float],
    polarization: str = "vertical",
) -> dict[str, Any]:
    """The other model's whole workings; ``aref`` is its loss beyond free space, dB."""
    wave_number, _, refractivity, impedance = qlrps(
        1000 * frequency_ghz, 0, SURFACE_REFRACTIVITY, int(polarization == "vertical"), *GROUND
    )
    workings: dict[str, Any] = qlrpfl(
        {
            "wn": wave_number,
            # The Earth's curvature of P.1812, not the one derived from surface refractivity.
            "gme": 1e-3 / effective_radius_km(DELTA_N),
            "ens": refractivity,
            "zgnd": impedance,
            "kwx": 0,
            "hg": list(heights_m),
            "lvar": 5,
            "mdvarx": 12,
            "klimx": 5,
            "pfl": [km.size - 1, 1000 * (km[1] - km[0]), *ground_m],
        }
    )
    return workings


def loss_db(
    frequency_ghz: float,
    km: FloatArray,
    ground_m: FloatArray,
    heights_m: tuple[float, float],
    polarization: str = "vertical",
) -> float:
    """Basic transmission loss by the other model."""
    beyond = run(frequency_ghz, km, ground_m, heights_m, polarization)["aref"]
    return free_space_loss_db(1000 * frequency_ghz, km[-1]) + float(beyond)


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
