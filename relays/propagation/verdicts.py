"""How good is good enough: grades of a voice signal, and the words for a margin with its probability.

The decibels here are common practice or from memory, marked one by one; a net may ask for more than
the defaults.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from relays.propagation.errors import PropagationError


class UnknownGradeError(PropagationError):
    """No such grade of signal."""


class VerdictRangeError(PropagationError):
    """A margin that is no number, or a probability outside 0 to 1."""


@dataclass(frozen=True, slots=True)
class Grade:
    """A quality of reception and how far above the 12 dB SINAD signal it lies."""

    key: str
    label: str
    meaning: str
    above_sensitivity_db: float
    source: str


#: Carrier to noise, dB: static reference sensitivity, then delivered audio quality 3, 3.4 and 4 while
#: moving. From memory of TSB-88, not checked against the document: data to start from, not an authority.
FADED_CARRIER_TO_NOISE_DB: Mapping[str, tuple[float, float, float, float]] = MappingProxyType(
    {
        "FM, 5 kHz deviation": (4.0, 17.0, 20.0, 26.0),
        "FM, 2.5 kHz deviation": (7.0, 23.0, 26.0, 33.0),
        "C4FM": (5.4, 16.5, 17.7, 21.2),
        "DMR": (5.3, 14.3, 15.6, 19.4),
    }
)

_MOVING_DB = (
    FADED_CARRIER_TO_NOISE_DB["FM, 5 kHz deviation"][2] - FADED_CARRIER_TO_NOISE_DB["FM, 5 kHz deviation"][0]
)

GRADES: Mapping[str, Grade] = MappingProxyType(
    {
        "readable": Grade(
            "readable",
            "just readable",
            "12 dB SINAD: words come through a steady hiss; a call sign may need repeating",
            0.0,
            "definition of the sensitivity that receivers are measured at",
        ),
        "comfortable": Grade(
            "comfortable",
            "comfortable",
            "about 20 dB of quieting: a hiss remains, nobody asks for repeats",
            3.0,
            "common practice; 20 dB quieting lies 2 to 4 dB above 12 dB SINAD (from memory)",
        ),
        "clear": Grade(
            "clear",
            "clear",
            "the hiss is gone unless you listen for it",
            10.0,
            "common practice, no source",
        ),
        "moving": Grade(
            "moving",
            "clear on the move",
            "holds through the flutter of a moving car",
            _MOVING_DB,
            "from memory of TSB-88 (audio quality 3.4, FM, 5 kHz deviation), not checked against it",
        ),
    }
)
DEFAULT_GRADE = "comfortable"


@dataclass(frozen=True, slots=True)
class VerdictClass:
    """One row of the wording: the margin over the asked-for minimum and the probability it takes."""

    key: str
    label: str
    meaning: str
    margin_above_minimum_db: float
    probability: float
    usable: bool


#: What "usable" asks for where no net asks for more: a signal at least as good as needed, more often than not.
ORDINARY_MARGIN_DB = 0.0
ORDINARY_PROBABILITY = 0.5

#: Best first; the first row whose margin and probability are both reached is the verdict. “Usable” takes
#: the minimum margin and probability that the caller asks for. Thresholds: common practice, no source.
#: The meanings speak of how sure the computation is, never of how often: that a path fails because the
#: ground, the walls or the radio are worse than reckoned is not mended by waiting for another evening.
VERDICT_CLASSES: tuple[VerdictClass, ...] = (
    VerdictClass("solid", "solid", "expect it to work", 10.0, 0.9, True),
    VerdictClass(
        "usable", "usable", "more likely to work than not, but a bad spot can spoil it", 0.0, 0.0, True
    ),
    VerdictClass(
        "marginal", "marginal", "may work after moving a few steps or raising the antenna", -6.0, 0.15, False
    ),
    VerdictClass("not_usable", "not usable", "do not count on being heard", -math.inf, 0.0, False),
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """The class reached, with the figures and the minima that led to it."""

    verdict_class: VerdictClass
    margin_db: float
    probability: float
    minimum_margin_db: float
    minimum_probability: float

    @property
    def usable(self) -> bool:
        """Whether both minima are met."""
        return self.verdict_class.usable

    @property
    def label(self) -> str:
        return self.verdict_class.label

    @property
    def sentence(self) -> str:
        """The verdict in a sentence with its figures, and what is missing when it is not usable."""
        words = f"{self.label.capitalize()}: {self.verdict_class.meaning}; margin {self.margin_db:+.1f} dB, "
        words += f"{spoken_probability(self.probability)} for a usable signal"
        if self.usable:
            return words + "."
        return (
            words
            + f" (asked for: {self.minimum_margin_db:+.1f} dB and {100 * self.minimum_probability:.0f} %)."
        )


def verdict(
    margin_db: float,
    probability: float,
    *,
    minimum_margin_db: float = ORDINARY_MARGIN_DB,
    minimum_probability: float = ORDINARY_PROBABILITY,
) -> Verdict:
    """The verdict on the worse direction of a path.

    Usable when margin ≥ minimum_margin_db and probability ≥ minimum_probability; see VERDICT_CLASSES for
    the rest. Raises VerdictRangeError for a margin that is not a number or a probability outside 0 to 1.
    """
    for quantity, value in (("probability", probability), ("minimum_probability", minimum_probability)):
        if not 0 <= value <= 1:
            raise VerdictRangeError(
                quantity,
                value,
                "0 to 1",
                f"A {quantity.replace('_', ' ')} of {value:g} is impossible; use 0 to 1.",
            )
    for quantity, value in (("margin_db", margin_db), ("minimum_margin_db", minimum_margin_db)):
        if not math.isfinite(value):
            raise VerdictRangeError(
                quantity,
                value,
                "a finite number of dB",
                f"A margin must be a finite number of dB; {value} was given.",
            )
    excess_db = margin_db - minimum_margin_db
    good_enough = excess_db >= 0 and probability >= minimum_probability
    for row in VERDICT_CLASSES:
        reached = excess_db >= row.margin_above_minimum_db and probability >= row.probability
        if reached and (good_enough or not row.usable):
            return Verdict(row, margin_db, probability, minimum_margin_db, minimum_probability)
    raise AssertionError("the last class takes everything")


def grade(key: str) -> Grade:
    """The grade of that key. Raises UnknownGradeError."""
    try:
        return GRADES[key]
    except KeyError:
        known = ", ".join(GRADES)
        raise UnknownGradeError(
            "grade", key, known, f"“{key}” is not a grade of signal; use one of {known}."
        ) from None


def spoken_probability(probability: float) -> str:
    """A probability in words that claim no more than is known: never 0 % or 100 %."""
    if probability < 0.01:
        return "less than 1 % chance"
    if probability > 0.99:
        return "over 99 % chance"
    return f"{100 * probability:.0f} % chance"
