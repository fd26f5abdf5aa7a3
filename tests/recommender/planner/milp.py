"""The whole choice as one mixed-integer programme, straight from its statement: the check on `solve`, and its rival.

One binary unknown for each of the mains, each centre, and each other candidate beside each voice group; for every
pair an amount that flows from its mains to its centre, whose sum at each end is that end's binary. The amounts need
not be binary: with both ends whole, one pair carries all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from triptych.recommender.money.planner.problem import (
    Candidates,
    FloatArray,
    IntArray,
    LinearRule,
    Match,
    Outcome,
    Plan,
    PlanProblem,
    System,
)

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint
    from scipy.sparse import csr_array


def dense(matrix: FloatArray) -> Match:
    """A match that is known as a whole matrix: mains × centres."""
    whole = np.asarray(matrix, dtype=np.float64)
    return lambda mains, centres: whole[np.ix_(mains, centres)]


class Layout:
    """Where each unknown stands: mains, centres, pairs, then each other role, voice group by voice group.

    Last, by how much each rule is missed that may be.
    """

    def __init__(self, problem: PlanProblem) -> None:
        self.problem = problem
        everyone = problem.voice_of(np.arange(len(problem.mains)))
        self.voices = np.unique(everyone)
        self.voice = np.searchsorted(self.voices, everyone)
        mains, centres = len(problem.mains), len(problem.centre)
        self.soft = [at for at, rule in enumerate(problem.all_rules) if not rule.hard]
        sizes = [mains, centres, mains * centres, *(len(self.voices) * len(role) for role in problem.others)]
        self.blocks = (0, 1, *range(3, len(sizes)))
        sizes.append(len(self.soft))
        self.start = np.concatenate([[0], np.cumsum(sizes)])

    @property
    def unknowns(self) -> int:
        """How many unknowns there are."""
        return int(self.start[-1])

    def block(self, at: int) -> IntArray:
        """Places of one block."""
        at %= len(self.start) - 1
        return np.arange(self.start[at], self.start[at + 1])


def solve_as_milp(problem: PlanProblem, time_limit: float = 60.0) -> Plan:
    """The best system by scipy's HiGHS, within its tolerances; one system, for comparison."""
    from scipy.optimize import Bounds, milp

    begin, layout = monotonic(), Layout(problem)
    worth, forbidden = objective(layout)
    integrality = np.ones(layout.unknowns, dtype=int)
    integrality[layout.block(2)] = 0
    integrality[layout.block(-1)] = 0
    answer = milp(
        -worth,
        integrality=integrality,
        bounds=Bounds(np.zeros(layout.unknowns), np.where(forbidden, 0.0, np.where(integrality, 1.0, np.inf))),
        constraints=[
            *one_of_each(layout),
            *flow_to_both_ends(layout),
            *others_beside_their_voice(layout),
            rules(layout),
        ],
        options={"time_limit": time_limit, "mip_rel_gap": 0.0},
    )
    seconds = monotonic() - begin
    if answer.x is None:
        outcome = Outcome.IMPOSSIBLE if answer.status == 2 else Outcome.OUT_OF_TIME
        return Plan(outcome, (), -np.inf if answer.status == 2 else np.inf, 0, 0, 0, seconds)
    system = read(layout, np.asarray(answer.x))
    outcome = Outcome.BEST if answer.status == 0 else Outcome.OUT_OF_TIME
    return Plan(outcome, (system,), -float(answer.mip_dual_bound), int(answer.mip_node_count), 0, 0, seconds)


def objective(layout: Layout) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """What each unknown is worth, and which are forbidden."""
    problem = layout.problem
    match = problem.match_rows(np.arange(len(problem.mains))).ravel()
    parts = [problem.mains.worth, problem.centre.worth, match]
    parts += [role.worth_beside(int(voice)) for role in problem.others for voice in layout.voices]
    parts.append(np.array([-problem.all_rules[at].price_of_row * _size(problem, at) for at in layout.soft]))
    worth = np.concatenate(parts)
    forbidden = np.isneginf(worth)
    return np.where(forbidden, 0.0, worth), forbidden


def _rows(layout: Layout, row: IntArray, column: IntArray, value: FloatArray, rows: int) -> csr_array:
    from scipy.sparse import csr_array

    return csr_array((value, (row, column)), shape=(rows, layout.unknowns))


def one_of_each(layout: Layout) -> Iterator[LinearConstraint]:
    """One candidate of each role."""
    from scipy.optimize import LinearConstraint

    for at in layout.blocks:
        columns = layout.block(at)
        yield LinearConstraint(_rows(layout, np.zeros_like(columns), columns, np.ones(len(columns)), 1), 1, 1)


