"""What is raised when a calculation is asked for something it cannot answer.

Every error says in a sentence what was given and what would be right, and carries the
facts as attributes so that a form can put the sentence beside the right field.
"""

from __future__ import annotations

from typing import Any


class PropagationError(ValueError):
    """A quantity is outside what the calculation is defined for.

    quantity: the argument's name, e.g. ``"frequency_ghz"``.
    value: what was given.
    allowed: what would be right, in words with its unit.
    sentence: the whole message for a person; also ``str(error)``.
    """

    def __init__(self, quantity: str, value: object, allowed: str, sentence: str) -> None:
        # Only the sentence goes into args: repr() and task logs then show no more than it says,
        # which matters for positions.
        super().__init__(sentence)
        self.quantity = quantity
        self.value = value
        self.allowed = allowed
        self.sentence = sentence

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.quantity, self.value, self.allowed, self.sentence)


class NotANumberError(PropagationError):
    """Text, nothing, a complex number or a ragged list where a number was needed."""


class NotFiniteError(PropagationError):
    """A NaN or an infinity."""


class NotPositiveError(PropagationError):
    """Zero or less where only a positive number has a meaning (a power, a distance, ...)."""


class FrequencyRangeError(PropagationError):
    """A frequency outside the range of the Recommendation."""


class TimePercentRangeError(PropagationError):
    """A time percentage outside the range of the Recommendation."""


class LocationPercentRangeError(PropagationError):
    """A location percentage outside the range of the Recommendation."""


class LocationSigmaRangeError(PropagationError):
    """A negative standard deviation."""


class AntennaHeightRangeError(PropagationError):
    """An antenna height above ground outside the range of the Recommendation."""


class PathLengthRangeError(PropagationError):
    """A path shorter or longer than the Recommendation covers."""


class GroundHeightRangeError(PropagationError):
    """A ground height found nowhere on Earth, such as the void mark of an elevation file."""


class ClutterHeightRangeError(PropagationError):
    """A clutter height that is negative or taller than anything that stands on the ground."""


class ProfileTooShortError(PropagationError):
    """A profile with too few points."""


class ProfileShapeError(PropagationError):
    """Profile arrays of different lengths, or not one-dimensional."""


class ProfileOrderError(PropagationError):
    """Profile distances that do not start at 0 km or do not ascend."""


class ZoneCodeError(PropagationError):
    """A radio-climatic zone code other than 1 (sea), 3 (coastal land) or 4 (inland)."""


class RefractivityRangeError(PropagationError):
    """A refractivity lapse rate or surface refractivity with no meaning here."""


class SampleSpacingRangeError(PropagationError):
    """A distance between the samples of a radial that cannot be meant."""


class CoastDistanceRangeError(PropagationError):
    """A negative distance to the coast."""


class CoordinateRangeError(PropagationError):
    """A latitude or longitude off the globe.

    The sentence leaves the number out, because a swapped pair would print half of a home
    position; ``value`` has it.
    """


class PolarizationError(PropagationError):
    """A polarization other than "horizontal" or "vertical"."""
