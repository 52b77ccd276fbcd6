"""What is lost between radio and antenna: cable, connectors and mismatch.

Cable figures are attenuations of matched line, connectors excluded, in dB per 100 ft at 150 and
450 MHz as published in a land-mobile licensing authority's table; a·√f + b·f is laid through the two
points (conductor and dielectric loss) unless a maker's data-sheet fit is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from relays.propagation.errors import PropagationError

METRES_PER_100_FT = 30.48
LOWEST_FREQUENCY_MHZ = 30.0
HIGHEST_FREQUENCY_MHZ = 1000.0
#: Per connector (MHz, dB): an allowance used by licensing authorities. A good one measured in a laboratory
#: is nearer 0.05 to 0.1 dB (from memory).
CONNECTOR_ALLOWANCE_DB = ((150.0, 0.25), (450.0, 0.50), (850.0, 0.60))

TABLE_SOURCE = "published table, dB per 100 ft at 150 and 450 MHz; a·√f + b·f through both points"
SHEET_SOURCE = "maker's data-sheet fit a·√f + b·f, which rounds to the published table"
REMEMBERED_SOURCE = "data-sheet fit a·√f + b·f from memory, which rounds to the published table"


class UnknownCableError(PropagationError):
    """No such cable kind in the table."""


class FeedlineRangeError(PropagationError):
    """A length, count, ratio, loss or frequency no feedline can have."""


@dataclass(frozen=True, slots=True)
class Cable:
    """One kind of 50 Ω coaxial cable: loss a·√f + b·f in dB per 100 ft, f in MHz."""

    key: str
    label: str
    a: float
    b: float
    published_db_per_100_ft: tuple[float, float]
    source: str


def _through(loss_150: float, loss_450: float) -> tuple[float, float]:
    """The a and b whose curve meets both published points."""
    b = (loss_450 - math.sqrt(3) * loss_150) / (450 - math.sqrt(3) * 150)
    return (loss_150 - 150 * b) / math.sqrt(150), b


def _cable(
    key: str,
    label: str,
    published: tuple[float, float],
    fit: tuple[float, float] | None = None,
    source: str = TABLE_SOURCE,
) -> tuple[str, Cable]:
    a, b = fit or _through(*published)
    return key, Cable(key, label, a, b, published, source)


CABLES: Mapping[str, Cable] = MappingProxyType(
    dict(
        (
            _cable("rg58", "RG-58 C/U", (6.10, 11.75)),
            _cable("rg8x", "RG-8X", (4.7, 8.6)),
            _cable("rg213", "RG-213", (2.70, 4.97)),
            _cable("rg8_foam", "RG-8 foam", (2.20, 3.98)),
            _cable("rg8_air", "RG-8 size, air-spaced low loss", (1.6, 2.8)),
            _cable("low_loss_240", "240-class low loss", (3.0, 5.3), (0.242080, 0.000330), SHEET_SOURCE),
            _cable("low_loss_400", "400-class low loss", (1.5, 2.7), (0.122290, 0.000260), SHEET_SOURCE),
            _cable("low_loss_400_flexible", "400-class low loss, extra flexible", (1.8, 3.3)),
            _cable("low_loss_600", "600-class low loss", (1.0, 1.7), (0.075550, 0.000260), REMEMBERED_SOURCE),
            _cable("hardline_1_2", "1/2 inch foam hardline", (0.84, 1.57)),
            _cable("hardline_7_8", "7/8 inch foam hardline", (0.44, 0.79)),
            _cable("hardline_1_5_8", "1 5/8 inch hardline", (0.28, 0.53)),
        )
    )
)


def cable_kind(key: str) -> Cable:
    """The cable of that key. Raises UnknownCableError."""
    try:
        return CABLES[key]
    except KeyError:
        known = ", ".join(CABLES)
        raise UnknownCableError(
            "kind", key, known, f"“{key}” is not a cable kind in the table; use one of {known}."
        ) from None


def cable_loss_db(kind: str, frequency_mhz: float, length_m: float) -> float:
    """Loss of matched line, dB, connectors excluded.

    `frequency_mhz` 30 to 1000 (the table's points are 150 and 450), `length_m` 0 or more.
    Raises UnknownCableError and FeedlineRangeError.
    """
    cable = cable_kind(kind)
    _check_frequency(frequency_mhz)
    if not (math.isfinite(length_m) and length_m >= 0):
        raise FeedlineRangeError(
            "length_m",
            length_m,
            "0 m or more",
            f"A feedline {length_m:g} m long is impossible; use 0 or more.",
        )
    per_100_ft_db = cable.a * math.sqrt(frequency_mhz) + cable.b * frequency_mhz
    return per_100_ft_db * length_m / METRES_PER_100_FT


def connector_loss_db(frequency_mhz: float, count: int) -> float:
    """Allowance for `count` connectors, dB, between CONNECTOR_ALLOWANCE_DB's points along log f.

    Below 150 MHz the 150 MHz figure stands, above 850 MHz the 850 MHz one. Raises FeedlineRangeError.
    """
    _check_frequency(frequency_mhz)
    if count < 0:
        raise FeedlineRangeError(
            "count", count, "0 or more", f"{count} connectors are impossible; use 0 or more."
        )
    below, each_db = CONNECTOR_ALLOWANCE_DB[0]
    for above, above_db in CONNECTOR_ALLOWANCE_DB[1:]:
        part = min(max(math.log(frequency_mhz / below) / math.log(above / below), 0.0), 1.0)
        each_db += part * (above_db - each_db)
        below = above
    return each_db * count


def reflection_coefficient(swr: float) -> float:
    """|Γ| = (S − 1)/(S + 1), 0 to 1; an infinite SWR gives 1. Raises FeedlineRangeError below 1."""
    if not swr >= 1:
        raise FeedlineRangeError(
            "swr",
            swr,
            "1 or more",
            f"A standing wave ratio of {swr:g} is impossible; it is 1 or more (1.5 is usual).",
        )
    return 1.0 if math.isinf(swr) else (swr - 1) / (swr + 1)


def return_loss_db(swr: float) -> float:
    """Return loss −20 log|Γ|, dB; infinite for a perfect match."""
    gamma = reflection_coefficient(swr)
    return math.inf if gamma == 0 else -20 * math.log10(gamma)


def mismatch_loss_db(swr: float) -> float:
    """Power not accepted by a mismatched load, −10 log(1 − |Γ|²), dB; infinite for a total reflection."""
    gamma = reflection_coefficient(swr)
    return math.inf if gamma == 1 else -10 * math.log10(1 - gamma**2)


def swr_at_radio(load_swr: float, line_loss_db: float) -> float:
    """The SWR seen at the radio's end of a lossy line: the line hides the antenna's mismatch twice over."""
    gamma = reflection_coefficient(load_swr) * 10 ** (-_checked_loss(line_loss_db) / 10)
    return math.inf if gamma == 1 else (1 + gamma) / (1 - gamma)


def total_line_loss_db(line_loss_db: float, load_swr: float) -> float:
    """Loss from radio to antenna of a line with a mismatched load, dB.

    10 log[(A² − |Γ|²) / (A(1 − |Γ|²))] with A the matched loss as a ratio and Γ at the antenna: power
    delivered over power accepted at the radio's end (textbook line theory; formula from memory). Infinite
    for a total reflection.
    """
    gamma = reflection_coefficient(load_swr)
    if gamma == 1:
        return math.inf
    loss = 10 ** (_checked_loss(line_loss_db) / 10)
    return 10 * math.log10((loss**2 - gamma**2) / (loss * (1 - gamma**2)))


@dataclass(frozen=True, slots=True)
class LineLoss:
    """A feedline's loss at one frequency, by cause, dB."""

    cable_db: float
    connectors_db: float
    mismatch_db: float

    @property
    def total_db(self) -> float:
        """Everything between radio and antenna, dB."""
        return self.cable_db + self.connectors_db + self.mismatch_db


@dataclass(frozen=True, slots=True)
class Feedline:
    """A run of cable with its connectors and the SWR measured at the antenna."""

    kind: str
    length_m: float
    connectors: int = 2
    antenna_swr: float = 1.0

    @property
    def cable(self) -> Cable:
        """The kind of cable it is made of. Raises UnknownCableError."""
        return cable_kind(self.kind)

    def loss_at(self, frequency_mhz: float) -> LineLoss:
        """Loss by cause at `frequency_mhz`; the mismatch part is what the SWR adds to the matched loss.

        Raises UnknownCableError and FeedlineRangeError.
        """
        cable_db = cable_loss_db(self.kind, frequency_mhz, self.length_m)
        connectors_db = connector_loss_db(frequency_mhz, self.connectors)
        matched_db = cable_db + connectors_db
        return LineLoss(
            cable_db, connectors_db, total_line_loss_db(matched_db, self.antenna_swr) - matched_db
        )


def _check_frequency(frequency_mhz: float) -> None:
    if not LOWEST_FREQUENCY_MHZ <= frequency_mhz <= HIGHEST_FREQUENCY_MHZ:
        raise FeedlineRangeError(
            "frequency_mhz",
            frequency_mhz,
            "30 to 1000 MHz",
            f"{frequency_mhz:g} MHz is outside the range of the cable table, 30 to 1000 MHz.",
        )


def _checked_loss(line_loss_db: float) -> float:
    if not (math.isfinite(line_loss_db) and line_loss_db >= 0):
        raise FeedlineRangeError(
            "line_loss_db",
            line_loss_db,
            "0 dB or more",
            f"A line loss of {line_loss_db:g} dB is impossible; use 0 or more.",
        )
    return line_loss_db
