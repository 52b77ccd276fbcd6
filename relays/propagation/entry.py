"""Loss on the way into a building, Recommendation ITU-R P.2109-2 Annex 1 section 3.

The Recommendation gives a distribution over buildings and places inside them, not one number. The
link budget takes its median, and its spread goes into the probability.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from types import MappingProxyType

from relays.propagation.errors import PropagationError

LOWEST_FREQUENCY_MHZ = 80.0
HIGHEST_FREQUENCY_MHZ = 100_000.0
#: C of equation (1): inside, reflections may add up to a little more than the field outside.
FLOOR_DB = -3.0

_NORMAL = NormalDist()


class UnknownBuildingError(PropagationError):
    """No such building type."""


class EntryRangeError(PropagationError):
    """An argument outside the validity of P.2109."""


@dataclass(frozen=True, slots=True)
class BuildingType:
    """Coefficients r to z of P.2109-2 Table 1 for one kind of building."""

    key: str
    label: str
    r: float
    s: float
    t: float
    u: float
    v: float
    w: float
    x: float
    y: float
    z: float


BUILDING_TYPES: Mapping[str, BuildingType] = MappingProxyType(
    {
        "traditional": BuildingType(
            "traditional", "ordinary house", 12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0
        ),
        "thermally_efficient": BuildingType(
            "thermally_efficient",
            "house with foil insulation or metallised glass",
            28.19,
            -3.00,
            8.48,
            13.5,
            3.8,
            27.8,
            -2.9,
            9.4,
            -2.1,
        ),
    }
)


def building_type(key: str) -> BuildingType:
    """The building type of that key. Raises UnknownBuildingError."""
    try:
        return BUILDING_TYPES[key]
    except KeyError:
        known = " or ".join(BUILDING_TYPES)
        raise UnknownBuildingError(
            "building", key, known, f"“{key}” is not a building type; use {known}."
        ) from None


def building_entry_loss_db(
    frequency_mhz: float, building: str, probability: float = 0.5, elevation_deg: float = 0.0
) -> float:
    """Building entry loss not exceeded with the given probability, dB.

    Source: P.2109-2 Annex 1 section 3, equations (1) to (10), symbols f in GHz and θ in degrees:
    L = 10 log(10^0.1A + 10^0.1B + 10^0.1C) with A = F⁻¹(P)σ1 + μ1, B = F⁻¹(P)σ2 + μ2, C = −3.

    `frequency_mhz` 80 to 100 000; `building` a key of BUILDING_TYPES; `probability` strictly between 0
    and 1; `elevation_deg` of the path at the wall, −90 to 90. Raises EntryRangeError outside these and
    UnknownBuildingError.
    """
    kind = building_type(building)
    if not LOWEST_FREQUENCY_MHZ <= frequency_mhz <= HIGHEST_FREQUENCY_MHZ:
        raise EntryRangeError(
            "frequency_mhz",
            frequency_mhz,
            "80 MHz to 100 GHz",
            f"{frequency_mhz:g} MHz is outside the range of the building entry model, 80 MHz to 100 GHz.",
        )
    if not 0 < probability < 1:
        raise EntryRangeError(
            "probability",
            probability,
            "more than 0 and less than 1",
            f"A probability of {probability:g} has no building entry loss; use more than 0 and less than 1.",
        )
    if not -90 <= elevation_deg <= 90:
        raise EntryRangeError(
            "elevation_deg",
            elevation_deg,
            "-90 to 90 degrees",
            f"An elevation angle of {elevation_deg:g} degrees is impossible; use −90 to 90.",
        )
    log_f = math.log10(frequency_mhz / 1e3)
    horizontal_db = kind.r + kind.s * log_f + kind.t * log_f**2
    deviate = _NORMAL.inv_cdf(probability)
    a = deviate * (kind.u + kind.v * log_f) + horizontal_db + 0.212 * abs(elevation_deg)
    b = deviate * (kind.y + kind.z * log_f) + kind.w + kind.x * log_f
    return 10 * math.log10(sum(10 ** (0.1 * term) for term in (a, b, FLOOR_DB)))


def building_entry_median_db(frequency_mhz: float, building: str, elevation_deg: float = 0.0) -> float:
    """Building entry loss at half of the buildings and places, dB (P.2109-2, P = 0.5)."""
    return building_entry_loss_db(frequency_mhz, building, 0.5, elevation_deg)


def building_entry_spread_db(frequency_mhz: float, building: str, elevation_deg: float = 0.0) -> float:
    """Standard deviation of the normal distribution with the same 10 % to 90 % width, dB.

    The P.2109 distribution leans a little to high losses; between 10 % and 90 % a normal one of this
    width stays within 1 dB of it at VHF and UHF for ordinary houses (checked in the tests).
    """
    upper_db = building_entry_loss_db(frequency_mhz, building, 0.9, elevation_deg)
    lower_db = building_entry_loss_db(frequency_mhz, building, 0.1, elevation_deg)
    return (upper_db - lower_db) / (_NORMAL.inv_cdf(0.9) - _NORMAL.inv_cdf(0.1))
