"""A rule set over roles to be chosen says the same as the check says of the lines once they are chosen."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.rules import RULE_SETS, Duty, RuleSet
from triptych.recommender.money.planner.linear_rules import linear_rules
from triptych.recommender.money.planner.problem import LinearRule

PIECES = {"mains": 2, "centre": 1, "surrounds": 2, "heights": 4, "sub": 1}
PRICES = st.integers(1, 300_000)


def holds(rule: LinearRule, costs: dict[str, int], limit: int) -> bool:
    return sum(share * costs[role] for role, share in rule.coefficients.items()) + rule.limit * limit >= rule.least


@pytest.mark.parametrize("rule_set", RULE_SETS.values(), ids=RULE_SETS.keys())
@given(prices=st.lists(PRICES, min_size=5, max_size=5), electronics=PRICES, limit=st.integers(10_000, 2_000_000))
def test_rows_and_check_agree(rule_set: RuleSet, prices: list[int], electronics: int, limit: int) -> None:
    costs = dict(zip(PIECES, prices, strict=True))
    fixed = Budget("EUR", limit, True, (BudgetLine("electronics", electronics), BudgetLine("accessories", 15_000)))
    lines = tuple(BudgetLine(role, costs[role], pieces) for role, pieces in PIECES.items())
    judged = check(replace(fixed, lines=(*lines, *fixed.lines)), rule_set)
    rows = linear_rules(rule_set, PIECES, fixed)
    for result in judged.results:
        own = [row for row in rows if row.name == result.rule.name]
        assert own
        assert result.holds == all(holds(row, costs, limit) for row in own)


@given(owned=PRICES)
def test_no_rule_judges_what_is_owned_nor_a_share_of_what_it_is_part_of(owned: int) -> None:
    wanted = {role: pieces for role, pieces in PIECES.items() if role != "mains"}
    fixed = Budget("EUR", 10**6, True, (BudgetLine("mains", owned, 2, owned=True),))
    assert {row.name for row in linear_rules(RULE_SETS["film-first"], wanted, fixed)} == {
        "centre_at_least_any_surround", "contingency"
    }  # fmt: skip


def test_a_should_has_a_price_and_a_must_has_none() -> None:
    fixed = Budget("EUR", 10**6, True, ())
    must = replace(RULE_SETS["film-first"].rules[0], kind=Duty.MUST)
    rows = linear_rules(RuleSet("mine", (must, *RULE_SETS["film-first"].rules[1:])), PIECES, fixed)
    assert {row.name for row in rows if row.hard} == {must.name}
    # a quarter of a point for each hundredth of the limit
    assert {row.price for row in rows if not row.hard} == {0.25 / 10**4}


def test_a_rule_of_a_role_that_nobody_wants_asks_for_nothing() -> None:
    wanted = {role: pieces for role, pieces in PIECES.items() if role != "sub"}
    names = {row.name for row in linear_rules(RULE_SETS["film-first"], wanted, Budget("EUR", 10**6, True, ()))}
    assert not {name for name in names if name.startswith("sub")}
