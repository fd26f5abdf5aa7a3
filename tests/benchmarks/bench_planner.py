"""The planner beside scipy's HiGHS on the same choices, in one run, with the default rule set on.

    python tests/benchmarks/bench_planner.py [--sizes 100 300 1000] [--alone 10000] [--time-limit 900]

Both are given the same invented catalogue: prices in cents, worth that rises with the root of the price and scatters,
a match from voice parameters that is worked out by runs of rows. All rules of the default set are held to, shoulds
included. HiGHS solves the straight linearised programme of tests/recommender/planner/milp.py and gives one system; the
planner gives the best five. Best of three runs for the planner, one for HiGHS.
"""

from __future__ import annotations

import argparse
import resource

import numpy as np

from tests.recommender.planner.milp import solve_as_milp
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.rules import DEFAULT
from triptych.recommender.money.planner.linear_rules import linear_rules
from triptych.recommender.money.planner.problem import Candidates, FloatArray, IntArray, Outcome, Plan, PlanProblem
from triptych.recommender.money.planner.solve import solve

PIECES = {"mains": 2, "centre": 1, "surrounds": 2, "heights": 2, "sub": 1}
# Lowest and highest price of the whole role, and what the best is worth. [cents]
RANGES = {
    "mains": (20_000, 250_000, 10.0),
    "centre": (10_000, 120_000, 6.0),
    "surrounds": (10_000, 100_000, 4.0),
    "heights": (8_000, 80_000, 2.0),
    "sub": (20_000, 150_000, 5.0),
}
FIXED = Budget("EUR", 400_000, True, (BudgetLine("electronics", 75_000), BudgetLine("accessories", 15_000)))


def catalogue(size: int, seed: int, voices: int, scatter: float) -> PlanProblem:
    generator = np.random.default_rng(seed)

    def candidates(role: str) -> Candidates:
        low, high, weight = RANGES[role]
        cost = generator.integers(low, high, size)
        shape = (size,) if role in ("mains", "centre") else (voices, size)
        return Candidates(role, cost, weight * (np.sqrt(cost / high) + scatter * generator.standard_normal(shape)))

    mains, centre, *others = map(candidates, PIECES)
    voice_of_mains, voice_of_centre = generator.standard_normal((2, 3, size))

    def match(rows: IntArray, some: IntArray) -> FloatArray:
        apart = np.zeros((len(rows), len(some)))
        for ours, theirs in zip(voice_of_mains, voice_of_centre, strict=True):
            step = theirs[some] - ours[rows, None]
            step *= step
            apart += step
        apart += 1
        return np.asarray(8 / apart)

    rules = linear_rules(DEFAULT, PIECES, FIXED)
    voice = generator.integers(0, voices, size)
    return PlanProblem(mains, centre, tuple(others), FIXED.limit, rules, match, voice, FIXED.total)


def megabytes() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def told(plan: Plan) -> str:
    value = f"{plan.best.value:.9f}" if plan.best else "none"
    return f"{plan.outcome.value:>11} {plan.seconds:9.3f} s  worth {value}  gap {plan.gap:.2g}"


def fastest(problem: PlanProblem) -> Plan:
    return min((solve(problem) for _ in range(3)), key=lambda plan: plan.seconds)


def beside_highs(size: int, seed: int, time_limit: float) -> None:
    problem = catalogue(size, seed, 1, 0.15)
    ours = fastest(problem)
    print(f"{size:6} a role  planner {told(ours)}  {megabytes()} MB", flush=True)
    theirs = solve_as_milp(problem, time_limit)
    print(f"{'':13}  HiGHS   {told(theirs)}  {megabytes()} MB", flush=True)
    same = ours.best and theirs.best and abs(ours.best.value - theirs.best.value) <= 1e-6
    verdict = "same worth" if same else "HiGHS had not finished" if theirs.outcome is not Outcome.BEST else "DIFFERENT"
    print(f"{'':13}  {theirs.seconds / ours.seconds:.0f} times faster, {verdict}", flush=True)


def alone(size: int, seed: int) -> None:
    for words, voices, scatter in (
        ("one voice group", 1, 0.15),
        ("50 voice groups", 50, 0.15),
        ("worth follows price closely", 1, 0.01),
    ):
        plan = fastest(catalogue(size, seed, voices, scatter))
        print(
            f"{size:6} a role  planner {told(plan)}  {megabytes()} MB  {words}; {plan.pairs:,} pairs bounded, "
            f"{plan.combinations:,} systems looked at, {plan.nodes} parts",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description="The planner beside HiGHS.")
    parser.add_argument("--sizes", type=int, nargs="*", default=[100, 300, 1000])
    parser.add_argument("--alone", type=int, nargs="*", default=[1000, 10_000])
    parser.add_argument("--time-limit", type=float, default=900.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for size in asked.alone:
        alone(size, asked.seed)
    for size in asked.sizes:
        beside_highs(size, asked.seed, asked.time_limit)


if __name__ == "__main__":
    main()
