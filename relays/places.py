"""A place as people type it: coordinates or a locator."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from clubops.members.locators import Cell, LocatorError, from_locator
from relays.propagation.geodesy import EARTH_RADIUS_KM

_PAIR = re.compile(
    r"^\s*(?P<lat>[-+\N{MINUS SIGN}]?\d{1,3}(?:[.]\d+)?)\s*\N{DEGREE SIGN}?\s*[,; ]\s*"
    r"(?P<lon>[-+\N{MINUS SIGN}]?\d{1,3}(?:[.]\d+)?)\s*\N{DEGREE SIGN}?\s*$"
)


KM_A_DEGREE = 111.2
# No station of a club is farther from its relays than any path; one that is near after swapping was swapped.
FAR_KM = 1500.0
NEAR_KM = 500.0
SWAPPED = (
    "That is farther from every relay of the club than any path reaches, and the other way round it is near one. "
    "Latitude comes first: write the two the other way round."
)


class PlaceError(ValueError):
    """Text that names no place. The message is a sentence for people and never repeats coordinates."""


@dataclass(frozen=True)
class Place:
    """A position, and how far off it may be because of the way it was given."""

    latitude_deg: float
    longitude_deg: float
    may_be_off_km: float = 0.0


def read_place(text: str) -> Place:
    """“36.59, -84.13” (latitude first) or a locator such as EM86jo. Raises PlaceError."""
    if found := _PAIR.match(text):
        latitude, longitude = (
            float(part.replace("\N{MINUS SIGN}", "-")) for part in found.group("lat", "lon")
        )
        if abs(latitude) > 90 >= abs(longitude) and abs(latitude) <= 180:
            raise PlaceError(
                "The first number cannot be a latitude, which runs from -90 to 90. Latitude comes first: write "
                "the two the other way round."
            )
        if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
            raise PlaceError(
                "Latitude runs from -90 to 90 and longitude from -180 to 180; latitude comes first."
            )
        return Place(latitude, longitude)
    try:
        cell = from_locator(text)
    except LocatorError:
        raise PlaceError(
            "That is neither coordinates nor a locator. Write latitude and longitude in degrees, such as "
            "36.59, -84.13, or a locator of six or more characters."
        ) from None
    return Place(cell.latitude_deg, cell.longitude_deg, _half_diagonal_km(cell))


def looks_swapped(
    latitude_deg: float, longitude_deg: float, known_places: Iterable[tuple[float, float]]
) -> bool:
    """Whether a place is far from every known one (latitude, longitude) and near one the other way round."""
    if abs(longitude_deg) > 90:
        return False
    here, swapped = (latitude_deg, longitude_deg), (longitude_deg, latitude_deg)
    known = list(known_places)
    return any(_apart_km(swapped, each) < NEAR_KM for each in known) and all(
        _apart_km(here, each) > FAR_KM for each in known
    )


def _apart_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Along a great circle of a sphere: good to a percent."""
    lat, lon, other_lat, other_lon = map(math.radians, (*one, *other))
    half = math.sin((other_lat - lat) / 2) ** 2
    half += math.cos(lat) * math.cos(other_lat) * math.sin((other_lon - lon) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(half)))


def _half_diagonal_km(cell: Cell) -> float:
    """From the middle of a locator's cell to its corner, on a sphere: good to a hundredth of it."""
    up_km = KM_A_DEGREE * cell.height_deg / 2
    across_km = KM_A_DEGREE * math.cos(math.radians(cell.latitude_deg)) * cell.width_deg / 2
    return math.hypot(up_km, across_km)
