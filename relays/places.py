"""A place as people type it: coordinates or a locator."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from clubops.members.locators import Cell, LocatorError, from_locator

_PAIR = re.compile(
    r"^\s*(?P<lat>[-+\N{MINUS SIGN}]?\d{1,2}(?:[.]\d+)?)\s*\N{DEGREE SIGN}?\s*[,; ]\s*"
    r"(?P<lon>[-+\N{MINUS SIGN}]?\d{1,3}(?:[.]\d+)?)\s*\N{DEGREE SIGN}?\s*$"
)


KM_A_DEGREE = 111.2


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


def _half_diagonal_km(cell: Cell) -> float:
    """From the middle of a locator's cell to its corner, on a sphere: good to a hundredth of it."""
    up_km = KM_A_DEGREE * cell.height_deg / 2
    across_km = KM_A_DEGREE * math.cos(math.radians(cell.latitude_deg)) * cell.width_deg / 2
    return math.hypot(up_km, across_km)
