"""What stands round an antenna, for paths whose ground is known but whose trees and houses are not.

P.1812-8 takes clutter from the profile alone. Where nobody has imported any, the loss is that of bare ground,
and a line of the budget takes off what houses or trees round the antenna cost, by what the station says of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from relays.propagation.errors import (
    AntennaHeightRangeError,
    FrequencyRangeError,
    NotPositiveError,
    PropagationError,
)
from relays.propagation.optics import knife_edge_loss_db

LOWEST_FREQUENCY_MHZ = 30.0
HIGHEST_FREQUENCY_MHZ = 3000.0
#: Width of a street where none is known, P.2108-1.
STREET_WIDTH_M = 27.0
#: Taken off the loss so that it is about nothing where the antenna is as high as the clutter, P.2108-1.
_GRAZING_DB = 6.03


class UnknownSurroundingsError(PropagationError):
    """No such surroundings."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands round an antenna: a representative height, m above ground; 0 where nothing is taken off."""

    key: str
    label: str
    clutter_height_m: float


#: Heights of P.2108-1 section 3.1, Table 3, as published code has them; trees and towns are one row of it. The table
#: gives open ground and water 10 m too, with a height gain (2b) in place of a wall: that is not counted (see
#: docs/decisions/surroundings.md).
SURROUNDINGS: Mapping[str, Surroundings] = MappingProxyType(
    {
        each.key: each
        for each in (
            Surroundings("open", "open ground or water", 0.0),
            Surroundings("wooded", "among trees", 15.0),
            Surroundings("suburban", "among houses", 10.0),
            Surroundings("town", "in a town", 15.0),
            Surroundings("dense_town", "in a dense town", 20.0),
        )
    }
)


def surroundings(key: str) -> Surroundings:
    """The surroundings of that key. Raises UnknownSurroundingsError."""
    try:
        return SURROUNDINGS[key]
    except KeyError:
        known = ", ".join(SURROUNDINGS)
        raise UnknownSurroundingsError(
            "surroundings", key, known, f"“{key}” is no kind of surroundings; use one of {known}."
        ) from None


@dataclass(frozen=True, slots=True)
class Around:
    """An antenna and what stands round it. Raises UnknownSurroundingsError."""

    key: str
    antenna_height_m: float

    def __post_init__(self) -> None:
        surroundings(self.key)

    @property
    def kind(self) -> Surroundings:
        return SURROUNDINGS[self.key]

    def loss_db(self, frequency_mhz: float) -> float:
        """Median loss, dB, the same in both directions; errors as for terminal_clutter_loss_db."""
        if self.antenna_height_m >= self.kind.clutter_height_m:
            return 0.0
        return terminal_clutter_loss_db(frequency_mhz, self.antenna_height_m, self.kind.clutter_height_m)


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
