"""Solving a rota to its optimum, one aim after the other.

The aims, each settled before the next is asked: fewest empty chairs; fewest of them net control's; the
fairest loads; the fewest changes to what was published; the best paths. Weighing them into one sum would need
weights a million apart, which a solver working to a tolerance of 1e-6 cannot be trusted with; staged, every
number is small and whole. A stage keeps the earlier aims by a row that holds each at the value reached.

The solver is HiGHS (branch and cut; Q. Huangfu and J. A. J. Hall, Parallelizing the dual revised simplex
method, Mathematical Programming Computation 10, 2018). One thread and a fixed seed: equal problems give equal
rotas, unless the time runs out, when the best found so far is returned with how far off it may be.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

import highspy
import numpy as np
import numpy.typing as npt

from nets.rota.model import SHARE_SCALE, Model, build, settled_load
from nets.rota.problem import Problem, Seat, Turn
from nets.rota.rules import breaches

SEED = 7
# Every objective is whole, so a bound closer than this proves the value.
PROOF_GAP = 0.99
HALF = 0.5
TOLERANCE = 1e-6

Numbers = npt.NDArray[np.float64]
OnStage = Callable[[str], None]


class SolverFailed(RuntimeError):
    """The solver gave no answer, or one that breaks a rule: a fault here, not in what was asked."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One aim: the value reached, the best value possible, and whether the two were proven equal.

    seconds: spent in the solver. Values are whole: chairs, 60 · load² a share, changed turns, path costs.
    """

    aim: str
    objective: int
    bound: int
    seconds: float = field(default=0.0, compare=False)

    @property
    def is_proven(self) -> bool:
        return self.objective <= self.bound

    @property
    def gap(self) -> int:
        """How much better it might be at most; 0 when proven optimal."""
        return max(0, self.objective - self.bound)


@dataclass(frozen=True, slots=True)
class Solution:
    """turns: every seat that is taken, kept ones included. empty: seats nobody could be found for."""

    turns: tuple[Turn, ...]
    empty: tuple[Seat, ...]
    stages: tuple[Stage, ...]

    @property
    def is_proven(self) -> bool:
        """Nothing better exists, in any aim."""
        return all(stage.is_proven for stage in self.stages)

    @property
    def seconds(self) -> float:
        return sum(stage.seconds for stage in self.stages)


def solve(problem: Problem, *, time_limit_s: float = 60.0, on_stage: OnStage | None = None) -> Solution:
    """The best rota. `on_stage` is told each aim as its search begins.

    Raises SolverFailed only for a fault of the programme: leaving every chair empty is always possible.
    """
    model = build(problem)
    search = _Search(model, time_limit_s)
    stages = []
    for aim, costs in model.objectives.items():
        if on_stage is not None:
            on_stage(aim)
        bound, seconds = search.improve(costs)
        constant = _constant(problem, model, aim)
        objective = search.value(costs) + constant
        stages.append(Stage(aim, objective, min(objective, bound + constant), seconds))
    turns = [turn for column, turn in enumerate(model.turns) if search.best[column] > HALF]
    turns += problem.kept
    turns.sort(key=lambda turn: turn.seat.order)
    _check(problem, turns)
    empty = tuple(seat for seat, column in model.empty.items() if search.best[column] > HALF)
    return Solution(tuple(turns), empty, tuple(stages))


def _constant(problem: Problem, model: Model, aim: str) -> int:
    """What an aim is worth before the search: published turns, and the loads already carried."""
    if aim == "changes":
        kept = {(turn.seat.session, turn.seat.role) for turn in problem.kept}
        return sum((turn.seat.session, turn.seat.role) not in kept for turn in problem.published)
    if aim == "fairness":
        return sum(
            SHARE_SCALE // person.shares * settled_load(problem, person) ** 2 for person in problem.people
        )
    return 0


class _QuietHighs(highspy.Highs):
    """The solver without its banner."""

    def __init__(self) -> None:
        # The wrapper's own constructor switches callbacks on, which prints a banner before any option can forbid
        # it; no callback is used here.
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)


class _Search:
    """The programme inside the solver, and the best point found so far."""

    def __init__(self, model: Model, time_limit_s: float) -> None:
        self.left_s = time_limit_s
        self.model = model
        self.best: Numbers = np.zeros(model.columns)
        self.best[list(model.empty.values())] = 1.0
        self.highs = _QuietHighs()
        # Presolve stays off: the rows are lean already and a second solve is faster without it. With it and a
        # starting point, release 1.16 was seen to call 22 the value of a point that costs 23.
        for option, value in (
            ("presolve", "off"),
            ("threads", 1),
            ("parallel", "off"),
            ("random_seed", SEED),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", PROOF_GAP),
        ):
            self.highs.setOptionValue(option, value)
        self.highs.passModel(_programme(model))

    def value(self, costs: dict[int, int]) -> int:
        return sum(cost * round(self.best[column]) for column, cost in costs.items())

    def improve(self, costs: dict[int, int]) -> tuple[int, float]:
        """Move `best` to the optimum of `costs` and hold it there; the bound, and the seconds it took."""
        if not costs:
            return 0, 0.0
        lowest = sum(min(0, cost) for cost in costs.values())
        if self.value(costs) == lowest:
            bound, seconds = lowest, 0.0
        else:
            bound, seconds = self._run(costs)
        columns = np.array(sorted(costs), dtype=np.int32)
        values = np.array([costs[column] for column in sorted(costs)], dtype=np.float64)
        # Half a unit of room: values are whole, and a row met only to a tolerance might cut off the optimum.
        self.highs.addRow(-highspy.kHighsInf, self.value(costs) + HALF, len(columns), columns, values)
        return bound, seconds

    def _run(self, costs: dict[int, int]) -> tuple[int, float]:
        priced: Numbers = np.zeros(self.model.columns)
        priced[list(costs)] = list(costs.values())
        every = np.arange(self.model.columns, dtype=np.int32)
        self.highs.changeColsCost(self.model.columns, every, priced)
        start = highspy.HighsSolution()
        start.col_value = self.best.tolist()
        self.highs.setSolution(start)
        before_s = self.highs.getRunTime()
        self.highs.setOptionValue("time_limit", before_s + max(self.left_s, 0.01))
        self.highs.run()
        seconds = self.highs.getRunTime() - before_s
        self.left_s -= seconds
        info = self.highs.getInfo()
        status = self.highs.getModelStatus()
        if status not in (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kTimeLimit):
            raise SolverFailed(f"The solver stopped with “{self.highs.modelStatusToString(status)}”.")
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            self.best = self._settled(np.array(self.highs.getSolution().col_value))
        return _whole_bound(info.mip_dual_bound, costs), seconds

    def _settled(self, point: Numbers) -> Numbers:
        """The point with whole turns, and each person's load carried by their cheapest units."""
        point = np.round(point)
        loads = dict.fromkeys(self.model.units, 0)
        for column in np.flatnonzero(point[: len(self.model.turns)]):
            turn = self.model.turns[column]
            loads[turn.person] += turn.seat.load
        for key, units in self.model.units.items():
            point[units.start : units.stop] = np.arange(len(units)) < loads[key]
        return point


