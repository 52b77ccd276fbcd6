"""Maidenhead locators both ways.

A locator names a cell of the globe, counted from 180° west and 90° south, longitude first: fields of 20° by
10° (A to R), squares of 2° by 1° (0 to 9), subsquares of 5' by 2.5' (a to x), extended squares of a tenth of
that (0 to 9). WGS 84, as the International Amateur Radio Union has it since 1999.

A cell holds its south and west edges; 90° north and 180° east, which no cell would hold, go into the last
one. A point within half a millimetre of an edge counts as on it, so that decimal degrees typed by a person
fall where arithmetic on paper puts them. The `maidenhead` package rounds near edges into the next cell and
takes the north pole for the south; it is the outside check in the tests, away from edges.
"""

import math
import re
from dataclasses import dataclass

# Cells a pair of characters divides the one before it into, and the first character of its alphabet.
_PAIRS = ((18, "A"), (10, "0"), (24, "a"), (10, "0"))
_SMALLEST = math.prod(divisions for divisions, _ in _PAIRS)
_WORLD_LATITUDE_DEG = 180.0
_WORLD_LONGITUDE_DEG = 360.0
_LENGTHS = (2, 4, 6, 8)
_PUBLIC_LENGTH = 4
# Decimal places kept of a count of the smallest cells: 1e-6 of 1/240 degree is half a millimetre.
_EDGE_DECIMALS = 6

_FORM = re.compile(r"[A-R]{2}(?:[0-9]{2}(?:[A-X]{2}(?:[0-9]{2})?)?)?")


class LocatorError(ValueError):
    """A locator, a position or a length that cannot be used; the message is a sentence."""


class UnreadableLocator(LocatorError):
    """Text that is no locator. Attribute: `text` as given."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(
            f"“{text.strip()}” is not a locator. A locator has 2, 4, 6 or 8 characters: two letters A to R, "
            "two digits, two letters A to X, two digits, such as FN31pr."
        )


class OffTheGlobe(LocatorError):
    """A latitude or longitude that does not exist. Attributes: `name`, `value_deg`."""

    def __init__(self, name: str, value_deg: float, limit_deg: int) -> None:
        self.name = name
        self.value_deg = value_deg
        super().__init__(
            f"The {name} {value_deg}° does not exist; it lies between -{limit_deg}° and {limit_deg}°."
        )


@dataclass(frozen=True, slots=True)
class Cell:
    """The cell that a locator names: its centre and its size, degrees, north and east positive."""

    locator: str
    latitude_deg: float
    longitude_deg: float
    height_deg: float
    width_deg: float

    @property
    def south_deg(self) -> float:
        return self.latitude_deg - self.height_deg / 2

    @property
    def north_deg(self) -> float:
        return self.latitude_deg + self.height_deg / 2

    @property
    def west_deg(self) -> float:
        return self.longitude_deg - self.width_deg / 2

    @property
    def east_deg(self) -> float:
        return self.longitude_deg + self.width_deg / 2


def to_locator(latitude_deg: float, longitude_deg: float, characters: int = 6) -> str:
    """The locator of a point, written as FN31pr. `characters` is 2, 4, 6 or 8.

    Raises `OffTheGlobe`, and `LocatorError` for another length.
    """
    if characters not in _LENGTHS:
        raise LocatorError(f"A locator has 2, 4, 6 or 8 characters, not {characters}.")
    _require_on_globe("latitude", latitude_deg, 90)
    _require_on_globe("longitude", longitude_deg, 180)
    pairs = _PAIRS[: characters // 2]
    # Counted in the smallest cells first, so that a short locator is always the start of a longer one.
    smaller = _SMALLEST // math.prod(divisions for divisions, _ in pairs)
    column = _smallest_cell((longitude_deg + 180) / _WORLD_LONGITUDE_DEG) // smaller
    row = _smallest_cell((latitude_deg + 90) / _WORLD_LATITUDE_DEG) // smaller
    written = ""
    for divisions, first in reversed(pairs):
        column, across = divmod(column, divisions)
        row, up = divmod(row, divisions)
        written = chr(ord(first) + across) + chr(ord(first) + up) + written
    return written


def from_locator(text: str) -> Cell:
    """The cell of a locator in any mixture of case. Raises `UnreadableLocator`."""
    plain = text.strip().upper()
    if not _FORM.fullmatch(plain):
        raise UnreadableLocator(text)
    column = row = 0
    cells = 1
    written = ""
    for (divisions, first), across, up in zip(_PAIRS, plain[::2], plain[1::2], strict=False):
        column = column * divisions + ord(across) - ord(first.upper())
        row = row * divisions + ord(up) - ord(first.upper())
        cells *= divisions
        written += (across + up).lower() if first == "a" else across + up
    return Cell(
        locator=written,
        latitude_deg=(row + 0.5) * _WORLD_LATITUDE_DEG / cells - 90,
        longitude_deg=(column + 0.5) * _WORLD_LONGITUDE_DEG / cells - 180,
        height_deg=_WORLD_LATITUDE_DEG / cells,
        width_deg=_WORLD_LONGITUDE_DEG / cells,
    )


def public_locator(latitude_deg: float, longitude_deg: float) -> str:
    """All that a public page may say of where somebody lives: the square, four characters.

    A square is 1° by 2°: about 111 km north to south. Raises `OffTheGlobe`.
    """
    return to_locator(latitude_deg, longitude_deg, _PUBLIC_LENGTH)


def _require_on_globe(name: str, value_deg: float, limit_deg: int) -> None:
    if not -limit_deg <= value_deg <= limit_deg:  # also true of NaN
        raise OffTheGlobe(name, value_deg, limit_deg)


def _smallest_cell(share_of_world: float) -> int:
    return min(math.floor(round(share_of_world * _SMALLEST, _EDGE_DECIMALS)), _SMALLEST - 1)
