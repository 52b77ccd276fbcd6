"""The solver's rota is the best there is: against trying everything, and against a second exact method."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from nets.rota.problem import Problem, Turn
from nets.rota.solver import solve
from tests.rota.builders import random_problem
from tests.rota.exhaustive import best_by_weeks, best_of_all, lawful, score, score_of


@pytest.mark.parametrize("seed", range(240))
def test_no_rota_of_a_small_club_is_better(seed: int) -> None:
    problem = random_problem(seed, people=4, sessions=3, offered=0.6, nets=1 + seed % 2)
    solution = solve(problem)
    assert solution.is_proven
    assert score_of(solution) == best_of_all(problem)
    assert score(problem, solution.turns) == score_of(solution)
    assert lawful(problem, solution.turns)


@pytest.mark.parametrize("seed", range(10))
def test_no_rota_of_seven_weeks_is_better(seed: int) -> None:
    problem = random_problem(
        seed,
        people=4,
        sessions=7,
        offered=0.6,
        gap_days=(0, 8, 15, 22),
        most_turns=(None, 3, 5),
        settled=False,
        first_week=5,
    )
    problem = replace(problem, published=_published(problem, seed))
    solution = solve(problem)
    assert solution.is_proven
    assert score_of(solution) == best_by_weeks(problem)


def _published(problem: Problem, seed: int) -> tuple[Turn, ...]:
    """An earlier rota, with a fifth of its turns given to somebody else since."""
    draw = random.Random(seed)
    turns = solve(replace(problem, published=())).turns
    return tuple(
        turn if draw.random() < 0.8 else replace(turn, person=draw.choice(problem.people).key)
        for turn in turns
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_order_in_which_things_are_listed_does_not_matter(seed: int) -> None:
    problem = random_problem(seed, people=8, sessions=10, nets=2)
    draw = random.Random(seed)
    names = ("people", "seats", "offers", "kept", "held", "published")
    shuffled = {
        name: tuple(draw.sample(getattr(problem, name), len(getattr(problem, name)))) for name in names
    }
    assert solve(Problem(**shuffled)) == solve(problem)


def test_equal_problems_give_equal_rotas() -> None:
    first, second = (solve(random_problem(5, people=12, sessions=20)) for _ in range(2))
    assert first == second


def test_a_search_cut_short_keeps_the_rules_and_says_how_far_off_it_may_be() -> None:
    problem = random_problem(2, people=30, sessions=52, gap_days=(8, 15, 29), most_turns=(None, 2, 4))
    solution = solve(problem, time_limit_s=0.0)
    assert lawful(problem, solution.turns)
    doubtful = next(stage for stage in solution.stages if not stage.is_proven)
    true = next(stage for stage in solve(problem).stages if stage.aim == doubtful.aim)
    assert doubtful.gap > 0
    assert doubtful.bound <= true.objective <= doubtful.objective


def test_each_aim_is_told_as_its_search_begins() -> None:
    told: list[str] = []
    solution = solve(random_problem(1, people=4, sessions=3), on_stage=told.append)
    assert told == [stage.aim for stage in solution.stages]
