"""The irregular terrain model (Longley-Rice) asked about the same path as P.1812, where it is installed.

Source: itmlogic, a pure-Python copy of the Irregular Terrain Model, version 1.2.2, in its
point-to-point mode and without its climate statistics. It shares no code and few formulas with P.1812.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from relays.propagation.optics import effective_radius_km, free_space_loss_db

try:
    from itmlogic.preparatory_subroutines.qlrpfl import qlrpfl
    from itmlogic.preparatory_subroutines.qlrps import qlrps
except ImportError:  # it comes with the dev extra only
    qlrpfl = qlrps = None

FloatArray = npt.NDArray[np.float64]

IS_INSTALLED = qlrpfl is not None
DELTA_N = 45.0
SURFACE_REFRACTIVITY = 301.0
GROUND = (22.0, 0.003)  # relative permittivity and S/m, the land of P.1812


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
