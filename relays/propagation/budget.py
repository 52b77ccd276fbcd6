"""The lines of a link budget in one direction, and the spreads that belong to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from relays.propagation import entry, noise, units
from relays.propagation.terminal import Terminal

Part = Literal["transmit", "path", "receive", "threshold"]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One line of the sum: a signed value in dB, dBm or dBi, rounded to 0.01, and where it comes from."""

    part: Part
    label: str
    value: float
    unit: str
    explanation: str


@dataclass(frozen=True, slots=True)
class Spread:
    """One cause of uncertainty, taken as independent of the others, and its standard deviation, dB."""

    key: str
    label: str
    sigma_db: float
    source: str


def budget_lines(
    transmitter: Terminal,
    receiver: Terminal,
    *,
    frequency_mhz: float,
    path_loss_db: float,
    required_db: float,
    elevation_deg: float,
) -> tuple[BudgetLine, ...]:
    """All lines in the order of the signal's way: parts transmit, path and receive add up to the level at
    the receiver's socket, part threshold to the level needed there."""
    path = _line(
        "path",
        "Path loss",
        -path_loss_db,
        "dB",
        f"median at {frequency_mhz:g} MHz, Recommendation ITU-R P.1812-8",
    )
    return (
        _line(
            "transmit",
            f"Transmitter power, {transmitter.name}",
            units.dbm_from_watts(transmitter.power_w),
            "dBm",
            f"{transmitter.power_w:g} W; {transmitter.source('power_w')}",
        ),
        *_feedline_lines("transmit", transmitter, frequency_mhz),
        *_antenna_lines("transmit", transmitter),
        *_entry_lines(transmitter, frequency_mhz, elevation_deg),
        *_surroundings_lines(transmitter, frequency_mhz),
        path,
        *_surroundings_lines(receiver, frequency_mhz),
        *_entry_lines(receiver, frequency_mhz, elevation_deg),
        *_antenna_lines("receive", receiver),
        *_feedline_lines("receive", receiver, frequency_mhz),
        *_threshold_lines(receiver, frequency_mhz, required_db),
    )


def budget_spreads(
    transmitter: Terminal,
    receiver: Terminal,
    *,
    frequency_mhz: float,
    location_sigma_db: float,
    model_error_db: float,
    elevation_deg: float,
) -> tuple[Spread, ...]:
    """Every cause of uncertainty of the margin in this direction."""
    found = [
        Spread(
            "location",
            "from place to place in the map square",
            location_sigma_db,
            "Recommendation ITU-R P.1812-8",
        ),
        Spread("model", "prediction against measurement", model_error_db, "common practice, no source"),
    ]
    for end in (transmitter, receiver):
        found.append(
            Spread(
                "equipment",
                f"equipment, {end.name}",
                end.equipment_spread_db,
                end.source("equipment_spread_db"),
            )
        )
        if end.indoors is not None:
            sigma_db = entry.building_entry_spread_db(frequency_mhz, end.indoors, elevation_deg)
            found.append(
                Spread(
                    "entry",
                    f"from building to building, {end.name}",
                    sigma_db,
                    "Recommendation ITU-R P.2109-2, normal distribution of the same 10 % to 90 % width",
                )
            )
    found.append(_noise_spread(receiver, frequency_mhz))
    return tuple(found)


def _line(part: Part, label: str, value: float, unit: str, explanation: str) -> BudgetLine:
    # Adding 0.0 turns a rounded -0.0 into 0.0, which prints without a sign.
    return BudgetLine(part, label, round(value, 2) + 0.0, unit, explanation)