def flow_to_both_ends(layout: Layout) -> Iterator[LinearConstraint]:
    """What flows from a main, and what flows to a centre, is 1 if it is taken and 0 if not."""
    from scipy.optimize import LinearConstraint

    pairs = layout.block(2)
    ends = np.divmod(pairs - layout.start[2], len(layout.problem.centre))
    for block, end in enumerate(ends):
        own = layout.block(block)
        row = np.concatenate([end, np.arange(len(own))])
        value = np.concatenate([np.ones(len(pairs)), -np.ones(len(own))])
        yield LinearConstraint(_rows(layout, row, np.concatenate([pairs, own]), value, len(own)), 0, 0)


def others_beside_their_voice(layout: Layout) -> Iterator[LinearConstraint]:
    """Each other role is taken beside the voice group of the mains that are."""
    from scipy.optimize import LinearConstraint

    mains = layout.block(0)
    for at in layout.blocks[2:]:
        columns = layout.block(at)
        own = np.repeat(np.arange(len(layout.voices)), len(columns) // len(layout.voices))
        row, value = np.concatenate([own, layout.voice]), np.concatenate([np.ones(len(own)), -np.ones(len(mains))])
        yield LinearConstraint(_rows(layout, row, np.concatenate([columns, mains]), value, len(layout.voices)), 0, 0)


def rules(layout: Layout) -> LinearConstraint:
    """The limit and the rules, each scaled so that its largest coefficient is 1000."""
    from scipy.optimize import LinearConstraint

    problem = layout.problem
    matrix = np.zeros((len(problem.all_rules), layout.unknowns))
    least = np.array([rule.least - rule.limit * problem.limit for rule in problem.all_rules], dtype=float)
    for row, rule in enumerate(problem.all_rules):
        for role, block in zip(problem.roles, layout.blocks, strict=True):
            use = row_of(rule, role)
            matrix[row, layout.block(block)] = use if block < 3 else np.tile(use, len(layout.voices))
    for place, row in zip(layout.block(-1), layout.soft, strict=True):
        matrix[row, place] = _size(problem, row)
    scale = np.maximum(1.0, np.abs(matrix).max(axis=1)) / 1000
    return LinearConstraint(matrix / scale[:, None], least / scale, np.inf)


def row_of(rule: LinearRule, role: Candidates) -> IntArray:
    """What each candidate adds to a rule's row, from the statement of the problem."""
    rows = rule.coefficients.get(role.role, 0) * role.cost
    for (named, measure), share in rule.measures.items():
        if named == role.role:
            rows = rows + share * role.measures.get(measure, np.zeros(len(role), dtype=np.int64))
    return rows


def read(layout: Layout, answer: FloatArray) -> System:
    """The system that a solver's answer means."""
    problem = layout.problem
    places = [int(answer[layout.block(block)].argmax()) for block in layout.blocks]
    chosen = [
        place if at < 2 else place % len(role)
        for at, (place, role) in enumerate(zip(places, problem.roles, strict=True))
    ]
    return system_of(problem, chosen)


def system_of(problem: PlanProblem, chosen: list[int]) -> System:
    """A system by the places of its candidates, in the order of the problem's roles, with its value and cost.

    Worths and penalties are counted in thousandths of a point here again, in whole numbers and fractions.
    """
    mains = np.array([chosen[0]])
    voice = int(problem.voice_of(mains)[0])
    worths = [float(problem.match_rows(mains)[0, chosen[1]])]
    worths += [float(role.worth_beside(voice)[at]) for role, at in zip(problem.roles, chosen, strict=True)]
    costs = {role.role: int(role.cost[at]) for role, at in zip(problem.roles, chosen, strict=True)}
    paid = sum(
        ceil(rule.price / rule.unit / 0.001 * lack(problem, rule, chosen)) for rule in problem.rules if not rule.hard
    )
    value = sum(worths) if -np.inf in worths else (sum(round(worth * 1000) for worth in worths) - paid) / 1000
    return System(dict(zip(costs, chosen, strict=True)), value, sum(costs.values()))


def lack(problem: PlanProblem, rule: LinearRule, chosen: Sequence[int]) -> int:
    """By how much some candidates miss a rule."""
    use = sum(int(row_of(rule, role)[at]) for role, at in zip(problem.roles, chosen, strict=True))
    return max(0, rule.least - rule.limit * problem.limit - use)


def _size(problem: PlanProblem, row: int) -> int:
    """So much of a row is a missed one's unknown, so that no unknown is far larger than others."""
    rule = problem.all_rules[row]
    return max(1, *(int(np.abs(row_of(rule, role)).max(initial=0)) for role in problem.roles))
