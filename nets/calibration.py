"""Predictions meet check-ins: how well what was heard fits the margin that was predicted that night.

A check-in counts where a member called in from a station whose path to the relay had been worked out. It is
weak evidence and the counts say so: the report is one ear's opinion, the radio may have been another than the
one on record, and nobody answers a roll call from the kitchen.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from django.db.models import QuerySet

from nets import report
from nets.models import CheckIn, Net, RollCall, Session
from relays.models import Relay

# Fewer than this in a band, and the page says that nothing follows from it. Common practice, no source.
ENOUGH = 20


@dataclass(frozen=True)
class Band:
    """What became of predictions whose margin lay in [low_db, high_db)."""

    low_db: float
    high_db: float
    heard: int = 0
    readable: int = 0
    reported: int = 0
    through_another: int = 0
    no_answer: int = 0
    probability_sum: float = 0.0

    @property
    def words(self) -> str:
        if self.low_db == -math.inf:
            return f"below {_signed(self.high_db)}"
        if self.high_db == math.inf:
            return f"{_signed(self.low_db)} or more"
        return f"{_signed(self.low_db)} to {_signed(self.high_db)}"

    @property
    def transmitted(self) -> int:
        """Stations that certainly transmitted: heard by the relay, or only by another station."""
        return self.heard + self.through_another

    @property
    def mean_probability(self) -> float | None:
        """What had been predicted on average for those who transmitted."""
        return self.probability_sum / self.transmitted if self.transmitted else None

    @property
    def share_heard(self) -> float | None:
        """Of those who transmitted, the share the relay heard; None while they are too few to say."""
        return self.heard / self.transmitted if self.transmitted >= ENOUGH else None

    @property
    def sentence(self) -> str:
        """How much this band is worth."""
        count = self.transmitted
        if not count:
            return "Nobody yet."
        if count < ENOUGH:
            return f"Only {count}: too few to say anything."
        return f"{count}: the relay heard {self.heard} of them itself."


@dataclass(frozen=True)
class Calibration:
    """The bands, lowest margin first, and how many check-ins could not be compared at all."""

    bands: tuple[Band, ...]
    not_compared: int

    @property
    def compared(self) -> int:
        return sum(band.transmitted for band in self.bands)

    @property
    def has_anything(self) -> bool:
        return bool(self.compared or any(band.no_answer for band in self.bands))

    @property
    def sentence(self) -> str:
        """How far this may be trusted."""
        if not self.has_anything:
            return "No check-in could be compared with a prediction yet."
        heads = (
            "1 check-in has a prediction beside it"
            if self.compared == 1
            else f"{self.compared} check-ins have a prediction beside them"
        )
        worth = (
            "that is too few to judge the predictions by"
            if self.compared < ENOUGH
            else "read it as a hint, not as a measurement"
        )
        without = "has" if self.not_compared == 1 else "have"
        return f"{heads}, {self.not_compared} {without} none; {worth}."


EDGES_DB = (-math.inf, -10.0, 0.0, 10.0, 20.0, math.inf)


def _signed(value_db: float) -> str:
    return (
        f"{value_db:+g}".replace("-", "\N{MINUS SIGN}") + "\N{NO-BREAK SPACE}dB"
        if value_db
        else "0\N{NO-BREAK SPACE}dB"
    )


def calibration(
    *, session: Session | None = None, net: Net | None = None, relay: Relay | None = None
) -> Calibration:
    """Counts by band of predicted talk-in margin, for one session, one net, one relay, or everything.

    Each station counts once a session. "Heard" came in over the relay itself; "through another" was passed on
    by another station on a night when the relay had a prediction for it; a roll call without answer is counted
    beside them and enters no share, for silence does not say that anybody called.
    """
    check_ins = CheckIn.objects.filter(is_struck=False)
    lines = RollCall.objects.filter(state=RollCall.State.NO_ANSWER).exclude(predicted_margin_db=None)
    if session is not None:
        check_ins, lines = check_ins.filter(session=session), lines.filter(session=session)
    if net is not None:
        check_ins, lines = check_ins.filter(session__net=net), lines.filter(session__net=net)
    if relay is not None:
        check_ins = check_ins.filter(relay=relay)
        lines = lines.filter(session__relay=relay) | lines.filter(
            session__relay=None, session__net__relay=relay
        )
    bands = [Band(low, high) for low, high in pairwise(EDGES_DB)]
    not_compared = _count_check_ins(bands, check_ins)
    _count_silence(bands, lines)
    return Calibration(tuple(bands), not_compared)


def _count_check_ins(bands: list[Band], check_ins: QuerySet[CheckIn]) -> int:
    """Fill the bands; how many stations had no prediction to compare with."""
    seen: set[tuple[int, str]] = set()
    not_compared = 0
    for row in check_ins.order_by("heard_at"):
        if (row.session_id, row.call_sign) in seen:
            continue
        seen.add((row.session_id, row.call_sign))
        if row.predicted_margin_db is None:
            not_compared += 1
            continue
        index = _band_of(bands, row.predicted_margin_db)
        band = bands[index]
        band = replace(band, probability_sum=band.probability_sum + (row.predicted_probability or 0.0))
        if row.via == CheckIn.Via.STATION:
            bands[index] = replace(band, through_another=band.through_another + 1)
            continue
        readability = row.readability
        bands[index] = replace(
            band,
            heard=band.heard + 1,
            reported=band.reported + (readability is not None),
            readable=band.readable + (readability is not None and readability >= 4),
        )
    return not_compared


def _count_silence(bands: list[Band], lines: Iterable[RollCall]) -> None:
    by_session: dict[int, list[RollCall]] = {}
    for line in lines:
        by_session.setdefault(line.session_id, []).append(line)
    for session in Session.objects.filter(pk__in=by_session):
        silent = {line.pk for line in report.unanswered(session)}
        for line in by_session[session.pk]:
            if line.pk in silent and line.predicted_margin_db is not None:
                index = _band_of(bands, line.predicted_margin_db)
                bands[index] = replace(bands[index], no_answer=bands[index].no_answer + 1)


def _band_of(bands: list[Band], margin_db: float) -> int:
    return next(index for index, band in enumerate(bands) if band.low_db <= margin_db < band.high_db)
