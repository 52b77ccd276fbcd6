"""What loss a radio can stand, and the verdict that follows from the loss at a place.

A margin is the largest loss that leaves 0 dB of it, less the loss. Largest loss and spread are the same all
over the map for one radio and one relay, so every verdict is a threshold of the loss. One thing differs from
the path computed for one place alone: location variability is taken for the clutter that the club's settings
give, also where a land-cover raster says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
from django.conf import settings

from clubops.members.models import Station
from relays import terminals
from relays.models import Relay
from relays.propagation import p1812
from relays.propagation.link import OneWayLink, TwoWayLink, margin_for_probability_db, two_way
from relays.propagation.verdicts import GRADES, ORDINARY_PROBABILITY, VERDICT_CLASSES
from relays.reach.radios import Changes, changed, terminal_of

FloatArray = npt.NDArray[np.float32]
ClassArray = npt.NDArray[np.uint8]

#: In a class array: an index into VERDICT_CLASSES (best first), or this where the loss is not known.
UNKNOWN = 255
# Any loss will do: what is asked for is a difference.
_REFERENCE_LOSS_DB = 120.0
_DEVIATES = np.linspace(-6.0, 6.0, 2401)
_PROBABILITIES = np.array([NormalDist().cdf(deviate) for deviate in _DEVIATES])


@dataclass(frozen=True, slots=True)
class OneWay:
    """One direction: the loss at which its margin is 0 dB, and the spread of the margin."""

    largest_loss_db: float
    sigma_db: float

    def needed_margin_db(self, margin_db: float, probability: float) -> float:
        """The margin that reaches both a margin and a probability."""
        if not 0.0 < probability < 1.0:
            return margin_db
        return max(margin_db, margin_for_probability_db(probability, self.sigma_db))


@dataclass(frozen=True, slots=True)
class Reach:
    """Both directions of one radio and one relay."""

    talk_in: OneWay
    talk_out: OneWay

    @property
    def ways(self) -> tuple[OneWay, OneWay]:
        return self.talk_in, self.talk_out

    def thresholds_db(self) -> tuple[float, ...]:
        """The largest loss of every verdict but the last, best first; both directions must reach it."""
        return tuple(
            min(
                way.largest_loss_db
                - way.needed_margin_db(
                    row.margin_above_minimum_db,
                    ORDINARY_PROBABILITY if row.key == "usable" else row.probability,
                )
                for way in self.ways
            )
            for row in VERDICT_CLASSES[:-1]
        )

    def classes(self, loss_db: FloatArray) -> ClassArray:
        """An index into VERDICT_CLASSES for every loss, UNKNOWN for NaN."""
        found = np.full(loss_db.shape, len(VERDICT_CLASSES) - 1, dtype=np.uint8)
        for index, threshold_db in reversed(list(enumerate(self.thresholds_db()))):
            found[loss_db <= threshold_db] = index
        found[np.isnan(loss_db)] = UNKNOWN
        return found

    def probability(self, loss_db: FloatArray) -> FloatArray:
        """Of a usable signal in the worse direction, NaN for NaN."""
        worse = np.full(loss_db.shape, np.inf, dtype=np.float32)
        for way in self.ways:
            np.minimum(worse, (way.largest_loss_db - loss_db) / np.float32(way.sigma_db), out=worse)
        return np.interp(worse, _DEVIATES, _PROBABILITIES).astype(np.float32)


def reach(station: Station, relay: Relay, changes: Changes | None = None) -> Reach:
    """Largest loss and spread both ways. Raises PropagationError for figures that make no sense."""
    link = link_over(station, relay, changes or Changes())
    return Reach(_one_way(link.talk_in), _one_way(link.talk_out))


def _one_way(link: OneWayLink) -> OneWay:
    return OneWay(link.largest_path_loss_db, link.sigma_db)


def link_over(
    station: Station, relay: Relay, changes: Changes, loss_db: float = _REFERENCE_LOSS_DB
) -> TwoWayLink:
    """The budget both ways over a path of the given loss."""
    as_changed = changed(station, changes)
    return two_way(
        terminal_of(as_changed, relay, changes),
        terminals.of_relay(relay),
        frequency_in_mhz=float(relay.input_mhz),
        frequency_out_mhz=float(relay.output_mhz),
        loss_in_db=loss_db,
        loss_out_db=loss_db,
        location_sigma_db=p1812.sigma_location_db(
            float(relay.input_mhz) / 1000.0,
            settings.PATH_LOCATION_SQUARE_M,
            as_changed.antenna_height_m,
            settings.PATH_CLUTTER_M,
        ),
        model_error_db=settings.PATH_MODEL_ERROR_DB,
        required_db=GRADES[changes.grade].above_sensitivity_db,
    )
