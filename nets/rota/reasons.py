"""Why a chair is empty, in a sentence built from facts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from nets.rota.problem import Person, Problem, Seat, Turn
from nets.rota.rules import breaches, in_words

Kind = Literal["rule", "away", "licence", "path", "unknown", "free"]

#: People named one by one; the rest are counted.
NAMED = 4

# What is said of those who are only counted. Plural first, then singular.
COUNTED: dict[Kind, tuple[str, str]] = {
    "rule": ("have turns enough or too near", "has turns enough or too near"),
    "away": ("are away", "is away"),
    "licence": ("have no licence for it", "has no licence for it"),
    "path": ("have no usable path", "has no usable path"),
    "unknown": ("have no answer for their path", "has no answer for their path"),
    "free": ("are free", "is free"),
}
ORDER: tuple[Kind, ...] = ("free", "rule", "away", "licence", "path", "unknown")


@dataclass(frozen=True, slots=True)
class Bar:
    """Why somebody is not offered for a session.

    words: what follows the name, such as “is away until 5 March”. shortfall_db: how far the path is below what the
    net asks for, 0 where the path is not what is wrong. remedy: what would make the path do, such as “would be if
    their antenna were 4 m higher”, or nothing.
    """

    person: str
    session: str
    kind: Kind
    words: str
    shortfall_db: float = 0.0
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """What stands between one person and one empty chair."""

    person: str
    kind: Kind
    words: str
    shortfall_db: float = 0.0
    remedy: str = ""

    @property
    def order(self) -> tuple[int, float, str]:
        """Nearest to sitting there first."""
        return ORDER.index(self.kind), self.shortfall_db, self.person


def obstacles(problem: Problem, turns: Iterable[Turn], bars: Iterable[Bar], seat: Seat) -> list[Obstacle]:
    """What keeps each person out of an empty seat, those nearest to sitting there first."""
    people = problem.by_key
    everything = [*turns, *problem.held]
    offered = {offer.person for offer in problem.offers if offer.session == seat.session}
    found = [
        Obstacle(bar.person, bar.kind, bar.words, bar.shortfall_db, bar.remedy)
        for bar in bars
        if bar.session == seat.session and bar.person not in offered
    ]
    found += [_rule_in_the_way(seat, key, everything, people) for key in offered]
    return sorted(found, key=lambda obstacle: obstacle.order)


def _rule_in_the_way(seat: Seat, key: str, turns: list[Turn], people: Mapping[str, Person]) -> Obstacle:
    near = [turn for turn in turns if turn.person == key or turn.seat.session == seat.session]
    broken = breaches(Turn(seat, key), near, people)
    if broken:
        return Obstacle(key, "rule", broken[0].words)
    return Obstacle(key, "free", "is free; the search ended before it could place them")


def sentence(seat: Seat, found: list[Obstacle]) -> str:
    """Why the seat is empty: the rule, the people nearest to it with their reasons, the rest counted, a way out."""
    date = in_words(seat.date, seat.date)
    if not found:
        return f"Nobody is down as taking the chair, so it is empty on {date}."
    if all(obstacle.kind in ("path", "unknown") for obstacle in found):
        lead = f"Nobody who takes the chair has a usable path on {date}"
    elif all(obstacle.kind in ("path", "unknown", "licence") for obstacle in found):
        lead = f"Nobody who takes the chair has both the licence and the path on {date}"
    else:
        lead = f"Nobody with a usable path is free on {date}"
    told = "; ".join(f"{obstacle.person} {obstacle.words}" for obstacle in found[:NAMED])
    rest = _counted(found[NAMED:])
    remedies = [f"{obstacle.person} {obstacle.remedy}." for obstacle in found if obstacle.remedy]
    return " ".join([f"{lead}: {told}{rest}.", *remedies[:2]])


def _counted(found: list[Obstacle]) -> str:
    """What is said of those not named: “; 3 more are away”, “; of 5 more 2 are away and 3 have no usable path”."""
    counts = Counter(obstacle.kind for obstacle in found)
    parts = [(counts[kind], COUNTED[kind][counts[kind] == 1]) for kind in ORDER if counts[kind]]
    if not parts:
        return ""
    if len(parts) == 1:
        return f"; {parts[0][0]} more {parts[0][1]}"
    said = [f"{count} {words}" for count, words in parts]
    return f"; of {len(found)} more {', '.join(said[:-1])} and {said[-1]}"
