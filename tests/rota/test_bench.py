"""How long the solver takes. Run by name on a quiet machine: pytest -m bench tests/rota/test_bench.py -s"""

from __future__ import annotations

import random
import time
from dataclasses import replace

import pytest

from nets.rota.problem import Problem
from nets.rota.solver import Solution, solve
from tests.rota.builders import random_problem

pytestmark = pytest.mark.bench

ONE_NET_A_YEAR = 2.0
LARGE_CLUB_TWO_YEARS = 20.0


def club(seed: int, people: int, weeks: int) -> Problem:
    problem = random_problem(
        seed, people=people, sessions=weeks, offered=0.65, gap_days=(8, 15, 29), most_turns=(None, 2, 4)
    )
    return replace(problem, published=())


def changed(problem: Problem, solution: Solution) -> Problem:
    """The rota was published, and one offer in twenty has fallen away since."""
    draw = random.Random(3)
    offers = tuple(offer for offer in problem.offers if draw.random() > 0.05)
    return replace(problem, offers=offers, published=solution.turns)


def timed(problem: Problem, time_limit_s: float) -> tuple[Solution, float]:
    began = time.perf_counter()
    solution = solve(problem, time_limit_s=time_limit_s)
    seconds = time.perf_counter() - began
    stages = ", ".join(f"{stage.aim} {stage.objective} (bound {stage.bound})" for stage in solution.stages)
    print(f"\n{len(problem.people)} people, {len(problem.seats)} seats: {seconds:.2f} s; {stages}")
    return solution, seconds


@pytest.mark.parametrize("seed", range(5))
def test_thirty_people_and_a_year_are_proven_in_two_seconds(seed: int) -> None:
    problem = club(seed, 30, 52)
    first, seconds = timed(problem, 60)
    assert first.is_proven
    assert seconds < ONE_NET_A_YEAR
    again, seconds = timed(changed(problem, first), 60)
    assert again.is_proven
    assert seconds < ONE_NET_A_YEAR


@pytest.mark.parametrize("seed", range(3))
def test_a_large_club_and_two_years_take_twenty_seconds_or_say_how_far_off_they_are(seed: int) -> None:
    problem = club(seed, 120, 104)
    for each in (problem, changed(problem, solve(problem))):
        solution, seconds = timed(each, 18)
        assert seconds < LARGE_CLUB_TWO_YEARS
        assert solution.is_proven or any(stage.gap > 0 for stage in solution.stages)
        assert solution.stages[0].is_proven
