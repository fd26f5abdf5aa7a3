"""A mend against trying everything, and against what it promises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.conftest import example_count
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.mend import Demand, MendOutcome, mend, must_demands
from triptych.recommender.money.budget.rules import RULE_SETS, Duty, RuleSet

pytestmark = pytest.mark.whole

PIECES = {"mains": 2, "centre": 1, "surrounds": 2, "sub": 1, "accessories": 1}
SETS = st.sampled_from(list(RULE_SETS.values()))


@st.composite
def budgets(draw: st.DrawFn, largest: int, roles: tuple[str, ...] = tuple(PIECES)) -> Budget:
    lines = tuple(
        BudgetLine(
            role, draw(st.integers(1, largest)), PIECES[role], fixed=draw(st.sampled_from([False, False, False, True]))
        )
        for role in roles
    )
    return Budget("JPY", draw(st.integers(largest // 2, len(roles) * largest)), True, lines)


NEVER = 10**9
"""More than any change in these budgets."""


def kept_in(demands: Sequence[Demand], every: Sequence[NDArray[np.int64]], limit: int) -> NDArray[np.bool_]:
    """In which of the systems of amounts every demand is met, as `Demand.met` says of one."""
    kept = np.ones(np.broadcast_shapes(*(amounts.shape for amounts in every)), dtype=bool)
    for demand in demands:
        left = sum(a * amounts for a, amounts in zip(demand.coefficients, every, strict=True))
        kept &= left + demand.limit * limit >= demand.least
    return kept


def strict(rules: RuleSet) -> RuleSet:
    """The same rules, all of them musts."""
    return replace(rules, rules=tuple(replace(rule, kind=Duty.MUST) for rule in rules.rules))


@pytest.mark.examples
@given(budget=budgets(7, ("mains", "centre", "surrounds")), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_no_smaller_change_is_found_by_trying_everything(budget: Budget, rules: RuleSet) -> None:
    demands = list(must_demands(budget, strict(rules)))
    old = [line.amount for line in budget.lines]
    # every system of amounts at once: numpy's whole numbers are exact here
    every = np.meshgrid(*([line.amount] if line.fixed else range(1, 40) for line in budget.lines), sparse=True)
    moved = sum(abs(new - before) for new, before in zip(every, old, strict=True))
    changes = np.where(kept_in(demands, every, budget.limit), moved, NEVER).min()
    mended = mend(budget, strict(rules))
    if changes < NEVER:
        assert mended.total_change == changes
    else:
        assert mended.outcome in (MendOutcome.ANOTHER_LIMIT, MendOutcome.NO_LIMIT_WOULD_DO)


@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_a_mended_budget_keeps_every_must_within_the_limit_and_is_proven(budget: Budget, rules: RuleSet) -> None:
    mended = mend(budget, rules)
    assume(mended.outcome is MendOutcome.MENDED)
    lines = zip(budget.lines, mended.amounts, strict=True)
    after = replace(budget, lines=tuple(replace(line, price=amount) for line, amount in lines))
    checked = check(after, rules)
    assert not checked.broken
    assert not checked.over
    assert mended.proven
    assert all(new == line.amount for line, new in zip(budget.lines, mended.amounts, strict=True) if line.fixed)


@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_the_changes_add_up_to_the_new_amounts(budget: Budget, rules: RuleSet) -> None:
    mended = mend(budget, rules)
    amounts = [line.amount for line in budget.lines]
    for change in mended.changes:
        assert change.by > 0
        for place, sign in ((change.source, -1), (change.target, 1)):
            if place is not None:
                amounts[place] += sign * change.by
    assert tuple(amounts) == mended.amounts


@pytest.mark.examples
@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_the_limit_that_would_do_does_and_no_smaller_one(budget: Budget, rules: RuleSet) -> None:
    fixed = replace(budget, lines=tuple(replace(line, fixed=line.role != "centre") for line in budget.lines), limit=1)
    answer = mend(fixed, rules)
    assume(answer.outcome is MendOutcome.ANOTHER_LIMIT and answer.limit is not None)
    assert answer.limit is not None
    assert mend(replace(fixed, limit=answer.limit), rules).outcome in (MendOutcome.MENDED, MendOutcome.NOTHING_TO_MEND)
    assert mend(replace(fixed, limit=answer.limit - 1), rules).outcome is MendOutcome.ANOTHER_LIMIT
