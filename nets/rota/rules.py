"""The rules of the rota, one turn at a time: what stands in the way of a person taking a seat.

The solver's model says the same rules as rows of a matrix; these plain loops check its answers, explain its
gaps and judge swaps.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from nets.rota.problem import BACKUP, NET_CONTROL, Person, Seat, Turn

Rule = Literal["seat taken", "both chairs", "two places at once", "gap", "most turns", "newcomer"]

QUARTERS = {
    1: "January to March",
    2: "April to June",
    3: "July to September",
    4: "October to December",
}


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a turn would break. words: what follows the name, such as “has a turn on 3 March …”."""

    rule: Rule
    words: str


def clash(one: Seat, other: Seat, minimum_gap_days: int) -> bool:
    """Whether one person cannot sit on both: one session, times that overlap, or dates too close."""
    return (
        one.session == other.session
        or one.span.overlaps(other.span)
        or abs((one.date - other.date).days) < minimum_gap_days
    )


def in_words(date: dt.date, beside: dt.date) -> str:
    """Such as 3 March; with its year where that is not the year of `beside`."""
    return f"{date.day} {date:%B}" + ("" if date.year == beside.year else f" {date.year}")


def breaches(turn: Turn, others: Iterable[Turn], people: Mapping[str, Person]) -> list[Breach]:
    """Every rule that `turn` breaks beside the `others`, the plainest first; empty when it is in order."""
    person, seat = people[turn.person], turn.seat
    turns = [other for other in others if other != turn]
    own = [other.seat for other in turns if other.person == turn.person]
    here = [other for other in turns if other.seat.session == seat.session]
    found = [
        Breach("seat taken", f"would sit in the chair of {other.person}")
        for other in here
        if other.seat.role == seat.role
    ]
    if any(other.session == seat.session for other in own):
        found.append(Breach("both chairs", "takes the other chair of that session"))
    found += _clashes(person, seat, own)
    found += _too_many(person, seat, own)
    found += _unpaired(person, seat, here, people)
    return found


def _clashes(person: Person, seat: Seat, own: list[Seat]) -> list[Breach]:
    elsewhere = [other for other in sorted(own, key=lambda seat: seat.order) if other.session != seat.session]
    for other in elsewhere:
        if seat.span.overlaps(other.span):
            chair = "net control" if other.role == NET_CONTROL else "backup"
            return [Breach("two places at once", f"is {chair} of {other.net or 'another net'} at that time")]
    for other in elsewhere:
        if clash(seat, other, person.minimum_gap_days):
            words = (
                f"has a turn on {in_words(other.date, seat.date)} and asks for "
                f"{person.minimum_gap_days} days between turns"
            )
            return [Breach("gap", words)]
    return []


def _too_many(person: Person, seat: Seat, own: list[Seat]) -> list[Breach]:
    if person.most_turns is None:
        return []
    taken = sum(other.quarter == seat.quarter for other in own)
    if taken < person.most_turns:
        return []
    turns = "no turn" if not taken else "1 turn" if taken == 1 else f"{taken} turns"
    when = QUARTERS[seat.quarter[1]]
    return [Breach("most turns", f"has {turns} from {when} and asked for no more than {person.most_turns}")]


def _unpaired(person: Person, seat: Seat, here: list[Turn], people: Mapping[str, Person]) -> list[Breach]:
    if person.is_experienced:
        return []
    if seat.role == NET_CONTROL:
        backups = [people[other.person] for other in here if other.seat.role == BACKUP]
        if any(backup.is_experienced for backup in backups):
            return []
        return [Breach("newcomer", "is new to the chair and there is no experienced backup beside them")]
    controls = [people[other.person] for other in here if other.seat.role == NET_CONTROL]
    if all(control.is_experienced for control in controls):
        return []
    return [Breach("newcomer", "is new to the chair and so is net control that evening")]
