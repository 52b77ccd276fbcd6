"""The link budget: what arrives, what is needed, and how sure that is, in both directions.

Talk-in is station to relay on the relay's input frequency, talk-out relay to station on its output
frequency. Every line of a budget is rounded to 0.01 dB before it is added, so that the printed lines add
up by hand to the printed level and margin; the rounding is far below anything that is known of a path.

The probability of a usable signal is Φ(margin / σ). σ² is the sum of the variances in `spreads`:
location variability inside the map square (P.1812-8), model error (common practice), equipment of each
end, building entry where a terminal is indoors (P.2109-2) and external noise (P.372). They are taken as
independent and normal in dB. That is the usual planning assumption and P.1812-8 adds location and building
entry variances in the same way; a quiet street with thick walls, or a battery that is low wherever the
signal is weak, would break it. The two directions share most of these, so the probability that both work
is near the smaller of the two, not their product.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any, Literal

from relays.propagation import noise, units, verdicts
from relays.propagation.budget import BudgetLine, Part, Spread, budget_lines, budget_spreads
from relays.propagation.errors import PropagationError
from relays.propagation.terminal import Terminal, finite, not_negative

#: Standard deviation of measured against predicted loss. Common practice, no source; a setting.
MODEL_ERROR_DB = 6.0
#: A difference of the two margins worth a warning. Common practice, no source.
IMBALANCE_WARNING_DB = 6.0
#: A doubt about the noise is told when it could raise the threshold by more than this. Our own choice.
NOISE_DOUBT_DB = 1.0
#: Quality asked for above 12 dB SINAD when nothing else is said.
REQUIRED_DB = verdicts.GRADES[verdicts.DEFAULT_GRADE].above_sensitivity_db

_NORMAL = NormalDist()


class LinkRangeError(PropagationError):
    """A path loss or spread that makes no sense."""


@dataclass(frozen=True, slots=True)
class OneWayLink:
    """One direction: the lines that add up to the level and the threshold, and the spreads."""

    frequency_mhz: float
    path_loss_db: float
    lines: tuple[BudgetLine, ...]
    spreads: tuple[Spread, ...]
    caveats: tuple[str, ...]

    def _total(self, *parts: Part) -> float:
        return round(sum(line.value for line in self.lines if line.part in parts), 2)

    @property
    def eirp_dbm(self) -> float:
        """Power radiated towards the other end, over an isotropic antenna; e.r.p. is 2.15 dB less."""
        return self._total("transmit")

    @property
    def received_dbm(self) -> float:
        """Median level at the receiver's socket."""
        return self._total("transmit", "path", "receive")

    @property
    def threshold_dbm(self) -> float:
        """Level needed there: sensitivity, raised by external noise and by the quality asked for."""
        return self._total("threshold")

    @property
    def margin_db(self) -> float:
        """Received less needed: positive is good."""
        return round(self.received_dbm - self.threshold_dbm, 2)

    @property
    def sigma_db(self) -> float:
        """Standard deviation of the margin: root of the summed variances."""
        return math.sqrt(sum(spread.sigma_db**2 for spread in self.spreads))

    @property
    def probability(self) -> float:
        """Probability that the signal is usable, Φ(margin / σ)."""
        return usable_probability(self.margin_db, self.sigma_db)

    @property
    def largest_path_loss_db(self) -> float:
        """The path loss at which the margin would be 0 dB; a map's margin is this less its loss."""
        return self.path_loss_db + self.margin_db