def _whole_bound(bound: float, costs: dict[int, int]) -> int:
    """The least whole value not below the solver's bound; what the costs alone allow where it has none."""
    lowest = sum(min(0, cost) for cost in costs.values())
    return max(lowest, math.ceil(bound - TOLERANCE)) if math.isfinite(bound) else lowest


def _programme(model: Model) -> highspy.HighsLp:
    """The model in the solver's own arrays, rows first."""
    programme = highspy.HighsLp()
    programme.num_col_, programme.num_row_ = model.columns, len(model.rows)
    programme.col_cost_ = np.zeros(model.columns)
    programme.col_lower_ = np.zeros(model.columns)
    programme.col_upper_ = np.ones(model.columns)
    programme.row_lower_ = np.array([row.lower for row in model.rows])
    programme.row_upper_ = np.array([row.upper for row in model.rows])
    kinds = highspy.HighsVarType
    programme.integrality_ = [
        kinds.kInteger if column < model.whole else kinds.kContinuous for column in range(model.columns)
    ]
    matrix = programme.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.start_ = np.cumsum([0, *(len(row.entries) for row in model.rows)])
    entries = [entry for row in model.rows for entry in row.entries]
    matrix.index_ = np.array([column for column, _value in entries], dtype=np.int32)
    matrix.value_ = np.array([value for _column, value in entries], dtype=np.float64)
    return programme


def _check(problem: Problem, turns: list[Turn]) -> None:
    """Ask the plain rules about every turn the solver chose."""
    people, kept = problem.by_key, set(problem.kept)
    offered = {(offer.person, offer.session) for offer in problem.offers}
    near: dict[tuple[str, str], list[Turn]] = defaultdict(list)
    for turn in (*turns, *problem.held):
        near["person", turn.person].append(turn)
        near["session", turn.seat.session].append(turn)
    for turn in turns:
        if turn in kept:
            continue
        beside = near["person", turn.person] + near["session", turn.seat.session]
        broken = breaches(turn, dict.fromkeys(beside), people)
        if broken or (turn.person, turn.seat.session) not in offered:
            words = broken[0].words if broken else "was never offered"
            raise SolverFailed(f"The solver put {turn.person} in a chair on {turn.seat.date}, who {words}.")
