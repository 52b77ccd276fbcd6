"""Variability in time and place: Recommendation ITU-R P.1812-8 (09/2025), attachment on the inverse
normal distribution, and section 4 on location variability."""

from __future__ import annotations

import math

from relays.propagation import errors
from relays.propagation.p1812 import inputs

_SMALLEST_PROBABILITY = 1e-6
_FADE_OUT_M = 10.0


def inverse_normal(probability: float) -> float:
    """The normal deviate exceeded with the given probability, by the Recommendation's approximation.

    Upper-tail sense: +1.28 at 0.1, -1.28 at 0.9. Probabilities are clipped to 1e-6 .. 1 - 1e-6.
    An exact quantile would be nearer the normal distribution and farther from the Recommendation.
    """
    x = max(_SMALLEST_PROBABILITY, min(1.0 - _SMALLEST_PROBABILITY, probability))
    return _lower_half(x) if x <= 0.5 else -_lower_half(1.0 - x)


def _lower_half(x: float) -> float:
    t = math.sqrt(-2.0 * math.log(x))
    numerator = (0.010328 * t + 0.802853) * t + 2.515516698
    denominator = ((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0
    return t - numerator / denominator


def location_loss_db(location_percent: float, location_sigma_db: float) -> float:
    """Loss to add so that it is not exceeded at the given percentage of places, dB (0 at 50 %)."""
    return -inverse_normal(location_percent / 100.0) * location_sigma_db


def sigma_location_db(
    frequency_ghz: float, square_side_m: float, rx_height_m: float, clutter_height_m: float
) -> float:
    """Standard deviation of the loss over the places inside one square of the map, dB.

    Source: Recommendation ITU-R P.1812-8 (09/2025), location variability (section 4):
    (0.52 + 0.024 f) w^0.28, faded out linearly as the antenna rises from the clutter's height
    to 10 m above it.

    frequency_ghz: 0.03 to 6. square_side_m: side of the square, above 0.
    rx_height_m: receiving antenna above ground, 1 to 3000. clutter_height_m: representative height of
    what stands round it, 0 to 1000.
    Raises a PropagationError naming the quantity that is out of range.
    """
    frequency = inputs.number_between(
        errors.FrequencyRangeError, "frequency_ghz", frequency_ghz, inputs.FREQUENCY_GHZ, "GHz"
    )
    side = inputs.number("square_side_m", square_side_m)
    if side <= 0:
        raise errors.NotPositiveError(
            "square_side_m",
            square_side_m,
            "more than 0 m",
            f"square_side_m is {side:g} m; a square of the map has a side above 0 m.",
        )
    height = inputs.number_between(
        errors.AntennaHeightRangeError, "rx_height_m", rx_height_m, inputs.ANTENNA_HEIGHT_M, "m"
    )
    clutter = inputs.number_between(
        errors.ClutterHeightRangeError, "clutter_height_m", clutter_height_m, inputs.CLUTTER_HEIGHT_M, "m"
    )
    share = max(0.0, min(1.0, 1.0 - (height - clutter) / _FADE_OUT_M))
    return float((0.52 + 0.024 * frequency) * side**0.28 * share)
