"""The rota as a mixed-integer linear programme: columns, rows, and one objective a stage.

Columns: one 0/1 a possible turn (a free seat and a person offered for it), one a free seat left empty, and
for each person one a unit of load they may come to carry, dearer unit by unit. Rows: every rule of
`nets.rota.rules`.

The cost of a person's load L with s shares is 60 L²/s, a convex function given exactly at whole L by the unit
columns: the cheapest way to carry L units is to fill the L cheapest. With the sum of all L given it is least
when L is proportional to s, and it grows with the square of what a share is over or under. 60 makes it whole
for 1 to 5 shares.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from dataclasses import dataclass, field

from nets.rota.problem import BACKUP, NET_CONTROL, Person, Problem, Seat, Turn
from nets.rota.rules import clash

SHARE_SCALE = 60
Entries = list[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Row:
    """lower ≤ Σ coefficient · column ≤ upper."""

    lower: float
    upper: float
    entries: Entries


@dataclass
class Model:
    """The programme. turns[i] is what column i stands for; columns of empty seats and units come after."""

    turns: list[Turn]
    empty: dict[Seat, int] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    columns: int = 0
    whole: int = 0
    units: dict[str, range] = field(default_factory=dict)
    objectives: dict[str, dict[int, int]] = field(default_factory=dict)

    def add_columns(self, count: int) -> range:
        self.columns += count
        return range(self.columns - count, self.columns)

    def at_most(self, limit: float, entries: Entries) -> None:
        self.rows.append(Row(-math.inf, limit, entries))

    def exactly(self, value: float, entries: Entries) -> None:
        self.rows.append(Row(value, value, entries))


def build(problem: Problem) -> Model:
    """The programme of a problem: the same one, whatever the order the problem lists things in."""
    people = problem.by_key
    seats = problem.free_seats
    turns = _possible_turns(problem, people, seats)
    model = Model(turns)
    model.add_columns(len(turns))
    model.empty = dict(zip(seats, model.add_columns(len(seats)), strict=True))
    model.whole = model.columns
    _fill_seats(model)
    _pair_newcomers(model, problem, people)
    by_person: dict[str, list[int]] = defaultdict(list)
    for column, turn in enumerate(turns):
        by_person[turn.person].append(column)
    fairness: dict[int, int] = {}
    for key, columns in sorted(by_person.items()):
        _one_place_at_a_time(model, people[key], columns)
        _no_more_than_asked(model, problem, people[key], columns)
        fairness |= _carry(model, problem, people[key], columns)
    model.objectives = {
        "empty chairs": dict.fromkeys(model.empty.values(), 1),
        "empty chairs of net control": {
            column: 1 for seat, column in model.empty.items() if seat.role == NET_CONTROL
        },
        "fairness": fairness,
        "changes": _changes(problem, turns),
        "paths": _path_costs(problem, turns),
    }
    return model


def _possible_turns(problem: Problem, people: dict[str, Person], seats: tuple[Seat, ...]) -> list[Turn]:
    """A turn for each offer and free seat that does not clash with what is settled."""
    offered: dict[str, list[str]] = defaultdict(list)
    for offer in problem.offers:
        offered[offer.session].append(offer.person)
    settled: dict[str, list[Seat]] = defaultdict(list)
    for turn in problem.settled:
        settled[turn.person].append(turn.seat)
    return [
        Turn(seat, key)
        for seat in seats
        for key in sorted(offered[seat.session])
        if not any(clash(seat, other, people[key].minimum_gap_days) for other in settled[key])
    ]


def _fill_seats(model: Model) -> None:
    """Each free seat has one person or is empty."""
    by_seat: dict[Seat, Entries] = {seat: [(column, 1)] for seat, column in model.empty.items()}
    for column, turn in enumerate(model.turns):
        by_seat[turn.seat].append((column, 1))
    for entries in by_seat.values():
        model.exactly(1, entries)


def _pair_newcomers(model: Model, problem: Problem, people: dict[str, Person]) -> None:
    """A newcomer in the chair has an experienced backup."""
    new_controls: dict[str, Entries] = defaultdict(list)
    backups: dict[str, list[int]] = defaultdict(list)
    for column, turn in enumerate(model.turns):
        if turn.seat.role == BACKUP:
            backups[turn.seat.session].append(column)
        elif not people[turn.person].is_experienced:
            new_controls[turn.seat.session].append((column, 1))
    settled = {(turn.seat.session, turn.seat.role): people[turn.person] for turn in problem.settled}
    for session, controls in new_controls.items():
        beside = settled.get((session, BACKUP))
        covered = 1 if beside is not None and beside.is_experienced else 0
        experienced = [(c, -1) for c in backups[session] if people[model.turns[c].person].is_experienced]
        model.at_most(covered, controls + experienced)
    for session, columns in backups.items():
        control = settled.get((session, NET_CONTROL))
        if control is not None and not control.is_experienced:
            model.at_most(0, [(c, 1) for c in columns if not people[model.turns[c].person].is_experienced])


def _one_place_at_a_time(model: Model, person: Person, columns: list[int]) -> None:
    """At most one turn in every set of sessions that clash with each other: a row a set, not a row a pair."""
    first: dict[str, Seat] = {}
    by_session: dict[str, Entries] = defaultdict(list)
    for column in columns:
        seat = model.turns[column].seat
        first.setdefault(seat.session, seat)
        by_session[seat.session].append((column, 1))
    for group in _clashing_sets(list(first.values()), person.minimum_gap_days):
        model.at_most(1, [entry for session in sorted(group) for entry in by_session[session]])


def _clashing_sets(seats: list[Seat], gap_days: int) -> list[frozenset[str]]:
    """The sets of sessions that clash pairwise, none inside another.

    Every pair that clashes is in one of them: by date in the window that begins with the earlier, by time
    among those on the air when the later begins.
    """
    groups = set()
    for seat in seats:
        window = {other.session for other in seats if 0 <= (other.date - seat.date).days < gap_days}
        groups.add(frozenset(window | {seat.session}))
        groups.add(frozenset(other.session for other in seats if other.span.contains(seat.span.start)))
    holding: dict[str, list[frozenset[str]]] = defaultdict(list)
    for group in groups:
        for session in group:
            holding[session].append(group)
    whole = [group for group in groups if not any(group < other for other in holding[next(iter(group))])]
    return sorted(whole, key=sorted)


def _no_more_than_asked(model: Model, problem: Problem, person: Person, columns: list[int]) -> None:
    """At most so many turns in a quarter, those already settled included."""
    if person.most_turns is None:
        return
    quarters: dict[tuple[int, int], Entries] = defaultdict(list)
    for column in columns:
        quarters[model.turns[column].seat.quarter].append((column, 1))
    for quarter, entries in quarters.items():
        taken = sum(turn.person == person.key and turn.seat.quarter == quarter for turn in problem.settled)
        model.at_most(max(0, person.most_turns - taken), entries)


def _carry(model: Model, problem: Problem, person: Person, columns: list[int]) -> dict[int, int]:
    """Columns for the units of load this person may come to carry, and the cost of each."""
    carried = settled_load(problem, person)
    units = model.add_columns(_most_load([model.turns[column].seat for column in columns], person))
    model.units[person.key] = units
    loads = [(column, model.turns[column].seat.load) for column in columns]
    model.exactly(0, loads + [(unit, -1) for unit in units])
    scale = SHARE_SCALE // person.shares
    return {unit: scale * (2 * (carried + step) + 1) for step, unit in enumerate(units)}


def settled_load(problem: Problem, person: Person) -> int:
    """The load a person carries before any free seat is given to them."""
    return person.past_load + sum(turn.seat.load for turn in problem.settled if turn.person == person.key)


def _most_load(seats: list[Seat], person: Person) -> int:
    """No less than the load that the person could take of these seats, gaps kept."""
    turns, last = 0, dt.date.min
    for date in sorted({seat.session: seat.date for seat in seats}.values()):
        if not turns or (date - last).days >= person.minimum_gap_days:
            turns, last = turns + 1, date
    return turns * max(seat.load for seat in seats)


def _changes(problem: Problem, turns: list[Turn]) -> dict[int, int]:
    """−1 for each published turn that stays; `solver` adds how many there were."""
    published = {(turn.seat.session, turn.seat.role, turn.person) for turn in problem.published}
    return {
        column: -1
        for column, turn in enumerate(turns)
        if (turn.seat.session, turn.seat.role, turn.person) in published
    }


def _path_costs(problem: Problem, turns: list[Turn]) -> dict[int, int]:
    costs = {(offer.person, offer.session): offer.path_cost for offer in problem.offers}
    priced = {column: costs[turn.person, turn.seat.session] for column, turn in enumerate(turns)}
    return {column: cost for column, cost in priced.items() if cost}
