"""What a class of licence may send and where, as stretches of spectrum: judged without knowing whose licence it is.

Plain values. Frequencies are carriers in MHz as `Decimal`; power is what the transmitter puts out, in W. An empty
table is not a ban: it says that the club has not written down what the class may do.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Literal

Answer = Literal["allowed", "refused", "unknown"]
Fault = Literal["", "class", "table", "expired", "frequency", "edge", "power", "operation"]


class Operation:
    """How freely somebody may operate on a stretch, freest last; the numbers are kept in the database."""

    SUPERVISED = 1
    ALONE = 2
    CHAIR = 3


OPERATION_WORDS = {
    Operation.CHAIR: "alone, and as net control",
    Operation.ALONE: "alone, but not as net control",
    Operation.SUPERVISED: "only with a supervisor",
}
#: What follows the name of somebody who would need more than the stretch gives, by what is needed.
NEEDED_WORDS = {Operation.CHAIR: "may not be net control", Operation.ALONE: "may not operate alone"}


#: The verbs that verdicts begin with and that are said otherwise after “you”.
YOUR_VERBS = {"has": "have", "holds": "hold"}


@dataclass(frozen=True, slots=True)
class Segment:
    """One stretch, both edges included. most_power_w: None where the class sets no limit of its own."""

    low_mhz: Decimal
    high_mhz: Decimal
    most_power_w: float | None = None
    operation: int = Operation.CHAIR

    def __str__(self) -> str:
        return f"{megahertz(self.low_mhz)} to {megahertz(self.high_mhz)} MHz"

    @property
    def power_words(self) -> str:
        return "any power" if self.most_power_w is None else f"up to {watts(self.most_power_w)}"

    @property
    def operation_words(self) -> str:
        return OPERATION_WORDS[self.operation]

    @property
    def sentence(self) -> str:
        """All of it, such as “144.000 to 146.000 MHz, up to 25 W, alone, and as net control”."""
        return f"{self}, {self.power_words}, {self.operation_words}"


@dataclass(frozen=True, slots=True)
class Signal:
    """What would be sent: carrier and half of the occupied bandwidth in MHz, power in W (None: not asked about)."""

    frequency_mhz: Decimal
    half_bandwidth_mhz: Decimal
    power_w: float | None = None

    @property
    def low_mhz(self) -> Decimal:
        return self.frequency_mhz - self.half_bandwidth_mhz

    @property
    def high_mhz(self) -> Decimal:
        return self.frequency_mhz + self.half_bandwidth_mhz

    def __str__(self) -> str:
        return f"{megahertz(self.frequency_mhz)} MHz"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Allowed, refused or unknown. words: what follows the name, such as “may not send on 146.130 MHz …”.

    most_power_w: the limit that holds for this signal, None where there is none or nothing is allowed.
    """

    answer: Answer
    words: str
    fault: Fault = ""
    most_power_w: float | None = None

    @property
    def in_short(self) -> str:
        """For a narrow column; nothing where the answer is no refusal."""
        if not self.is_refused:
            return ""
        if self.fault == "power" and self.most_power_w is not None:
            return f"At most {watts(self.most_power_w)} with your licence"
        return "Your licence has run out" if self.fault == "expired" else "Your licence does not cover it"

    @property
    def yours(self) -> str:
        """The words as said to the holder, after “you”."""
        verb, _, rest = self.words.partition(" ")
        return f"{YOUR_VERBS.get(verb, verb)} {rest}"

    @property
    def is_refused(self) -> bool:
        return self.answer == "refused"

    @property
    def is_allowed(self) -> bool:
        return self.answer == "allowed"


