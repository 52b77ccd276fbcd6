"""Noise at a receiver: thermal noise, and what the surroundings add to it.

Source: Recommendation ITU-R P.372 (man-made noise, Table 1 and the decile table; coefficients
and deciles within an hour as in published code for P.372-17; the text itself was not read). The
business-area line for UHF is that of an older edition, P.372-8. Noise from the sky alone is left out
of a budget: at VHF and above it is near the 290 K that the receiver's own figure already counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from relays.propagation import units
from relays.propagation.errors import PropagationError

BOLTZMANN_J_PER_K = 1.380649e-23
REFERENCE_TEMPERATURE_K = 290.0
#: Distance between the 10 % and the 90 % point of a normal distribution, in standard deviations.
DECILES_TO_SIGMA = 2 * 1.2815515655446004

LOWEST_FREQUENCY_MHZ = 0.3
FIT_ENDS_MHZ = 250.0
HIGHEST_FREQUENCY_MHZ = 1000.0
BUSINESS_LINE_ENDS_MHZ = 900.0
#: What two editions of P.372 give for a city at 440 MHz lies this far apart (11.8 and 3.6 dB).
EDITIONS_APART_DB = 8.0

#: FM, 5 kHz deviation. Weakly attested; it links a maker's sensitivity to a noise figure near 8 dB.
CARRIER_TO_NOISE_AT_12_DB_SINAD_DB = 5.0


class UnknownNoiseClassError(PropagationError):
    """No such class of surroundings."""


class NoiseFrequencyRangeError(PropagationError):
    """A frequency outside anything P.372 can be read for."""


class ReceiverNoiseError(PropagationError):
    """A bandwidth, sensitivity or noise figure that no receiver can have."""


@dataclass(frozen=True, slots=True)
class NoiseClass:
    """One class of surroundings: median figure intercept − slope · log10(f/MHz), deciles within an hour."""

    key: str
    label: str
    intercept_db: float
    slope_db: float
    upper_decile_db: float
    lower_decile_db: float

    @property
    def spread_db(self) -> float:
        """The normal standard deviation with the same 10 % to 90 % width, dB."""
        return (self.upper_decile_db + self.lower_decile_db) / DECILES_TO_SIGMA


NOISE_CLASSES: Mapping[str, NoiseClass] = MappingProxyType(
    {
        "city": NoiseClass("city", "city or business area", 76.8, 27.7, 11.0, 6.7),
        "residential": NoiseClass("residential", "residential area", 72.5, 27.7, 10.6, 5.3),
        "rural": NoiseClass("rural", "rural area", 67.2, 27.7, 9.2, 4.6),
        "quiet_rural": NoiseClass("quiet_rural", "quiet rural area", 53.6, 28.6, 9.2, 4.6),
        "galactic": NoiseClass("galactic", "the sky alone", 52.0, 23.0, 2.0, 2.0),
    }
)


@dataclass(frozen=True, slots=True)
class ExternalNoise:
    """Median external noise figure at one frequency, its spread, and how far to trust it."""

    noise_class: NoiseClass
    frequency_mhz: float
    figure_db: float
    spread_db: float
    within_fit: bool
    caveat: str
    source: str = "Recommendation ITU-R P.372"

    @property
    def words(self) -> str:
        """The figure as a page says it."""
        side = "below" if self.figure_db < 0 else "above"
        return f"{self.noise_class.label}, {abs(self.figure_db):.1f} dB {side} thermal noise; {self.source}"


def thermal_noise_dbm(bandwidth_khz: float) -> float:
    """Thermal noise power kT0B at 290 K, dBm, in a noise bandwidth of `bandwidth_khz`.

    Source: P.372, definition of the reference temperature T0 = 290 K; Boltzmann's constant exact in the SI.
    Raises ReceiverNoiseError for a bandwidth that is not above zero.
    """
    if not (math.isfinite(bandwidth_khz) and bandwidth_khz > 0):
        raise ReceiverNoiseError(
            "bandwidth_khz",
            bandwidth_khz,
            "more than 0 kHz",
            f"A receiver bandwidth of {bandwidth_khz:g} kHz is impossible; FM voice needs 8 to 16 kHz.",
        )
    watts = BOLTZMANN_J_PER_K * REFERENCE_TEMPERATURE_K * bandwidth_khz * 1e3
    return 10 * math.log10(watts) + 30


def noise_class(key: str) -> NoiseClass:
    """The class of surroundings of that key. Raises UnknownNoiseClassError."""
    try:
        return NOISE_CLASSES[key]
    except KeyError:
        known = ", ".join(NOISE_CLASSES)
        raise UnknownNoiseClassError(
            "noise_class",
            key,
            known,
            f"“{key}” is not a class of surroundings for radio noise; use one of {known}.",
        ) from None


def external_noise(class_key: str, frequency_mhz: float) -> ExternalNoise:
    """Median man-made (or galactic) noise figure Fam of a place, dB above kT0B.

    Source: P.372, Fam = c − d log10(f/MHz), stated for 0.3 to 250 MHz (galactic to about 100 MHz).
    Above 250 MHz the city class takes 44.3 − 12.3 log10 f (P.372-8, business areas, to 900 MHz); the
    others are extrapolated. Every value outside its stated range says so in `caveat`.

    Raises UnknownNoiseClassError, and NoiseFrequencyRangeError outside 0.3 to 1000 MHz.
    """
    entry = noise_class(class_key)
    if not LOWEST_FREQUENCY_MHZ <= frequency_mhz <= HIGHEST_FREQUENCY_MHZ:
        allowed = f"{LOWEST_FREQUENCY_MHZ:g} to {HIGHEST_FREQUENCY_MHZ:g} MHz"
        raise NoiseFrequencyRangeError(
            "frequency_mhz",
            frequency_mhz,
            allowed,
            f"{frequency_mhz:g} MHz is outside the range of the noise model, {allowed}.",
        )
    log_f = math.log10(frequency_mhz)
    figure_db = entry.intercept_db - entry.slope_db * log_f
    caveat, source = "", "Recommendation ITU-R P.372"
    if entry.key == "galactic":
        if frequency_mhz > 100.0:
            caveat = f"The galactic noise figure is stated to about 100 MHz, not at {frequency_mhz:g} MHz."
    elif frequency_mhz > FIT_ENDS_MHZ:
        if entry.key == "city" and frequency_mhz <= BUSINESS_LINE_ENDS_MHZ:
            figure_db, source = 44.3 - 12.3 * log_f, "Recommendation ITU-R P.372-8"
            caveat = (
                f"City noise at {frequency_mhz:g} MHz is read from an older edition, Recommendation ITU-R "
                "P.372-8; take it as a guide."
            )
        else:
            source += ", beyond the 250 MHz it is stated to"
            caveat = (
                f"Recommendation ITU-R P.372 states man-made noise for 0.3 to 250 MHz; at {frequency_mhz:g} "
                "MHz the figure is an extrapolation, so measure the place if the result is close."
            )
    return ExternalNoise(entry, frequency_mhz, figure_db, entry.spread_db, not caveat, caveat, source)


def combined_noise_figure_db(external_db: float, receiver_db: float) -> float:
    """Noise figure of antenna and receiver together, 10 log(fa + fr − 1), dB.

    Source: P.372, system noise factor with lossless antenna and line. Raises ReceiverNoiseError for a
    receiver noise figure below 0 dB.
    """
    _check_receiver(receiver_db)
    return 10 * math.log10(_ratio(external_db) + _ratio(receiver_db) - 1)


def noise_rise_db(external_db: float, receiver_db: float, coupling_loss_db: float = 0.0) -> float:
    """By how much external noise raises the threshold measured on a signal generator, dB (never below 0).

    A generator adds noise at 290 K, fr in all. The antenna brings (fa − 1) above that, weakened by whatever
    stands between the air and the receiver (line, duplexer, body, an inefficient antenna: all at about
    290 K), so the noise grows by [fr + (fa − 1)/l]/fr. Source: P.372, system noise factor with lossy
    circuits, all at T0. A place quieter than 290 K would lower the threshold; that gain is not taken
    (planning practice).
    """
    _check_receiver(receiver_db)
    added = max(_ratio(external_db) - 1, 0.0) / _ratio(coupling_loss_db)
    return 10 * math.log10(1 + added / _ratio(receiver_db))


def rise_in_doubt_db(external_db: float, receiver_db: float, coupling_loss_db: float = 0.0) -> float:
    """How much higher the threshold would be if the external figure were EDITIONS_APART_DB too low, dB."""
    worse_db = noise_rise_db(external_db + EDITIONS_APART_DB, receiver_db, coupling_loss_db)
    return worse_db - noise_rise_db(external_db, receiver_db, coupling_loss_db)


def external_share(external_db: float, receiver_db: float, coupling_loss_db: float = 0.0) -> float:
    """How many dB the threshold moves for each dB that the external noise moves, 0 to 1.

    The derivative of the total noise level by Fa: (fa/l) / [fr + (fa − 1)/l]; 0 where the rise is floored.
    """
    _check_receiver(receiver_db)
    if external_db <= 0:
        return 0.0
    coupling = _ratio(coupling_loss_db)
    total = _ratio(receiver_db) + (_ratio(external_db) - 1) / coupling
    return _ratio(external_db) / coupling / total


def implied_noise_figure_db(
    sensitivity_dbm: float,
    bandwidth_khz: float,
    carrier_to_noise_db: float = CARRIER_TO_NOISE_AT_12_DB_SINAD_DB,
) -> float:
    """The receiver noise figure that a sensitivity implies, dB: S − kT0B − C/N.

    Raises ReceiverNoiseError when the sensitivity is better than thermal noise allows.
    """
    figure_db = sensitivity_dbm - thermal_noise_dbm(bandwidth_khz) - carrier_to_noise_db
    if not figure_db >= 0:
        best_dbm = sensitivity_dbm - figure_db
        best = f"{best_dbm:.1f} dBm"
        raise ReceiverNoiseError(
            "sensitivity_dbm",
            sensitivity_dbm,
            f"{best} or more",
            f"A sensitivity of {sensitivity_dbm:g} dBm in {bandwidth_khz:g} kHz is better than thermal noise "
            f"allows; the best possible is {best}, {units.microvolts_from_dbm(best_dbm):.2g} µV.",
        )
    return figure_db


def _ratio(value_db: float) -> float:
    return float(10 ** (value_db / 10))


def _check_receiver(receiver_db: float) -> None:
    if not receiver_db >= 0:
        raise ReceiverNoiseError(
            "receiver_db",
            receiver_db,
            "0 dB or more",
            f"A receiver noise figure of {receiver_db:g} dB is impossible; it is 0 dB or more.",
        )
