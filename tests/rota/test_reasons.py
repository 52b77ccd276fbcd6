"""An empty chair says why, from facts."""

from __future__ import annotations

import pytest

from nets.rota.problem import Person, Problem, Turn
from nets.rota.reasons import Bar, Kind, obstacles, sentence
from nets.rota.solver import solve
from tests.rota.builders import both, offers, random_problem, seat

ANN = Person("QZ3AAA", minimum_gap_days=15)
BOB = Person("QZ3BBB")
CAM = Person("QZ3CCC")


def told(problem: Problem, *bars: Bar) -> str:
    solution = solve(problem)
    empty = solution.empty[0]
    return sentence(empty, obstacles(problem, solution.turns, bars, empty))


def test_it_names_absences_and_margins() -> None:
    where = seat(0)
    away = Bar(BOB.key, where.session, "away", "is away until 5 March")
    weak = Bar(CAM.key, where.session, "path", "has a margin of +2.1 dB where +6.0 dB is asked for", 3.9)
    assert told(Problem((BOB, CAM), (where,), ()), weak, away) == (
        "Nobody with a usable path is free on 3 March: QZ3BBB is away until 5 March; "
        "QZ3CCC has a margin of +2.1 dB where +6.0 dB is asked for."
    )


def test_it_says_so_when_no_path_works_at_all() -> None:
    where = seat(0)
    weak = Bar(CAM.key, where.session, "path", "has a margin of −3.0 dB", 9.0)
    assert told(Problem((CAM,), (where,), ()), weak).startswith(
        "Nobody who takes the chair has a usable path"
    )


def test_it_says_what_would_help() -> None:
    where = seat(0)
    weak = Bar(
        CAM.key, where.session, "path", "is too weak", 3.9, "would be if their antenna were 4 m higher"
    )
    assert told(Problem((CAM,), (where,), ()), weak).endswith(
        "QZ3CCC would be if their antenna were 4 m higher."
    )


def test_it_names_the_turn_that_is_too_near() -> None:
    held = (Turn(seat(2, net="Other"), ANN.key),)
    assert told(Problem((ANN,), (seat(0),), offers([ANN], [seat(0)]), held=held)) == (
        "Nobody with a usable path is free on 3 March: "
        "QZ3AAA has a turn on 17 March and asks for 15 days between turns."
    )


def test_it_counts_the_rest_by_what_is_in_the_way() -> None:
    where = seat(0)
    people = tuple(Person(f"QZ3{letter * 3}") for letter in "ABCDEFG")
    kinds: tuple[Kind, ...] = ("away", "away", "away", "away", "away", "path", "path")
    bars = [Bar(who.key, where.session, kind, kind) for who, kind in zip(people, kinds, strict=True)]
    assert told(Problem(people, (where,), ()), *bars).endswith(
        "; of 3 more 1 is away and 2 have no usable path."
    )


def test_it_says_that_a_newcomer_lacks_a_backup() -> None:
    seats = both(0)
    new = (Person("QZ3NEW", is_experienced=False), Person("QZ3OTH", is_experienced=False))
    assert "is new to the chair and there is no experienced backup beside them" in told(
        Problem(new, seats, offers(new, seats))
    )


def test_it_names_four_and_counts_the_rest() -> None:
    where = seat(0)
    people = tuple(Person(f"QZ3{letter * 3}") for letter in "ABCDEFG")
    bars = [Bar(who.key, where.session, "path", "is too weak", float(n)) for n, who in enumerate(people)]
    said = told(Problem(people, (where,), ()), *bars)
    assert said.count("is too weak") == 4
    assert said.endswith("; 3 more have no usable path.")


def test_it_says_so_when_nobody_takes_the_chair() -> None:
    assert (
        told(Problem((), (seat(0),), ())) == "Nobody is down as taking the chair, so it is empty on 3 March."
    )


@pytest.mark.parametrize("seed", range(25))
def test_in_a_proven_rota_a_rule_stands_between_everybody_offered_and_an_empty_chair(seed: int) -> None:
    problem = random_problem(seed, people=5, sessions=8, offered=0.4, gap_days=(8, 15, 29))
    solution = solve(problem)
    assert solution.empty
    for empty in solution.empty:
        assert all(obstacle.kind == "rule" for obstacle in obstacles(problem, solution.turns, (), empty))
