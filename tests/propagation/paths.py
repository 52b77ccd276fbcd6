"""The paths these tests start from."""

from __future__ import annotations

from typing import Any

import numpy as np

from relays.propagation.p1812 import Prediction, predict


def inland(**changes: Any) -> dict[str, Any]:
    """Arguments of a 20 km inland path over one 60 m ridge; every one can be changed."""
    distance_km = np.linspace(0.0, 20.0, 81)
    arguments: dict[str, Any] = {
        "frequency_ghz": 0.146,
        "time_percent": 50.0,
        "distance_km": distance_km,
        "ground_m": 300.0 + 60.0 * np.exp(-(((distance_km - 8.0) / 1.5) ** 2)),
        "clutter_m": np.zeros(81),
        "zone": np.full(81, 4),
        "tx_height_m": 30.0,
        "rx_height_m": 2.0,
        "polarization": "vertical",
        "tx_latitude_deg": 47.0,
        "tx_longitude_deg": 8.0,
        "rx_latitude_deg": 47.1,
        "rx_longitude_deg": 8.2,
    }
    return {**arguments, **changes}


def predicted(**changes: Any) -> Prediction:
    return predict(**inland(**changes))
