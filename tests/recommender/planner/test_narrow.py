"""What is worth so much lies whole in the narrowed choice, and the cheapest of it is found."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.recommender.planner.milp import system_of
from tests.recommender.planner.test_exact import keeps_rules, problems
from triptych.recommender.money.planner.narrow import capped, narrowed
from triptych.recommender.money.planner.problem import PlanProblem
from triptych.recommender.money.planner.solve import solve

pytestmark = pytest.mark.examples


def worth_it(problem: PlanProblem, least: float) -> list[tuple[float, int]]:
    """Worth and cost of every system worth so much."""
    every = product(*(range(len(role)) for role in problem.roles))
    found = (system_of(problem, list(chosen)) for chosen in every if keeps_rules(problem, chosen))
    return [(one.value, one.cost) for one in found if one.value >= least - 1e-9]


@given(problem=problems(), band=st.sampled_from([0.0, 0.5, 3.0, 20.0]))
@settings(deadline=None, max_examples=60)
def test_every_system_worth_so_much_is_left_and_the_cheapest_found(problem: PlanProblem, band: float) -> None:
    best = solve(problem, 1).best
    if best is None:
        return
    every = worth_it(problem, best.value - band)
    part, left = narrowed(problem, best.value - band)
    found = solve(part, 10_000, least=best.value - band).systems
    key = sorted((round(value, 6), cost) for value, cost in every)
    assert sorted((round(one.value, 6), one.cost) for one in found) == key
    cheapest = min(cost for _, cost in every)
    # with this tolerance the first that is found ends the search
    assert solve(capped(part, cheapest), 1, tolerance=1e18, least=best.value - band).best is not None
    assert solve(capped(part, cheapest - 1), 1, tolerance=1e18, least=best.value - band).best is None
    for one in found:
        chosen = [int(items[one.chosen[role.role]]) for role, items in zip(problem.roles, left, strict=True)]
        again = system_of(problem, chosen)
        assert again.cost == one.cost
        assert again.value == pytest.approx(one.value)
    assert np.isfinite(best.value)
