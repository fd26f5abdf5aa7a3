"""The best few systems against trying everything, and the best against a general solver's."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.recommender.planner.milp import dense, lack, solve_as_milp, system_of
from triptych.recommender.money.planner import pairs
from triptych.recommender.money.planner.problem import (
    Candidates,
    FloatArray,
    IntArray,
    LinearRule,
    Outcome,
    PlanProblem,
    ProblemError,
)
from triptych.recommender.money.planner.solve import solve

MEASURES = ("load", "extra")
ROLES = ("mains", "centre", "surrounds", "heights", "sub")


def keeps_rules(problem: PlanProblem, chosen: tuple[int, ...]) -> bool:
    cost = sum(int(role.cost[at]) for role, at in zip(problem.roles, chosen, strict=True))
    return cost + problem.spent <= problem.limit and all(
        lack(problem, rule, chosen) == 0 for rule in problem.rules if rule.hard
    )


def best_by_trying_everything(problem: PlanProblem, systems: int) -> list[tuple[float, int]]:
    """Worth and cost of the best, of equals the cheaper first."""
    kept = (chosen for chosen in product(*(range(len(role)) for role in problem.roles)) if keeps_rules(problem, chosen))
    found = (system_of(problem, list(chosen)) for chosen in kept)
    return sorted(
        ((one.value, one.cost) for one in found if np.isfinite(one.value)), key=lambda one: (-one[0], one[1])
    )[:systems]


@st.composite
def problems(draw: st.DrawFn) -> PlanProblem:
    """Small choices with ties, forbidden pairs, voice groups, things for nothing, and rules of any sign.

    Some of the rules may be missed at a price, dear and cheap.
    """
    generator = np.random.default_rng(draw(st.integers(0, 2**32)))
    dear, groups = draw(st.sampled_from([3, 20, 1000])), draw(st.integers(1, 3))
    coarse = draw(st.booleans())

    def worth(*shape: int) -> FloatArray:
        return generator.integers(0, 6, shape).astype(float) if coarse else 5 * generator.random(shape)

    def measured(size: int) -> dict[str, IntArray]:
        return {name: generator.integers(-dear, dear, size) for name in MEASURES if generator.random() < 0.7}

    sizes = [draw(st.integers(1, 4)) for _ in ROLES]
    shapes = [(size,) if at < 2 or draw(st.booleans()) else (groups, size) for at, size in enumerate(sizes)]
    mains, centre, *others = (
        Candidates(role, generator.integers(0, dear, size), worth(*shape), measured(size))
        for role, size, shape in zip(ROLES, sizes, shapes, strict=True)
    )
    match = worth(sizes[0], sizes[1])
    match[generator.random(match.shape) < 0.15] = -np.inf
    rules = tuple(
        LinearRule(
            f"rule {at}",
            {role: int(share) for role, share in zip(ROLES, generator.integers(-3, 4, 5), strict=True)},
            int(generator.integers(-3 * dear, dear // 2 + 1)),
            int(generator.integers(-1, 2)),
            int(generator.integers(1, 4)),
            draw(st.sampled_from([np.inf, 0.0, 0.001, 0.0125, 1.0])),
            {}
            if draw(st.booleans())
            else {(role, name): int(generator.integers(-1, 2)) for role in ROLES for name in MEASURES},
        )
        for at in range(draw(st.integers(0, 3)))
    )
    # what fits: of two roles the one at least what the other asks
    rules += tuple(
        LinearRule(f"fit {one}", {}, measures={(one, "load"): 1, ("sub", "load"): -1}, fixed=True)
        for one in ROLES[: draw(st.integers(0, 4))]
    )
    voice = generator.integers(0, groups, sizes[0])
    limit = int(generator.integers(dear, 5 * dear))
    kin = generator.integers(0, 2, sizes[0])
    most = np.array([match[kin == one].max(axis=0, initial=-np.inf) for one in (0, 1)])
    bounded, closer = draw(st.booleans()), draw(st.booleans())
    near = np.minimum(match + generator.random(match.shape), most[kin])
    return PlanProblem(
        mains, centre, tuple(others), limit, rules, dense(match), voice, int(generator.integers(0, dear)),
        most if bounded else None, kin if bounded else None,
        (lambda rows, some: near[rows, some]) if bounded and closer else None,
    )  # fmt: skip


@pytest.mark.examples
@given(problem=problems())
@settings(deadline=None)
def test_the_best_five_are_those_of_trying_everything_and_of_equals_the_cheapest(problem: PlanProblem) -> None:
    expected = best_by_trying_everything(problem, 5)
    plan = solve(problem)
    assert plan.outcome is (Outcome.BEST if expected else Outcome.IMPOSSIBLE)
    found = [(system.value, system.cost) for system in plan.systems]
    assert [cost for _, cost in found] == [cost for _, cost in expected]
    assert [value for value, _ in found] == pytest.approx([value for value, _ in expected], rel=1e-9)
    assert plan.gap == 0.0


@pytest.mark.examples
@given(problem=problems())
def test_the_same_is_found_where_pairs_are_looked_at_in_parts(problem: PlanProblem) -> None:
    whole = [(system.value, system.cost) for system in solve(problem).systems]
    with pytest.MonkeyPatch.context() as small:
        small.setattr(pairs, "_RUN", 3)
        small.setattr(pairs, "_LITTLE", 2)
        small.setattr(pairs, "_WASTE", 1)
        assert [(system.value, system.cost) for system in solve(problem).systems] == whole


@pytest.mark.examples
@given(problem=problems())
def test_systems_are_different_keep_the_rules_and_are_worth_what_is_said(problem: PlanProblem) -> None:
    plan = solve(problem)
    chosen = [tuple(system.chosen[role] for role in ROLES) for system in plan.systems]
    assert len(set(chosen)) == len(chosen)
    assert all(keeps_rules(problem, one) for one in chosen)
    for one, system in zip(chosen, plan.systems, strict=True):
        again = system_of(problem, list(one))
        assert again.value == pytest.approx(system.value, rel=1e-12)
        assert again.cost == system.cost


def shop(size: int, seed: int, voices: int, price: float = np.inf) -> PlanProblem:
    """A choice of the size of a real catalogue, with the rules of the default set written out, at a price or held."""
    generator = np.random.default_rng(seed)
    ranges = {
        "mains": (20_000, 250_000, 10.0),
        "centre": (10_000, 120_000, 6.0),
        "surrounds": (10_000, 100_000, 4.0),
        "heights": (8_000, 80_000, 2.0),
        "sub": (20_000, 150_000, 5.0),
    }

    def candidates(role: str) -> Candidates:
        low, high, weight = ranges[role]
        cost = generator.integers(low, high, size)
        shape = (size,) if role in ("mains", "centre") else (voices, size)
        return Candidates(role, cost, weight * (np.sqrt(cost / high) + 0.15 * generator.standard_normal(shape)))

    mains, centre, *others = map(candidates, ROLES)
    fixed = 90_000
    rules = (
        LinearRule("centre at least one main", {"centre": 2, "mains": -1}, unit=2, price=price),
        LinearRule("centre at least one surround", {"centre": 2, "surrounds": -1}, unit=2, price=price),
        LinearRule("centre at least one height", {"centre": 2, "heights": -1}, unit=2, price=price),
        LinearRule("sub at least 15 %", {role: 85 if role == "sub" else -15 for role in ROLES}, 15 * fixed, 0, 100,
                   price),
        LinearRule("sub at most 35 %", {role: -65 if role == "sub" else 35 for role in ROLES}, -35 * fixed, 0, 100,
                   price),
        LinearRule("5 % left", dict.fromkeys(ROLES, -20), 20 * fixed, 19, 20, price),
    )  # fmt: skip
    match = 8 * generator.random((size, size))
    voice = generator.integers(0, voices, size)
    return PlanProblem(mains, centre, tuple(others), 400_000, rules, dense(match), voice, fixed)


@pytest.mark.examples
@pytest.mark.parametrize(
    ("size", "seed", "voices", "price"),
    [
        (60, 1, 1, np.inf),
        (60, 2, 3, np.inf),
        (90, 3, 1, 25.0 / 400_000),
        (60, 2, 3, 10.0 / 400_000),
        (120, 4, 1, np.inf),
    ],
)
def test_a_general_solver_finds_nothing_better(size: int, seed: int, voices: int, price: float) -> None:
    problem = shop(size, seed, voices, price)
    # however long a busy machine takes
    plan, other = (search(problem, time_limit=np.inf) for search in (solve, solve_as_milp))
    assert (plan.outcome, other.outcome) == (Outcome.BEST, Outcome.BEST)
    assert plan.best is not None
    assert other.best is not None
    # HiGHS keeps rows within 1e-6 of their scale, so its answer is judged first, exactly.
    assert keeps_rules(problem, tuple(other.best.chosen[role] for role in ROLES))
    # and to HiGHS a worth is what it is, where it is counted in thousandths here
    assert other.best.value <= plan.best.value <= other.best.value + 0.001 * (len(ROLES) + 1 + len(problem.rules))


@pytest.mark.parametrize("keep", [50, 400])
def test_pairs_that_are_not_kept_at_first_are_not_lost(monkeypatch: pytest.MonkeyPatch, keep: int) -> None:
    problem = shop(60, 5, 3)
    whole = solve(problem)
    monkeypatch.setattr("triptych.recommender.money.planner.solve.KEEP", keep)
    assert [system.value for system in solve(problem).systems] == [system.value for system in whole.systems]


def test_a_part_too_large_to_look_through_is_split(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = shop(40, 6, 1)
    whole = solve(problem)
    monkeypatch.setattr("triptych.recommender.money.planner.search._MANY", 30)
    split = solve(problem)
    assert split.nodes > whole.nodes
    assert [system.value for system in split.systems] == [system.value for system in whole.systems]


def test_prices_a_minor_unit_apart_are_told_apart() -> None:
    cost, worth = np.array([100_000, 100_001]), np.array([1.0, 2.0])
    sub = Candidates("sub", np.array([50_000]), np.array([1.0]))
    problem = PlanProblem(Candidates("mains", cost, worth), Candidates("centre", cost, worth), (sub,), 250_001)
    assert [system.cost for system in solve(problem).systems] == [250_001, 250_001, 250_000]


def test_a_dearer_and_poorer_one_is_taken_where_only_it_keeps_a_floor() -> None:
    sub = Candidates("sub", np.array([100, 300]), np.array([9.0, 1.0]))
    one = Candidates("mains", np.array([500]), np.array([1.0]))
    floor = LinearRule("sub at least 30 %", {"sub": 70, "mains": -30})
    bare = PlanProblem(one, Candidates("centre", np.array([0]), np.array([0.0])), (sub,), 1000)
    free, held = solve(bare).best, solve(replace(bare, rules=(floor,))).best
    assert free is not None
    assert held is not None
    assert (free.chosen["sub"], held.chosen["sub"]) == (0, 1)


def test_out_of_time_says_so_and_bounds_what_it_may_have_missed() -> None:
    problem = shop(120, 7, 1)
    hurried, whole = solve(problem, time_limit=0.0), solve(problem)
    assert hurried.outcome is Outcome.OUT_OF_TIME
    assert whole.best is not None
    assert hurried.bound >= whole.best.value
    assert hurried.gap > 0


def test_nothing_to_choose_from_is_impossible() -> None:
    nobody = Candidates("sub", np.zeros(0, dtype=np.int64), np.zeros(0))
    one = Candidates("mains", np.array([5]), np.array([1.0]))
    plan = solve(PlanProblem(one, Candidates("centre", np.array([5]), np.array([1.0])), (nobody,), 100))
    assert (plan.outcome, plan.systems, plan.gap) == (Outcome.IMPOSSIBLE, (), 0.0)


ONE = Candidates("mains", np.array([5]), np.array([1.0]))
OTHER = Candidates("centre", np.array([5]), np.array([1.0]))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Candidates("sub", np.array([1.5]), np.array([1.0])), "whole minor units"),
        (lambda: Candidates("sub", np.array([-1]), np.array([1.0])), "below zero"),
        (lambda: Candidates("sub", np.array([1]), np.array([np.nan])), "unknown"),
        (lambda: Candidates("sub", np.array([1, 2]), np.array([1.0])), "state both"),
        (lambda: PlanProblem(ONE, ONE, (), 10), "once"),
        (lambda: PlanProblem(ONE, OTHER, (), 10, (LinearRule("r", {"sub": 1}),)), "no role"),
        (lambda: PlanProblem(ONE, OTHER, (), 10, (LinearRule("r", {"mains": 2**61}),)), "digits"),
        (lambda: PlanProblem(ONE, OTHER, (), 10, voice=np.array([0, 1])), "one whole number for each"),
        (lambda: solve(PlanProblem(ONE, OTHER, (), 10, match=dense(np.array([[np.nan]])))), "-inf to forbid"),
        (lambda: solve(PlanProblem(ONE, OTHER, (), 10, match=lambda rows, some: np.zeros((1, 2)))), "match gave"),
    ],
)
def test_a_choice_that_cannot_be_solved_is_refused(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(ProblemError, match=words):
        make()