@dataclass(frozen=True, slots=True)
class LinkInputs:
    """Everything a two-way budget is computed from."""

    station: Terminal
    relay: Terminal
    frequency_in_mhz: float
    frequency_out_mhz: float
    loss_in_db: float
    loss_out_db: float
    location_sigma_db: float
    model_error_db: float = MODEL_ERROR_DB
    required_db: float = REQUIRED_DB
    elevation_deg: float = 0.0
    path_caveats: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TwoWayLink:
    """Both directions between a station and a relay."""

    inputs: LinkInputs
    talk_in: OneWayLink
    talk_out: OneWayLink

    @property
    def imbalance_db(self) -> float:
        """Talk-in margin less talk-out margin: positive when the relay hears better than it is heard."""
        return round(self.talk_in.margin_db - self.talk_out.margin_db, 2)

    @property
    def limiting(self) -> Literal["talk_in", "talk_out"]:
        """The direction with the smaller margin (talk-in when they are equal)."""
        return "talk_in" if self.imbalance_db <= 0 else "talk_out"

    @property
    def margin_db(self) -> float:
        """The smaller of the two margins."""
        return min(self.talk_in.margin_db, self.talk_out.margin_db)

    @property
    def probability(self) -> float:
        """The smaller of the two probabilities; see the module's text on why they are not multiplied."""
        return min(self.talk_in.probability, self.talk_out.probability)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences a user should see: imbalance, doubts about the path, figures outside their range."""
        found = list(self.inputs.path_caveats)
        station, relay = self.inputs.station.name, self.inputs.relay.name
        by_db = abs(self.imbalance_db)
        if by_db > IMBALANCE_WARNING_DB:
            better, worse = (relay, station) if self.imbalance_db > 0 else (station, relay)
            found.append(
                f"The two directions differ by {by_db:.1f} dB: {better} hears {worse} better "
                "than the other way round, so do not judge one direction by the other."
            )
        for caveat in self.talk_in.caveats + self.talk_out.caveats:
            if caveat not in found:
                found.append(caveat)
        return tuple(found)

    def verdict(
        self,
        *,
        minimum_margin_db: float = verdicts.ORDINARY_MARGIN_DB,
        minimum_probability: float = verdicts.ORDINARY_PROBABILITY,
    ) -> verdicts.Verdict:
        """The verdict on the worse direction: usable only when both directions reach both minima."""
        return verdicts.verdict(
            self.margin_db,
            self.probability,
            minimum_margin_db=minimum_margin_db,
            minimum_probability=minimum_probability,
        )


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One change and what it buys in each direction, dB."""

    label: str
    before: TwoWayLink
    after: TwoWayLink

    @property
    def talk_in_gain_db(self) -> float:
        return round(self.after.talk_in.margin_db - self.before.talk_in.margin_db, 2)

    @property
    def talk_out_gain_db(self) -> float:
        return round(self.after.talk_out.margin_db - self.before.talk_out.margin_db, 2)


def two_way(
    station: Terminal,
    relay: Terminal,
    *,
    frequency_in_mhz: float,
    frequency_out_mhz: float,
    loss_in_db: float,
    loss_out_db: float,
    location_sigma_db: float,
    model_error_db: float = MODEL_ERROR_DB,
    required_db: float = REQUIRED_DB,
    elevation_deg: float = 0.0,
    path_caveats: tuple[str, ...] = (),
) -> TwoWayLink:
    """Both directions between a station and a relay (or a second station: give one frequency twice).

    Losses are median basic transmission losses (P.1812-8 at 50 % of places) at the two frequencies, dB;
    `location_sigma_db` the P.1812-8 standard deviation for the square of map the answer stands for;
    `required_db` the quality asked for above 12 dB SINAD (verdicts.GRADES); `elevation_deg` the path's
    elevation at a building's wall; `path_caveats` sentences about the losses (doubts.doubts), kept among the
    warnings. Raises a PropagationError that names the figure.
    """
    return evaluate(
        LinkInputs(
            station,
            relay,
            frequency_in_mhz,
            frequency_out_mhz,
            loss_in_db,
            loss_out_db,
            location_sigma_db,
            model_error_db,
            required_db,
            elevation_deg,
            path_caveats,
        )
    )