def judge(class_name: str, segments: Iterable[Segment], signal: Signal, needs: int) -> Verdict:
    """Whether the class may send this signal while operating as `needs` says.

    A signal may lie across the edge between two stretches that touch: then the stricter of the two holds.
    """
    rows = sorted(segments, key=lambda each: each.low_mhz)
    if not rows:
        return Verdict(
            "unknown", f"holds {class_name}, for which the club has no table of privileges", "table"
        )
    touched = [each for each in rows if each.low_mhz < signal.high_mhz and signal.low_mhz < each.high_mhz]
    if not _hold(touched, signal):
        return _outside(class_name, rows, signal)
    freedom = min(each.operation for each in touched)
    if freedom < needs:
        words = (
            f"{NEEDED_WORDS[needs]} on {signal} with {class_name}, which allows it {OPERATION_WORDS[freedom]}"
        )
        return Verdict("refused", words, "operation")
    limits = [each.most_power_w for each in touched if each.most_power_w is not None]
    most_w = min(limits) if limits else None
    if most_w is not None and signal.power_w is not None and signal.power_w > most_w:
        words = (
            f"may send with at most {watts(most_w)} on {signal} with {class_name}, and the station has "
            f"{watts(signal.power_w)}"
        )
        return Verdict("refused", words, "power", most_w)
    return Verdict("allowed", f"may send on {signal} with {class_name}{_with_at_most(most_w)}", "", most_w)


def _hold(touched: Sequence[Segment], signal: Signal) -> bool:
    """Whether the stretches, in order, hold the whole signal without a gap."""
    if not touched or touched[0].low_mhz > signal.low_mhz or touched[-1].high_mhz < signal.high_mhz:
        return False
    return all(one.high_mhz >= other.low_mhz for one, other in pairwise(touched))


def _outside(class_name: str, rows: Sequence[Segment], signal: Signal) -> Verdict:
    if any(each.low_mhz <= signal.frequency_mhz <= each.high_mhz for each in rows):
        wide_khz = 2000 * signal.half_bandwidth_mhz
        words = (
            f"may not send on {signal} with {class_name}: a signal {wide_khz:.0f} kHz wide there reaches past "
            f"the edge of {in_words(rows)}"
        )
        return Verdict("refused", words, "edge")
    words = f"may not send on {signal} with {class_name}, which allows {in_words(rows)}"
    return Verdict("refused", words, "frequency")


def in_words(segments: Iterable[Segment]) -> str:
    """Such as “144.000 to 146.000 MHz and 430.000 to 440.000 MHz”; stretches that touch are told as one."""
    told: list[tuple[Decimal, Decimal]] = []
    for each in sorted(segments, key=lambda each: each.low_mhz):
        if told and told[-1][1] == each.low_mhz:
            told[-1] = told[-1][0], each.high_mhz
        else:
            told.append((each.low_mhz, each.high_mhz))
    parts = [f"{megahertz(low)} to {megahertz(high)} MHz" for low, high in told]
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def trouble(segment: Segment) -> str:
    """What is wrong with one stretch by itself, in a sentence; empty when it is in order."""
    if segment.low_mhz <= 0:
        return f"{segment.low_mhz} MHz is no frequency; give the lower edge in MHz, such as 144."
    if segment.low_mhz >= segment.high_mhz:
        return (
            f"The stretch runs from {megahertz(segment.low_mhz)} to {megahertz(segment.high_mhz)} MHz; the lower "
            "edge comes first and the higher one is above it."
        )
    if segment.most_power_w is not None and segment.most_power_w <= 0:
        return (
            f"{segment.most_power_w:g} W is no power; give watts above 0, or nothing where there is no limit."
        )
    return ""


def overlaps(segments: Iterable[Segment]) -> list[str]:
    """A sentence for every two neighbours that lie over each other. Edges may touch."""
    rows = sorted(segments, key=lambda each: (each.low_mhz, each.high_mhz))
    return [
        f"{one} and {other} lie over each other, so it would not be clear which holds; let one end where the "
        "other begins."
        for one, other in pairwise(rows)
        if other.low_mhz < one.high_mhz
    ]


def megahertz(frequency_mhz: Decimal) -> str:
    """Three decimals, or four where it has them."""
    return f"{frequency_mhz:.4f}".removesuffix("0")


def watts(power_w: float) -> str:
    return f"{power_w:g} W"


def _with_at_most(most_w: float | None) -> str:
    return f", with at most {watts(most_w)}" if most_w is not None else ""