def _feedline_lines(part: Part, end: Terminal, frequency_mhz: float) -> list[BudgetLine]:
    lines = []
    if end.feedline is not None:
        loss, run = end.line_loss_at(frequency_mhz), end.feedline
        cable, source = run.cable, end.source("feedline")
        lines = [
            _line(
                part,
                f"Cable, {end.name}",
                -loss.cable_db,
                "dB",
                f"{run.length_m:g} m of {cable.label} ({source}) at {frequency_mhz:g} MHz; {cable.source}",
            ),
            _line(
                part,
                f"Connectors, {end.name}",
                -loss.connectors_db,
                "dB",
                f"{run.connectors} of them ({source}); allowance used by licensing authorities",
            ),
            _line(
                part,
                f"Mismatch, {end.name}",
                -loss.mismatch_db,
                "dB",
                f"standing wave ratio {run.antenna_swr:g} at the antenna; {source}",
            ),
        ]
    if end.duplexer_loss_db:
        lines.append(
            _line(part, f"Duplexer, {end.name}", -end.duplexer_loss_db, "dB", end.source("duplexer_loss_db"))
        )
    return lines


def _antenna_lines(part: Part, end: Terminal) -> list[BudgetLine]:
    lines = [
        _line(part, f"Antenna gain, {end.name}", end.antenna_gain_dbi, "dBi", end.source("antenna_gain_dbi"))
    ]
    if end.body_loss_db:
        lines.append(
            _line(
                part, f"Body of the operator, {end.name}", -end.body_loss_db, "dB", end.source("body_loss_db")
            )
        )
    return lines


def _entry_lines(end: Terminal, frequency_mhz: float, elevation_deg: float) -> list[BudgetLine]:
    """The median only. The buildings that lose more or less are in the spread; a pessimistic percentile
    here as well would count them twice."""
    if end.indoors is None:
        return []
    median_db = entry.building_entry_median_db(frequency_mhz, end.indoors, elevation_deg)
    label = entry.building_type(end.indoors).label
    return [
        _line(
            "path",
            f"Through the walls, {end.name}",
            -median_db,
            "dB",
            f"{label}: median of Recommendation ITU-R P.2109-2",
        )
    ]


def _surroundings_lines(end: Terminal, frequency_mhz: float) -> list[BudgetLine]:
    """The median; P.2108-1 states no spread for this model, the model error stands for it."""
    if end.around is None or not end.around.kind.clutter_height_m:
        return []
    kind, height_m = end.around.kind, end.around.antenna_height_m
    over = "above" if height_m >= kind.clutter_height_m else "below"
    return [
        _line(
            "path",
            f"Surroundings, {end.name}",
            -end.around.loss_db(frequency_mhz),
            "dB",
            f"{kind.label}: antenna {height_m:g} m up, {over} the {kind.clutter_height_m:g} m of "
            "Recommendation ITU-R P.2108-1, section 3.1",
        )
    ]


def _threshold_lines(receiver: Terminal, frequency_mhz: float, required_db: float) -> list[BudgetLine]:
    external = noise.external_noise(receiver.noise_class, frequency_mhz)
    rise_db = noise.noise_rise_db(
        external.figure_db, receiver.noise_figure_db, receiver.noise_coupling_loss_db(frequency_mhz)
    )
    return [
        _line(
            "threshold",
            f"Sensitivity, {receiver.name}",
            receiver.sensitivity_dbm,
            "dBm",
            f"{units.microvolts_from_dbm(receiver.sensitivity_dbm):.2f} µV for {receiver.sensitivity_criterion} "
            f"on a signal generator; {receiver.source('sensitivity_dbm')}",
        ),
        _line(
            "threshold",
            "Raised by noise from outside",
            rise_db,
            "dB",
            external.words,
        ),
        _line(
            "threshold",
            f"Quality asked for above {receiver.sensitivity_criterion}",
            required_db,
            "dB",
            "common practice, no source",
        ),
    ]


def _noise_spread(receiver: Terminal, frequency_mhz: float) -> Spread:
    external = noise.external_noise(receiver.noise_class, frequency_mhz)
    share = noise.external_share(
        external.figure_db, receiver.noise_figure_db, receiver.noise_coupling_loss_db(frequency_mhz)
    )
    return Spread(
        "noise",
        f"noise from hour to hour at {receiver.name}",
        share * external.spread_db,
        f"Recommendation ITU-R P.372 deciles, {external.noise_class.label}, times the {100 * share:.0f} % "
        "of the noise that comes from outside",
    )
