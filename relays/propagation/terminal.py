"""One end of a link: a radio, its feedline and antenna, and the place where they stand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from relays.propagation import entry, noise, units
from relays.propagation.errors import NotFiniteError, PropagationError
from relays.propagation.feedline import Feedline, LineLoss
from relays.propagation.surroundings import Around

AS_ENTERED = "as entered"
SINAD = "12 dB SINAD"
_NO_LINE = LineLoss(0.0, 0.0, 0.0)


class TerminalError(PropagationError):
    """A loss or spread of a station that makes no sense."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """A radio with its feedline, antenna and place.

    sensitivity_dbm: of a signal at sensitivity_criterion (12 dB SINAD in FM, the maker's bit-error limit in
    a digital mode), in a noise bandwidth of bandwidth_khz. duplexer_loss_db: of one leg, filters included.
    body_loss_db: what the person holding it costs. noise_class: a key of noise.NOISE_CLASSES. indoors: None
    or a key of entry.BUILDING_TYPES. around: the houses or trees at the antenna, None where they are in the path
    loss or there are none. equipment_spread_db: standard deviation of all that the other figures do
    not know about this radio and antenna. sources: by field name, where a figure comes from; "feedline"
    stands for its kind, length, connectors and SWR.

    Raises NotPositiveError, NotFiniteError, TerminalError, noise.UnknownNoiseClassError,
    noise.ReceiverNoiseError, entry.UnknownBuildingError.
    """

    name: str
    power_w: float
    antenna_gain_dbi: float
    sensitivity_dbm: float
    feedline: Feedline | None = None
    duplexer_loss_db: float = 0.0
    body_loss_db: float = 0.0
    bandwidth_khz: float = 12.5
    noise_class: str = "residential"
    indoors: str | None = None
    around: Around | None = None
    equipment_spread_db: float = 1.0
    sensitivity_criterion: str = SINAD
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}), compare=False)

    def __post_init__(self) -> None:
        units.positive("power_w", self.power_w, "W")
        for quantity in ("antenna_gain_dbi", "sensitivity_dbm"):
            finite(quantity, getattr(self, quantity))
        for quantity in ("duplexer_loss_db", "body_loss_db", "equipment_spread_db"):
            not_negative(TerminalError, quantity, getattr(self, quantity))
        noise.noise_class(self.noise_class)
        if self.indoors is not None:
            entry.building_type(self.indoors)
        noise.implied_noise_figure_db(self.sensitivity_dbm, self.bandwidth_khz)

    def source(self, quantity: str) -> str:
        """Where a figure comes from, or that it was entered."""
        return self.sources.get(quantity, AS_ENTERED)

    @property
    def noise_figure_db(self) -> float:
        """The receiver noise figure that its sensitivity implies, dB."""
        return noise.implied_noise_figure_db(self.sensitivity_dbm, self.bandwidth_khz)

    def line_loss_at(self, frequency_mhz: float) -> LineLoss:
        """The feedline's loss by cause, dB; nothing for a radio with its antenna on top."""
        return self.feedline.loss_at(frequency_mhz) if self.feedline else _NO_LINE

    def noise_coupling_loss_db(self, frequency_mhz: float) -> float:
        """What stands between the noise in the air and the receiver, dB.

        Line, duplexer, body, and the shortfall of the antenna below a half-wave dipole, read as loss in a
        short antenna. Gain above the dipole is not credited to the noise: P.372 is for an antenna that
        hears all round.
        """
        shortfall_db = max(units.DIPOLE_GAIN_DBI - self.antenna_gain_dbi, 0.0)
        line_db = self.line_loss_at(frequency_mhz).total_db
        return line_db + self.duplexer_loss_db + self.body_loss_db + shortfall_db


def finite(quantity: str, value: float) -> None:
    """Raise NotFiniteError for a NaN or an infinity."""
    if not math.isfinite(value):
        raise NotFiniteError(
            quantity, value, "a finite number", f"{quantity} must be a finite number; {value} was given."
        )


def not_negative(error: type[PropagationError], quantity: str, value: float) -> None:
    """Raise NotFiniteError for a NaN or an infinity, the given error for a negative number of dB."""
    finite(quantity, value)
    if value < 0:
        raise error(quantity, value, "0 dB or more", f"{quantity} is {value:g} dB; it cannot be negative.")
