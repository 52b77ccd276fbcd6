"""Tropospheric scatter: Recommendation ITU-R P.1812-8 (09/2025), equations (44) and (45)."""

from __future__ import annotations

import math

from relays.propagation.p1812.inputs import Path
from relays.propagation.p1812.profile_analysis import Horizons


def loss_db(path: Path, seen: Horizons) -> float:
    """Basic transmission loss by scatter not exceeded for p % of time, dB."""
    frequency_term = 25.0 * math.log10(path.frequency_ghz) - 2.5 * math.log10(path.frequency_ghz / 2.0) ** 2
    return (
        190.1
        + frequency_term
        + 20.0 * math.log10(path.length_km)
        + 0.573 * seen.angular_distance_mrad
        - 0.15 * path.n0
        - 10.125 * math.pow(math.log10(50.0 / path.time_percent), 0.7)
    )
