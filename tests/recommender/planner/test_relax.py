"""What stands in the way of a system, on choices small enough to see it."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender.planner.milp import dense
from triptych.recommender.money.planner.problem import Candidates, LinearRule, Outcome, PlanProblem
from triptych.recommender.money.planner.relax import Bar, Barred, Obstacle, Relaxation, relaxations
from triptych.recommender.money.planner.solve import solve

MAINS = Candidates("mains", np.array([100_000, 160_000]), np.array([1.0, 2.0]))
CENTRE = Candidates("centre", np.array([30_000, 45_000]), np.array([1.0, 2.0]))
SUB = Candidates("sub", np.array([40_000]), np.array([1.0]))
ONE_MAIN = LinearRule("centre at least one main", {"centre": 2, "mains": -1}, unit=2)
CHOICE = PlanProblem(MAINS, CENTRE, (SUB,), 400_000, (ONE_MAIN,))


def smallest(problem: PlanProblem, barred: tuple[Barred, ...] = ()) -> tuple[Relaxation, ...]:
    return relaxations(problem, barred, within=0)


def test_a_rule_that_no_centre_keeps_gives_way_by_what_the_best_one_lacks() -> None:
    # The dearest centre is 450.00, one of the cheapest mains 500.00.
    assert solve(CHOICE).outcome is Outcome.IMPOSSIBLE
    (only,) = smallest(CHOICE)
    assert (only.obstacle, only.names, only.by, only.within) == (
        Obstacle.RULE,
        ("centre at least one main",),
        (5_000.0,),
        0.0,
    )


def test_a_limit_that_is_too_low_rises_to_the_cheapest_system_that_keeps_the_rules() -> None:
    short = replace(CHOICE, rules=(), limit=150_000, spent=10_000)
    (only,) = smallest(short)
    assert (only.obstacle, only.by) == (Obstacle.LIMIT, (30_000.0,))
    assert solve(short.with_limit(180_000)).outcome is Outcome.BEST
    assert solve(short.with_limit(179_999)).outcome is Outcome.IMPOSSIBLE


def test_a_limit_rises_for_the_contingency_too() -> None:
    left = LinearRule("5 % left", dict.fromkeys(("mains", "centre", "sub"), -20), 0, 19, 20)
    short = replace(CHOICE, rules=(left,), limit=150_000)
    limit = next(one for one in smallest(short) if one.obstacle is Obstacle.LIMIT)
    enough = 150_000 + int(limit.by[0])
    assert solve(short.with_limit(enough)).outcome is Outcome.BEST
    assert solve(short.with_limit(enough - 1)).outcome is Outcome.IMPOSSIBLE


def test_a_gate_gives_way_by_the_least_that_lets_a_system_in() -> None:
    cost, short = np.array([52_000, 60_000]), np.array([12.0, 3.0])
    wide = Barred(Bar("envelope", "mm"), "centre", cost, short, names=("the wider", "the narrower"))
    match = dense(np.array([[1.0, 1.0], [-np.inf, 1.0]]))
    gate = next(one for one in smallest(replace(CHOICE, match=match), (wide,)) if one.obstacle is Obstacle.GATE)
    assert (gate.names, gate.by, gate.within) == (("envelope",), (3.0,), 0.0)
    assert gate.system is not None
    assert (gate.system.chosen["centre"], gate.role, gate.lets_in) == (3, "centre", "the narrower")


def test_rules_that_come_to_the_same_give_way_together() -> None:
    twin = LinearRule("mains at most two centres", {"centre": 4, "mains": -2}, unit=2)
    (only,) = smallest(replace(CHOICE, rules=(ONE_MAIN, twin)))
    assert (only.names, only.by) == ((ONE_MAIN.name, twin.name), (5_000.0, 10_000.0))


def test_two_rules_give_way_where_one_is_not_enough() -> None:
    dear = LinearRule("sub at least 500", {"sub": 1}, 50_000)
    (both,) = smallest(replace(CHOICE, rules=(ONE_MAIN, dear)))
    assert (both.names, both.by, both.within) == ((ONE_MAIN.name, dear.name), (5_000.0, 10_000.0), np.inf)


def test_a_role_without_candidates_is_named() -> None:
    nobody = Candidates("sub", np.zeros(0, dtype=np.int64), np.zeros(0))
    (only,) = smallest(replace(CHOICE, others=(nobody,)))
    assert (only.obstacle, only.names) == (Obstacle.ROLE, ("sub",))


def test_a_role_without_candidates_gets_those_that_a_gate_keeps_out() -> None:
    nobody = Candidates("sub", np.zeros(0, dtype=np.int64), np.zeros(0))
    large = Barred(Bar("envelope", "mm"), "sub", np.array([40_000]), np.array([8.0]))
    (only,) = smallest(replace(CHOICE, rules=(), others=(nobody,)), (large,))
    assert (only.obstacle, only.names, only.by) == (Obstacle.GATE, ("envelope",), (8.0,))


@pytest.mark.whole
@given(seed=st.integers(0, 2**32))
@settings(max_examples=example_count(2 / 3))
def test_one_gate_that_leaves_several_roles_empty_gives_way_for_all_of_them_at_once(seed: int) -> None:
    generator = np.random.default_rng(seed)
    roles = ("mains", "centre", "sub")
    empty = {*generator.choice(roles, 2, replace=False).tolist()}
    there = {role: generator.integers(1, 50, 0 if role in empty else 3) for role in roles}
    mains, centre, sub = (Candidates(role, cost, np.zeros(len(cost))) for role, cost in there.items())
    problem = PlanProblem(mains, centre, (sub,), int(generator.integers(20, 120)))
    level = Bar("level", "dB")
    barred = tuple(
        Barred(replace(level, place=place), role, generator.integers(1, 50, 3), generator.integers(1, 9, 3) / 2)
        for role in roles
        for place in ("shelf", "stand")
        if generator.random() < 0.9 or (role in empty and place == "shelf")
    )
    ways = {role: [(cost, 0.0) for cost in some.tolist()] for role, some in there.items()}
    for one in barred:
        ways[one.role] += zip(one.cost.tolist(), one.short.tolist(), strict=True)
    whole = [
        max(short for _, short in one)
        for one in product(*ways.values())
        if sum(cost for cost, _ in one) <= problem.limit
    ]
    found = smallest(problem, barred)
    if whole:
        (only,) = found
        assert (only.obstacle, only.by, only.bar) == (Obstacle.GATE, (min(whole),), level)
        assert {role for role in empty if role in only.role} == empty
    else:
        assert {one.obstacle for one in found} == {Obstacle.ROLE}


@given(seed=st.integers(0, 2**32))
@settings(max_examples=example_count(2 / 3))
def test_no_smaller_relaxation_is_found_by_trying_everything(seed: int) -> None:
    generator = np.random.default_rng(seed)
    roles = ("mains", "centre", "sub")
    mains, centre, sub = (Candidates(role, generator.integers(1, 50, 4), generator.random(4)) for role in roles)
    rules = tuple(
        LinearRule(f"rule {at}", dict(zip(roles, map(int, generator.integers(-3, 4, 3)), strict=True)), int(least))
        for at, least in enumerate(generator.integers(-20, 60, 2))
    )
    problem = PlanProblem(mains, centre, (sub,), 120, rules)
    if solve(problem).outcome is not Outcome.IMPOSSIBLE:
        return
    costs = [dict(zip(roles, map(int, one), strict=True)) for one in product(mains.cost, centre.cost, sub.cost)]
    for found in smallest(problem):
        if found.obstacle is Obstacle.LIMIT:
            fitting = [sum(one.values()) for one in costs if all(holds(rule, one) for rule in rules)]
            assert found.by[0] == min(fitting) - problem.limit
        elif len(found.names) == 1:
            (dropped,) = (rule for rule in rules if rule.name == found.names[0])
            rest = [rule for rule in rules if rule is not dropped]
            fitting = [
                dropped.least - left(dropped, one)
                for one in costs
                if sum(one.values()) <= problem.limit and all(holds(rule, one) for rule in rest)
            ]
            assert found.by[0] == min(fitting)


def left(rule: LinearRule, costs: dict[str, int]) -> int:
    return sum(share * costs[role] for role, share in rule.coefficients.items())


def holds(rule: LinearRule, costs: dict[str, int]) -> bool:
    return left(rule, costs) >= rule.least


def test_a_choice_that_is_possible_needs_no_relaxation() -> None:
    assert solve(replace(CHOICE, rules=())).outcome is Outcome.BEST
    assert [one.by for one in smallest(replace(CHOICE, rules=()))] == []


@pytest.mark.parametrize("limit", [1, 50_000])
def test_a_hopeless_limit_is_still_told_what_would_do(limit: int) -> None:
    (only,) = smallest(replace(CHOICE, rules=(), limit=limit))
    assert only.by == (170_000.0 - limit,)


def test_a_relaxation_may_be_found_to_within_a_sum() -> None:
    (only,) = relaxations(CHOICE, within=700)
    assert 5_000 <= only.by[0] <= 5_700
    assert only.within == 700


def test_the_limit_is_found_where_a_rule_on_it_pulls_another_way() -> None:
    # The dearer mains need less left over than the cheaper: the cheapest system is not the one with the lowest limit.
    left = LinearRule("left", {"mains": 3, "centre": -1, "sub": -1}, 500_000, 1)
    bent = replace(CHOICE, rules=(left,), limit=100_000)
    limit = next(one for one in smallest(bent) if one.obstacle is Obstacle.LIMIT)
    costs = [(m, c) for m in (100_000, 160_000) for c in (30_000, 45_000)]
    needed = min(max(m + c + 40_000, 500_000 - 3 * m + c + 40_000) for m, c in costs)
    assert needed == 230_000
    assert limit.by == (needed - 100_000.0,)
