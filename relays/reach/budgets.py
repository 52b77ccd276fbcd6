"""What a browser needs to know of budgets so that it can recolour a map by itself.

For each relay and radio: the largest loss and the spread both ways at “just readable”, outdoors and in the open, and
the few figures by which they change when power, antenna, feedline, place, surroundings or quality do. Everything but
the noise that a receiver picks up is a plain difference of decibels; for the noise the formula of
`noise.noise_rise_db` is needed, and its figures are sent.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings

from clubops.members.models import Station
from relays import terminals
from relays.models import Relay
from relays.propagation import entry, noise, p1812
from relays.propagation.link import OneWayLink, margin_for_probability_db
from relays.propagation.p1812 import inputs
from relays.propagation.surroundings import STREET_WIDTH_M, SURROUNDINGS
from relays.propagation.verdicts import GRADES, ORDINARY_PROBABILITY, VERDICT_CLASSES
from relays.reach.radios import Changes, changed, terminal_of
from relays.reach.thresholds import link_over

_BARE = Changes(place=Station.Building.OUTDOORS, surroundings=Station.Surroundings.OPEN, grade="readable")
_DECIMALS = 4
# Over the clutter's height the location variability fades out along so many metres (P.1812-8, section 4).
_FADE_M = 10.0


def budget(station: Station, relay: Relay) -> dict[str, Any]:
    """One radio and one relay, outdoors, in the open and just readable. Raises PropagationError.

    steady_sigma_db: of everything that a map's sliders leave alone.
    """
    outdoors = changed(station, _BARE)
    link = link_over(station, relay, _BARE)
    end = terminal_of(outdoors, relay, _BARE)
    frequency_mhz = float(relay.output_mhz)
    external = noise.external_noise(end.noise_class, frequency_mhz)
    return {
        "in": _one_way(link.talk_in, ("location",)),
        "out": _one_way(link.talk_out, ("location", "noise"))
        | {
            "external_db": external.figure_db,
            "receiver_db": end.noise_figure_db,
            "noise_spread_db": external.spread_db,
        },
        "gain_dbi": end.antenna_gain_dbi,
        "line_db": end.line_loss_at(frequency_mhz).total_db,
        "body_db": end.body_loss_db + end.duplexer_loss_db,
    }


def _one_way(link: OneWayLink, moving: tuple[str, ...]) -> dict[str, float]:
    steady = sum(each.sigma_db**2 for each in link.spreads if each.key not in moving)
    return {
        "largest_db": round(link.largest_path_loss_db, _DECIMALS),
        "steady_sigma_db": round(steady**0.5, _DECIMALS),
    }


def location(relay: Relay) -> dict[str, float]:
    """Location variability with the antenna down in the clutter, and how it fades above."""
    full_db = p1812.sigma_location_db(
        float(relay.input_mhz) / 1000.0,
        settings.PATH_LOCATION_SQUARE_M,
        inputs.ANTENNA_HEIGHT_M[0],
        max(settings.PATH_CLUTTER_M, inputs.ANTENNA_HEIGHT_M[0]),
    )
    return {"full_db": full_db, "clutter_m": settings.PATH_CLUTTER_M, "fade_m": _FADE_M}


def places(relays: list[Relay]) -> list[dict[str, Any]]:
    """Outdoors and each kind of building: what the walls take and how much that varies, by relay."""
    found: list[dict[str, Any]] = []
    for key, label in Station.Building.choices:
        indoors = None if key == Station.Building.OUTDOORS else key
        walls = {relay.slug: _walls(relay, indoors) for relay in relays} if indoors else {}
        found.append({"key": key, "label": str(label), "walls": walls})
    return found


def surroundings() -> list[dict[str, Any]]:
    """What may stand round an antenna, and how high; of no height where the club's clutter is in the loss."""
    known = terminals.clutter_is_known()
    return [
        {
            "key": key,
            "label": str(label),
            "clutter_m": 0.0 if known else SURROUNDINGS[key].clutter_height_m,
            "street_m": STREET_WIDTH_M,
        }
        for key, label in Station.Surroundings.choices
    ]


def _walls(relay: Relay, building: str) -> dict[str, dict[str, float]]:
    return {
        way: {
            "loss_db": round(entry.building_entry_median_db(frequency_mhz, building), 2),
            "sigma_db": round(entry.building_entry_spread_db(frequency_mhz, building), _DECIMALS),
        }
        for way, frequency_mhz in (("in", float(relay.input_mhz)), ("out", float(relay.output_mhz)))
    }


def grades() -> list[dict[str, Any]]:
    """The qualities one can ask for."""
    return [
        {"key": each.key, "label": each.label, "meaning": each.meaning, "above_db": each.above_sensitivity_db}
        for each in GRADES.values()
    ]


def verdicts() -> list[dict[str, Any]]:
    """The verdicts, best first, with the margin and the number of standard deviations each takes."""
    found = []
    for row in VERDICT_CLASSES:
        probability = ORDINARY_PROBABILITY if row.key == "usable" else row.probability
        is_last = row is VERDICT_CLASSES[-1]
        found.append(
            {
                "key": row.key,
                "label": row.label,
                "meaning": row.meaning,
                "margin_db": None if is_last else row.margin_above_minimum_db,
                "probability": probability,
                "deviates": None if is_last else margin_for_probability_db(probability, 1.0),
            }
        )
    return found
