"""Line of sight, diffraction, scatter and ducting put together.

Source: Recommendation ITU-R P.1812-8 (09/2025), equations (57) to (63), (69) and (70).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from relays.propagation.p1812.climate import Climate
from relays.propagation.p1812.diffraction import Diffraction
from relays.propagation.p1812.free_space import LineOfSight
from relays.propagation.p1812.inputs import SEA, Path
from relays.propagation.p1812.profile_analysis import Horizons
from relays.propagation.p1812.variability import location_loss_db


@dataclass(frozen=True, slots=True)
class Combination:
    """Losses in dB on the way from the four mechanisms to one."""

    angle_blend: float
    distance_blend: float
    least_unducted_db: float
    least_ducted_db: float
    diffraction_or_ducting_db: float
    without_scatter_db: float
    median_place_db: float
    location_db: float
    loss_db: float
    field_dbuv_m: float


def combine(
    path: Path,
    climate: Climate,
    seen: Horizons,
    sight: LineOfSight,
    diffracted: Diffraction,
    scatter_db: float,
    ducted_db: float,
) -> Combination:
    """Basic transmission loss for p % of time and pL % of places, and the field for 1 kW e.r.p."""
    by_angle = _falling_blend(0.8, seen.angular_distance_mrad, 0.3)
    by_distance = _falling_blend(0.5, path.length_km, 20.0)
    unducted = _least_unducted_db(path, climate, sight, diffracted)
    ducted = _smaller_smoothly(ducted_db, sight.loss_db)
    either = diffracted.basic_db
    if ducted <= diffracted.basic_db:
        either = ducted + (diffracted.basic_db - ducted) * by_distance
    without_scatter = either + (unducted - either) * by_angle
    median_place = _power_sum_db(scatter_db, without_scatter)
    at_sea = int(path.zone[-1]) == SEA
    location = 0.0 if at_sea else location_loss_db(path.location_percent, path.location_sigma_db)
    loss = max(sight.loss_db, median_place + location)
    return Combination(
        angle_blend=by_angle,
        distance_blend=by_distance,
        least_unducted_db=unducted,
        least_ducted_db=ducted,
        diffraction_or_ducting_db=either,
        without_scatter_db=without_scatter,
        median_place_db=median_place,
        location_db=location,
        loss_db=loss,
        field_dbuv_m=199.36 + 20.0 * math.log10(path.frequency_ghz) - loss,
    )


def _falling_blend(steepness: float, value: float, centre: float) -> float:
    """From 1 well below the centre to 0 well above it, the shape of (57) and (58)."""
    return 1.0 - 0.5 * (1.0 + math.tanh(3.0 * steepness * (value - centre) / centre))


def _least_unducted_db(path: Path, climate: Climate, sight: LineOfSight, diffracted: Diffraction) -> float:
    """Notional least loss of line of sight and diffraction over the sea, equation (59)."""
    over_land = (1.0 - climate.sea_fraction) * diffracted.loss_db
    if path.time_percent < climate.anomalous_time_percent:
        return sight.loss_db + over_land
    anomalous = sight.anomalous_loss_db + over_land
    return diffracted.median_basic_db + (anomalous - diffracted.median_basic_db) * diffracted.time_factor


def _smaller_smoothly(ducted_db: float, sight_db: float) -> float:
    """Equation (60), arranged so that no exponential of a whole loss is formed."""
    high = max(ducted_db, sight_db)
    return high + 2.5 * math.log1p(math.exp(-abs(ducted_db - sight_db) / 2.5))


def _power_sum_db(first_db: float, second_db: float) -> float:
    """Equation (63), likewise; a little below the smaller of the two losses."""
    low = min(first_db, second_db)
    return low - 5.0 * math.log10(1.0 + 10.0 ** (-0.2 * abs(first_db - second_db)))