def evaluate(inputs: LinkInputs) -> TwoWayLink:
    """Both directions from stored inputs; the same errors as two_way."""
    common = {
        "location_sigma_db": inputs.location_sigma_db,
        "model_error_db": inputs.model_error_db,
        "required_db": inputs.required_db,
        "elevation_deg": inputs.elevation_deg,
    }
    talk_in = direction(
        inputs.station,
        inputs.relay,
        frequency_mhz=inputs.frequency_in_mhz,
        path_loss_db=inputs.loss_in_db,
        **common,
    )
    talk_out = direction(
        inputs.relay,
        inputs.station,
        frequency_mhz=inputs.frequency_out_mhz,
        path_loss_db=inputs.loss_out_db,
        **common,
    )
    return TwoWayLink(inputs, talk_in, talk_out)


def what_if(link: TwoWayLink, label: str, **changes: Any) -> WhatIf:
    """The same link with some of its LinkInputs changed, such as station=replace(station, power_w=10)."""
    return WhatIf(label, link, evaluate(replace(link.inputs, **changes)))


def power_change_db(from_w: float, to_w: float) -> float:
    """What a change of transmitter power buys, dB. Raises NotPositiveError and NotFiniteError."""
    return units.dbm_from_watts(to_w) - units.dbm_from_watts(from_w)


def direction(
    transmitter: Terminal,
    receiver: Terminal,
    *,
    frequency_mhz: float,
    path_loss_db: float,
    location_sigma_db: float,
    model_error_db: float = MODEL_ERROR_DB,
    required_db: float = REQUIRED_DB,
    elevation_deg: float = 0.0,
) -> OneWayLink:
    """One direction of a link; arguments and errors as for two_way."""
    finite("required_db", required_db)
    for quantity, value in (
        ("path_loss_db", path_loss_db),
        ("location_sigma_db", location_sigma_db),
        ("model_error_db", model_error_db),
    ):
        not_negative(LinkRangeError, quantity, value)
    lines = budget_lines(
        transmitter,
        receiver,
        frequency_mhz=frequency_mhz,
        path_loss_db=path_loss_db,
        required_db=required_db,
        elevation_deg=elevation_deg,
    )
    spreads = budget_spreads(
        transmitter,
        receiver,
        frequency_mhz=frequency_mhz,
        location_sigma_db=location_sigma_db,
        model_error_db=model_error_db,
        elevation_deg=elevation_deg,
    )
    return OneWayLink(frequency_mhz, path_loss_db, lines, spreads, _noise_caveats(receiver, frequency_mhz))


def _noise_caveats(receiver: Terminal, frequency_mhz: float) -> tuple[str, ...]:
    """A doubt about the noise figure, where the noise bears on the threshold at all; the line names it anyway."""
    external = noise.external_noise(receiver.noise_class, frequency_mhz)
    in_doubt_db = noise.rise_in_doubt_db(
        external.figure_db, receiver.noise_figure_db, receiver.noise_coupling_loss_db(frequency_mhz)
    )
    return (external.caveat,) if external.caveat and in_doubt_db > NOISE_DOUBT_DB else ()


def usable_probability(margin_db: float, sigma_db: float) -> float:
    """Φ(margin / σ); with no spread at all, 1 at a margin of 0 dB or more and 0 below."""
    not_negative(LinkRangeError, "sigma_db", sigma_db)
    if sigma_db == 0:
        return 1.0 if margin_db >= 0 else 0.0
    return _NORMAL.cdf(margin_db / sigma_db)


def margin_for_probability_db(probability: float, sigma_db: float) -> float:
    """The margin that gives a probability, dB: the same question the other way round, for colouring a map.

    Raises LinkRangeError unless 0 < probability < 1.
    """
    not_negative(LinkRangeError, "sigma_db", sigma_db)
    if not 0 < probability < 1:
        raise LinkRangeError(
            "probability",
            probability,
            "more than 0 and less than 1",
            f"No margin gives a probability of {probability:g}; use more than 0 and less than 1.",
        )
    return sigma_db * _NORMAL.inv_cdf(probability)
