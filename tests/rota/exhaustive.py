"""The rota's aims and rules once more, written without the solver, to check it by.

`best_of_all` tries everything. `best_by_weeks` walks through the sessions in order and keeps, for each state people
can be in, the cheapest way to get there: another exact method, for problems too large to try everything.
Neither uses `nets.rota.rules` or `nets.rota.model`.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction

from nets.rota.problem import BACKUP, NET_CONTROL, Person, Problem, Seat, Turn
from nets.rota.solver import Solution

LOADS = {NET_CONTROL: 2, BACKUP: 1}
Score = tuple[int, int, int, int, int]


def score(problem: Problem, turns: Sequence[Turn]) -> Score:
    """Empty chairs, empty chairs of net control, unfairness, changes, path costs: smaller is better."""
    taken = {(turn.seat.session, turn.seat.role): turn.person for turn in turns}
    empty = [seat for seat in problem.seats if (seat.session, seat.role) not in taken]
    loads = {person.key: person.past_load for person in problem.people}
    for turn in (*turns, *problem.held):
        loads[turn.person] += LOADS[turn.seat.role]
    unfair = sum(Fraction(60 * loads[person.key] ** 2, person.shares) for person in problem.people)
    kept = {(turn.seat.session, turn.seat.role) for turn in problem.kept}
    changes = sum(
        taken.get((turn.seat.session, turn.seat.role)) != turn.person
        for turn in problem.published
        if (turn.seat.session, turn.seat.role) not in kept
    )
    costs = {(offer.person, offer.session): offer.path_cost for offer in problem.offers}
    paths = sum(costs[turn.person, turn.seat.session] for turn in turns if turn not in problem.kept)
    return len(empty), sum(seat.role == NET_CONTROL for seat in empty), int(unfair), changes, paths


def score_of(solution: Solution) -> Score:
    return tuple(stage.objective for stage in solution.stages)  # type: ignore[return-value]


def collide(one: Seat, other: Seat, gap_days: int) -> bool:
    if one.session == other.session:
        return True
    if one.span.start < other.span.end and other.span.start < one.span.end:
        return True
    days = (one.date - other.date).days
    return -gap_days < days < gap_days


def lawful(problem: Problem, turns: Sequence[Turn]) -> bool:
    """No chosen turn breaks a rule with any other; turns already settled may disagree among themselves."""
    people = {person.key: person for person in problem.people}
    settled = [*problem.kept, *problem.held]
    chosen = [turn for turn in turns if turn not in problem.kept]
    everything = [*chosen, *settled]
    for turn in chosen:
        person = people[turn.person]
        own = [other for other in everything if other is not turn and other.person == turn.person]
        if any(collide(turn.seat, other.seat, person.minimum_gap_days) for other in own):
            return False
        if person.most_turns is not None and _in_quarter(everything, turn) > person.most_turns:
            return False
    return all(_paired(people, everything, turn) for turn in chosen)


def _in_quarter(turns: Sequence[Turn], turn: Turn) -> int:
    when = (turn.seat.date.year, (turn.seat.date.month - 1) // 3)
    return sum(
        other.person == turn.person and (other.seat.date.year, (other.seat.date.month - 1) // 3) == when
        for other in turns
    )


def _paired(people: dict[str, Person], turns: Sequence[Turn], turn: Turn) -> bool:
    chairs = {
        other.seat.role: people[other.person] for other in turns if other.seat.session == turn.seat.session
    }
    control, backup = chairs.get(NET_CONTROL), chairs.get(BACKUP)
    if control is None or control.is_experienced:
        return True
    if turn.seat.role == NET_CONTROL:
        return backup is not None and backup.is_experienced
    return backup is None or backup.is_experienced


def best_of_all(problem: Problem) -> Score:
    """The least score of every lawful rota, by trying each person and nobody in each free seat."""
    offered = defaultdict(list)
    for offer in problem.offers:
        offered[offer.session].append(offer.person)
    kept = {(turn.seat.session, turn.seat.role) for turn in problem.kept}
    free = [seat for seat in problem.seats if (seat.session, seat.role) not in kept]
    choices = [[None, *offered[seat.session]] for seat in free]
    best: Score | None = None
    for picks in itertools.product(*choices):
        chosen = [Turn(seat, who) for seat, who in zip(free, picks, strict=True) if who is not None]
        turns = [*problem.kept, *chosen]
        reached = score(problem, turns)
        if (best is None or reached < best) and lawful(problem, turns):
            best = reached
    assert best is not None, "leaving every chair empty is lawful"
    return best


State = tuple[tuple[int, int, int], ...]


def best_by_weeks(problem: Problem) -> Score:
    """The least score, session by session. For problems in one quarter, with no settled turns and one net."""
    assert not problem.kept
    assert not problem.held
    people = problem.people
    sessions = sorted({(seat.date, seat.session) for seat in problem.seats})
    costs = {(offer.person, offer.session): offer.path_cost for offer in problem.offers}
    published = {(turn.seat.session, turn.seat.role): turn.person for turn in problem.published}
    # A person's state: load so far, turns so far, day of the last turn.
    states: dict[State, Score] = {tuple((person.past_load, 0, -999) for person in people): (0, 0, 0, 0, 0)}
    for date, session in sessions:
        day = (date - sessions[0][0]).days
        reached: dict[State, Score] = {}
        for state, before in states.items():
            for control, backup in _pairs(people, state, session, costs, day):
                after, step = _sit(people, state, (control, backup), session, day, costs, published)
                total = tuple(a + b for a, b in zip(before, step, strict=True))
                if after not in reached or total < reached[after]:
                    reached[after] = total  # type: ignore[assignment]
        states = reached
    return min(
        (a, b, sum(60 * own[0] ** 2 // who.shares for own, who in zip(state, people, strict=True)), d, e)
        for state, (a, b, _zero, d, e) in states.items()
    )


def _pairs(
    people: Sequence[Person], state: State, session: str, costs: dict[tuple[str, str], int], day: int
) -> Iterator[tuple[int | None, int | None]]:
    able = [
        index
        for index, (who, (_load, turns, last)) in enumerate(zip(people, state, strict=True))
        if (who.key, session) in costs
        and day - last >= max(1, who.minimum_gap_days)
        and (who.most_turns is None or turns < who.most_turns)
    ]
    for control, backup in itertools.product([None, *able], repeat=2):
        if control is not None and control == backup:
            continue
        new_in_chair = control is not None and not people[control].is_experienced
        if new_in_chair and (backup is None or not people[backup].is_experienced):
            continue
        yield control, backup


def _sit(
    people: Sequence[Person],
    state: State,
    picks: tuple[int | None, int | None],
    session: str,
    day: int,
    costs: dict[tuple[str, str], int],
    published: dict[tuple[str, str], str],
) -> tuple[State, Score]:
    after = list(state)
    empty = changes = paths = 0
    for role, index in zip((NET_CONTROL, BACKUP), picks, strict=True):
        told = published.get((session, role))
        if index is None:
            empty += 1
            changes += told is not None
            continue
        load, turns, _last = after[index]
        after[index] = (load + LOADS[role], turns + 1, day)
        paths += costs[people[index].key, session]
        changes += told is not None and told != people[index].key
    return tuple(after), (empty, int(picks[0] is None), 0, changes, paths)
