"""What stands round an antenna, for paths whose ground is known but whose trees and houses are not.

P.1812-8 takes clutter from the profile alone. Where nobody has imported any, the loss is that of bare ground,
and this module says how much more to expect. It is told to people, never added to a budget.
"""

from __future__ import annotations

import math

from relays.propagation.errors import AntennaHeightRangeError, FrequencyRangeError, NotPositiveError
from relays.propagation.optics import knife_edge_loss_db

LOWEST_FREQUENCY_MHZ = 30.0
HIGHEST_FREQUENCY_MHZ = 3000.0
#: Width of a street where none is known, P.2108-1.
STREET_WIDTH_M = 27.0
#: Representative heights of P.2108-1: suburban, and urban or forest.
HOUSES_M = 10.0
TREES_M = 15.0
#: What is less than this is not worth a sentence. Our own choice.
LEAST_TOLD_DB = 1.0
#: Taken off the loss so that it is about nothing where the antenna is as high as the clutter, P.2108-1.
_GRAZING_DB = 6.03


def terminal_clutter_loss_db(
    frequency_mhz: float,
    antenna_height_m: float,
    clutter_height_m: float,
    street_width_m: float = STREET_WIDTH_M,
) -> float:
    """Median loss to an antenna that stands among houses or trees higher than itself, dB; 0 above them.

    Source: Recommendation ITU-R P.2108-1 section 3.1, equations (2a), (2c) to (2e) and (2g), as published code
    has them (the text itself was not read): J(nu) - 6.03 with nu = 0.342 sqrt(f) sqrt(h theta), f in GHz, h from
    the antenna up to the clutter's top, theta the angle up to it across the street in degrees.

    frequency_mhz: 30 to 3000, else FrequencyRangeError. antenna_height_m: above ground, more than 0, else
    AntennaHeightRangeError. clutter_height_m, street_width_m: more than 0, else NotPositiveError.
    """
    if not LOWEST_FREQUENCY_MHZ <= frequency_mhz <= HIGHEST_FREQUENCY_MHZ:
        raise FrequencyRangeError(
            "frequency_mhz",
            frequency_mhz,
            "30 to 3000 MHz",
            f"{frequency_mhz:g} MHz is outside the range of the clutter model, 30 to 3000 MHz.",
        )
    if not antenna_height_m > 0:
        raise AntennaHeightRangeError(
            "antenna_height_m",
            antenna_height_m,
            "more than 0 m",
            f"An antenna {antenna_height_m:g} m above ground stands among nothing; use more than 0.",
        )
    for quantity, value in (("clutter_height_m", clutter_height_m), ("street_width_m", street_width_m)):
        if not value > 0:
            raise NotPositiveError(
                quantity, value, "more than 0 m", f"{quantity} is {value:g} m; it must be more than 0 m."
            )
    above_m = clutter_height_m - antenna_height_m
    if above_m <= 0:
        return 0.0
    theta_deg = math.degrees(math.atan(above_m / street_width_m))
    nu = 0.342 * math.sqrt(frequency_mhz / 1000.0) * math.sqrt(above_m * theta_deg)
    return knife_edge_loss_db(nu) - _GRAZING_DB


def bare_ground_caution(frequency_mhz: float, antenna_height_m: float) -> str:
    """A sentence for a path over ground without any clutter; nothing where the antenna stands above it all."""
    found = [
        f"about {loss_db:.0f} dB less {words}"
        for words, height_m in (("among houses", HOUSES_M), ("among trees", TREES_M))
        if (loss_db := terminal_clutter_loss_db(frequency_mhz, antenna_height_m, height_m)) >= LEAST_TOLD_DB
    ]
    if not found:
        return ""
    return (
        "No trees or buildings are known on this path, so bare ground is counted on. "
        f"Expect {', '.join(found)} (Recommendation ITU-R P.2108-1, {HOUSES_M:g} m houses and {TREES_M:g} m trees)."
    )
