"""Knapsacks as choices: each thing is a role that is filled by taking it or leaving it."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from triptych.recommender.money.planner.problem import Candidates, Outcome, PlanProblem, nothing
from triptych.recommender.money.planner.solve import solve

PUBLISHED = Path(__file__).parents[2] / "published" / "knapsack.csv"
with PUBLISHED.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def take_or_leave(at: int, weight: int, profit: int) -> Candidates:
    return Candidates(f"thing {at}", np.array([0, weight]), np.array([0.0, profit]))


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['name']}: {row['source']}" for row in ROWS])
def test_published_knapsack(row: dict[str, str]) -> None:
    weights, profits = ([int(word) for word in row[key].split()] for key in ("weights", "profits"))
    things = tuple(take_or_leave(at, *thing) for at, thing in enumerate(zip(weights, profits, strict=True)))
    plan = solve(PlanProblem(nothing("mains"), nothing("centre"), things, int(row["capacity"])))
    assert plan.outcome is Outcome.BEST
    assert plan.best is not None
    assert plan.best.value == float(row["optimum"])
    assert "".join(str(plan.best.chosen[thing.role]) for thing in things) == row["chosen"]


# Own example, computed by trying all 27 combinations; no published multiple-choice instance could be confirmed.
# At 800 two systems are worth 11.9, for 770 and for 720; the cheaper one comes first.
CENTRE = Candidates("centre", np.array([300, 450, 700]), np.array([6.0, 7.5, 8.8]))
MOUNT = Candidates("mount", np.array([80, 150, 260]), np.array([2.0, 3.0, 3.4]))
EXTRA = Candidates("extra", np.array([0, 60, 120]), np.array([0.0, 1.0, 1.4]))


@pytest.mark.parametrize(
    ("limit", "value", "cost", "feasible"),
    [(500, 9.4, 500, 4), (650, 10.9, 650, 12), (700, 11.5, 660, 14), (800, 11.9, 720, 18), (1000, 13.2, 970, 25)],
)
def test_own_multiple_choice_example(limit: int, value: float, cost: int, feasible: int) -> None:
    plan = solve(PlanProblem(nothing("mains"), CENTRE, (MOUNT, EXTRA), limit), systems=27)
    assert plan.best is not None
    assert plan.best.value == pytest.approx(value, rel=1e-12)
    assert plan.best.cost == cost
    assert len(plan.systems) == feasible


def test_a_limit_is_reached_to_the_last_minor_unit_and_not_passed() -> None:
    assert solve(PlanProblem(nothing("mains"), CENTRE, (MOUNT, EXTRA), 380)).outcome is Outcome.BEST
    assert solve(PlanProblem(nothing("mains"), CENTRE, (MOUNT, EXTRA), 379)).outcome is Outcome.IMPOSSIBLE
