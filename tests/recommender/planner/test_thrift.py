"""Systems in which nothing could be exchanged for something cheaper that is as good: against trying everything."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings

from tests.recommender.planner.milp import system_of
from tests.recommender.planner.test_exact import ROLES, keeps_rules, problems, shop
from triptych.recommender.money.planner.problem import LinearRule, Outcome, PlanProblem
from triptych.recommender.money.planner.solve import solve
from triptych.recommender.money.planner.thrift import Thrift, ThriftAmong

pytestmark = pytest.mark.plan


def worth_of(problem: PlanProblem, chosen: tuple[int, ...]) -> float:
    """What a system is worth before any rule costs it something. [grains]."""
    free = replace(problem, rules=tuple(rule for rule in problem.rules if rule.hard))
    return round(system_of(free, list(chosen)).value / problem.grain)


def worth_their_price(problem: PlanProblem) -> list[tuple[float, int]]:
    """Worth and cost of all systems in which nothing cheaper would do as well, by trying every exchange; best first."""
    kept = {one: worth_of(problem, one) for one in product(*(range(len(role)) for role in problem.roles))
            if keeps_rules(problem, one) and np.isfinite(system_of(problem, list(one)).value)}  # fmt: skip

    def spared(one: tuple[int, ...]) -> bool:
        others = ((*one[:role], at, *one[role + 1 :]) for role, some in enumerate(problem.roles)
                  for at in np.flatnonzero(some.cost < some.cost[one[role]]).tolist())  # fmt: skip
        return any(kept.get(other, -np.inf) >= kept[one] for other in others)

    found = (system_of(problem, list(one)) for one in kept if not spared(one))
    return sorted(((one.value, one.cost) for one in found), key=lambda one: (-one[0], one[1]))


@given(problem=problems())
@settings(deadline=None)
def test_the_best_five_are_those_of_trying_every_exchange(problem: PlanProblem) -> None:
    expected = worth_their_price(problem)[:5]
    plan = solve(problem, thrift=ThriftAmong.of(Thrift(problem)))
    assert plan.outcome is (Outcome.BEST if expected else Outcome.IMPOSSIBLE)
    assert [one.cost for one in plan.systems] == [cost for _, cost in expected]
    assert [one.value for one in plan.systems] == pytest.approx([value for value, _ in expected], rel=1e-9)
    assert plan.gap == 0.0


@pytest.mark.parametrize("price", [25.0 / 400_000, 400.0 / 400_000])
def test_in_a_large_choice_no_part_of_the_best_has_a_cheaper_equal(price: float) -> None:
    """Every exchange of every part, where shares are dear enough to be bought for."""
    problem = shop(60, 11, 3, price)
    bought, thrifty = solve(problem).systems[0], solve(problem, thrift=ThriftAmong.of(Thrift(problem))).systems
    for system in thrifty:
        chosen = tuple(system.chosen[role] for role in ROLES)
        worth = worth_of(problem, chosen)
        for role, some in enumerate(problem.roles):
            for at in np.flatnonzero(some.cost < some.cost[chosen[role]]).tolist():
                other = (*chosen[:role], at, *chosen[role + 1 :])
                assert not keeps_rules(problem, other) or worth_of(problem, other) < worth
    assert thrifty[0].value <= bought.value


def test_what_must_be_kept_is_paid_for() -> None:
    problem = shop(12, 3, 1, 1.0)
    musts = tuple(LinearRule(one.name, one.coefficients, one.least, one.limit, one.unit) for one in problem.rules)
    held = replace(problem, rules=musts)
    bare, thrifty = solve(held, 1), solve(held, 1, thrift=ThriftAmong.of(Thrift(held)))
    assert bare.best is not None
    assert thrifty.best is not None
    assert thrifty.best.value == bare.best.value
