"""The planner beside scipy's HiGHS on the same choices, in one run, with the default rule set on.

    python -m tests.benchmarks.bench_planner [--sizes 20 60 100 300 1000] [--alone 1000 10000] [--time-limit 60]

Both are given the same invented catalogue: prices in cents, worth that rises with the root of the price and scatters,
a match from voice parameters that is worked out by runs of rows. All rules of the default set are held to, shoulds
included. HiGHS solves the straight linearised programme of tests/recommender/planner/milp.py and gives one system; the
planner gives the best five. CPU of the best of three runs for the planner, of one for HiGHS. HiGHS looks at its own
time limit only now and then, so it runs in a process of its own, which is ended `--patience` later. Where it ended its
best system has to be worth as much as the planner's, and where it stopped no more, or the benchmark fails; what its
best lacks of the planner's is printed beside the gap that it says itself.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.queues import SimpleQueue
from pathlib import Path

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
CLOSE = 1e-6
"""To HiGHS a row is kept, and a system the best, within so much."""

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
    """The most that this process had so far; what the kernel tells of a child's usage begins with its parent's."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) // 1024


def told(plan: Plan, cpu: float) -> str:
    value = f"{plan.best.value:.9f}" if plan.best else "none"
    gap = f"{plan.gap:.2g}" if np.isfinite(plan.gap) else "not known"
    return f"{plan.outcome.value:>11} {cpu:9.3f} s of CPU  worth {value}  gap {gap}"


def fastest(problem: PlanProblem) -> tuple[float, Plan]:
    """The least CPU of three runs, and what was found."""
    return min((_timed(solve, problem) for _ in range(3)), key=lambda run: run[0])


def _timed(ask: Callable[..., Plan], *asked: object) -> tuple[float, Plan]:
    begin = time.process_time()
    plan = ask(*asked)
    return time.process_time() - begin, plan


def _highs(size: int, seed: int, time_limit: float, answers: SimpleQueue[tuple[float, Plan, int]]) -> None:
    """What HiGHS makes of the same choice, with its CPU and the memory of its process."""
    answers.put((*_timed(solve_as_milp, catalogue(size, seed, 1, 0.15), time_limit), megabytes()))


def beside_highs(size: int, seed: int, time_limit: float, patience: float) -> bool:
    """Print both; whether they agree, or HiGHS had no time to."""
    cpu, ours = fastest(catalogue(size, seed, 1, 0.15))
    print(f"{size:6} a role  planner {told(ours, cpu)}  {megabytes()} MB", flush=True)
    processes = get_context("spawn")
    answers = processes.SimpleQueue()
    rival = processes.Process(target=_highs, args=(size, seed, time_limit, answers), daemon=True)
    rival.start()
    rival.join(time_limit + patience)
    if rival.is_alive() or answers.empty():
        rival.kill()
        rival.join()
        late = f"{time_limit + patience:.0f} s, nor look at its limit of {time_limit:.0f} s"
        print(f"{'':13}  HiGHS   did not end in {late}: no system, no bound", flush=True)
        return True
    highs_cpu, theirs, memory = answers.get()
    print(f"{'':13}  HiGHS   {told(theirs, highs_cpu)}  {memory} MB", flush=True)
    assert ours.best is not None
    if theirs.outcome is Outcome.OUT_OF_TIME:
        lacks = f"its best lacks {ours.best.value - theirs.best.value:.2g}" if theirs.best else "it found no system"
        print(
            f"{'':13}  HiGHS did not end in {time_limit:.0f} s: {highs_cpu / cpu:.0f} times the CPU; {lacks}",
            flush=True,
        )
        return theirs.best is None or theirs.best.value <= ours.best.value + CLOSE
    same = theirs.best and abs(ours.best.value - theirs.best.value) <= CLOSE
    print(
        f"{'':13}  HiGHS took {highs_cpu / cpu:.0f} times the CPU, {'same worth' if same else 'DIFFERENT'}", flush=True
    )
    return bool(same)


def alone(size: int, seed: int) -> None:
    for words, voices, scatter in (
        ("one voice group", 1, 0.15),
        ("50 voice groups", 50, 0.15),
        ("worth follows price closely", 1, 0.01),
    ):
        cpu, plan = fastest(catalogue(size, seed, voices, scatter))
        print(
            f"{size:6} a role  planner {told(plan, cpu)}  {megabytes()} MB  {words}; {plan.pairs:,} pairs bounded, "
            f"{plan.combinations:,} systems looked at, {plan.nodes} parts",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description="The planner beside HiGHS.")
    parser.add_argument("--sizes", type=int, nargs="*", default=[20, 60, 100, 300, 1000])
    parser.add_argument("--alone", type=int, nargs="*", default=[1000, 10_000])
    parser.add_argument("--time-limit", type=float, default=60.0)
    parser.add_argument("--patience", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for size in asked.alone:
        alone(size, asked.seed)
    agreed = [beside_highs(size, asked.seed, asked.time_limit, asked.patience) for size in asked.sizes]
    if not all(agreed):
        raise SystemExit("the planner and HiGHS differ")


if __name__ == "__main__":
    main()
