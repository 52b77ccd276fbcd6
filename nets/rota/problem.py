"""What a rota is asked for: people, seats, who may take which, and what is already settled.

Plain values, compared by value. Nothing here knows a database, a clock or a radio: whether a path works and
whether somebody is away was decided before, and is said by an `Offer` being there or not.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from clubops.clock import Span

Role = Literal["net_control", "backup"]
NET_CONTROL: Role = "net_control"
BACKUP: Role = "backup"

#: What a turn counts towards a fair share. Net control does the work of the evening, the backup stands by:
#: common practice, no source.
LOAD: dict[Role, int] = {NET_CONTROL: 2, BACKUP: 1}


class ProblemError(ValueError):
    """A problem that contradicts itself. The message is a sentence."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who takes the chair.

    key: call sign, once a problem. shares: how many shares of the turns they take, 1 to 5. past_load: load of
    recent turns that are not among the `held` ones. most_turns: in a quarter of the year, either chair; None
    for no limit. minimum_gap_days: between the dates of two turns, so 8 keeps them out of two weeks running.
    """

    key: str
    shares: int = 1
    is_experienced: bool = True
    past_load: int = 0
    most_turns: int | None = None
    minimum_gap_days: int = 0


@dataclass(frozen=True, slots=True)
class Seat:
    """One chair at one session. date: the session's own local date, which gaps are counted in."""

    session: str
    role: Role
    span: Span
    date: dt.date
    net: str = ""

    @property
    def quarter(self) -> tuple[int, int]:
        """Year and quarter, 1 to 4, of the date."""
        return self.date.year, (self.date.month + 2) // 3

    @property
    def load(self) -> int:
        return LOAD[self.role]

    @property
    def order(self) -> tuple[dt.datetime, str, bool]:
        """Earliest first, net control before backup."""
        return self.span.start, self.session, self.role == BACKUP


@dataclass(frozen=True, slots=True)
class Offer:
    """This person is free for either chair of this session and the relay hears them.

    path_cost: whole number, 0 for a path with margin to spare, more for a weaker one.
    """

    person: str
    session: str
    path_cost: int = 0


@dataclass(frozen=True, slots=True)
class Turn:
    """A seat and the person in it."""

    seat: Seat
    person: str


@dataclass(frozen=True)
class Problem:
    """A rota to make.

    kept: turns on `seats` that stay whatever happens: locked, confirmed or overruled. held: turns outside
    `seats` that bind all the same: other nets, and the weeks before. published: the turns people were last
    told, on `seats`. Raises ProblemError for a person or seat named twice or not at all.
    """

    people: tuple[Person, ...]
    seats: tuple[Seat, ...]
    offers: tuple[Offer, ...]
    kept: tuple[Turn, ...] = ()
    held: tuple[Turn, ...] = ()
    published: tuple[Turn, ...] = ()

    def __post_init__(self) -> None:
        people = _once("person", (person.key for person in self.people))
        seats = _once("seat", ((seat.session, seat.role) for seat in self.seats))
        sessions = {seat.session for seat in self.seats}
        _once("offer", ((offer.person, offer.session) for offer in self.offers))
        _once("kept seat", ((turn.seat.session, turn.seat.role) for turn in self.kept))
        for offer in self.offers:
            _require(offer.person in people, f"An offer names {offer.person}, who is not among the people.")
            _require(offer.session in sessions, f"An offer names session {offer.session}, which has no seat.")
            _require(offer.path_cost >= 0, f"A path cost is 0 or more; {offer.path_cost} was given.")
        for turn in (*self.kept, *self.published):
            _require(
                (turn.seat.session, turn.seat.role) in seats,
                f"A turn of {turn.person} is in session {turn.seat.session}, which has no such seat.",
            )
        for turn in (*self.kept, *self.held):
            _require(turn.person in people, f"A turn names {turn.person}, who is not among the people.")
        for person in self.people:
            _require(
                1 <= person.shares <= 5,
                f"{person.key} has {person.shares} shares; 1 to 5 are possible.",
            )

    @property
    def by_key(self) -> dict[str, Person]:
        return {person.key: person for person in self.people}

    @property
    def settled(self) -> tuple[Turn, ...]:
        """Every turn that no solution moves."""
        return (*self.kept, *self.held)

    @property
    def free_seats(self) -> tuple[Seat, ...]:
        """Seats to be filled, in order of time."""
        kept = {(turn.seat.session, turn.seat.role) for turn in self.kept}
        return tuple(
            sorted(
                (seat for seat in self.seats if (seat.session, seat.role) not in kept),
                key=lambda seat: seat.order,
            )
        )


def _once(what: str, names: Iterable[object]) -> set[object]:
    seen: set[object] = set()
    for name in names:
        _require(name not in seen, f"The {what} {name} is named twice.")
        seen.add(name)
    return seen


def _require(holds: bool, sentence: str) -> None:
    if not holds:
        raise ProblemError(sentence)
