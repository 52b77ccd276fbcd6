"""Free space and line of sight: Recommendation ITU-R P.1812-8 (09/2025), equations (8) to (11)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from relays.propagation.p1812.climate import Climate
from relays.propagation.p1812.inputs import Path
from relays.propagation.p1812.profile_analysis import Horizons


@dataclass(frozen=True, slots=True)
class LineOfSight:
    """Losses in dB: free space alone, and with multipath and focusing for p % and for beta0 %."""

    free_space_db: float
    loss_db: float
    anomalous_loss_db: float


def line_of_sight(path: Path, climate: Climate, seen: Horizons) -> LineOfSight:
    """The losses the path would have with nothing in the way."""
    slant_squared = path.length_km**2 + ((path.tx_amsl_m - path.rx_amsl_m) / 1000.0) ** 2
    free_space = 92.4 + 20.0 * math.log10(path.frequency_ghz) + 10.0 * math.log10(slant_squared)
    depth = 2.6 * (1.0 - math.exp(-0.1 * (seen.tx_distance_km + seen.rx_distance_km)))
    return LineOfSight(
        free_space_db=free_space,
        loss_db=free_space + depth * math.log10(path.time_percent / 50.0),
        anomalous_loss_db=free_space + depth * math.log10(climate.anomalous_time_percent / 50.0),
    )
