"""Rule sets: what can be said, and what contradicts itself."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.budget.shopping import SOUND, budget
from triptych.recommender.money.budget.budget_lines import ROLES, Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.contradictions import contradiction, refuse_contradictions
from triptych.recommender.money.budget.errors import BadRule, ContradictingRules
from triptych.recommender.money.budget.rules import (
    RULE_SETS,
    Duty,
    Form,
    Measure,
    Rule,
    RuleSet,
    one_not_below_one,
    presence,
    share,
)

MUST = Duty.MUST


def floor(role: str, factor: str, of: str = "audio_total") -> Rule:
    return share(f"{role} at least {factor}", Form.FLOOR, MUST, role, factor, of, "")


def cap(role: str, factor: str, of: str = "audio_total") -> Rule:
    return share(f"{role} at most {factor}", Form.CAP, MUST, role, factor, of, "")


@pytest.mark.parametrize("rules", RULE_SETS.values(), ids=RULE_SETS.keys())
def test_the_sets_that_come_with_the_tool_do_not_contradict_themselves(rules: RuleSet) -> None:
    refuse_contradictions(rules)
    assert set(rules.order) == set(ROLES)


def one(name: str, role: str, factor: str, of: str) -> Rule:
    return one_not_below_one(name, MUST, role, factor, (of,), "")


def judged(rule: Rule) -> tuple[object, ...]:
    (result,) = check(budget(*SOUND), RuleSet("mine", (rule,))).results
    return result.holds, result.have, result.need, result.short


CONTRADICTIONS = [
    (floor("sub", "0.4"), cap("sub", "0.3")),
    (floor("sub", "0.6"), floor("mains", "0.5")),
    # A share of loudspeakers and subwoofer is at least as large as the same money's share of the audio total.
    (floor("sub", "0.35"), cap("sub", "0.3", "speakers_and_sub")),
    (one("a", "centre", "1.2", "mains"), one("b", "mains", "1", "centre")),
    # One centre like one of two mains is at least a third of the front three.
    (one("c", "centre", "1", "mains"), floor("mains", "0.7", "speakers_and_sub")),
    (floor("contingency", "0.4", "limit"), floor("mains", "0.7", "limit")),
    (share("d", Form.FLOOR, MUST, "sub", "500", "money", ""), share("e", Form.CAP, MUST, "sub", "499.99", "money", "")),
]


@pytest.mark.parametrize("pair", CONTRADICTIONS, ids=lambda pair: " and ".join(rule.name for rule in pair))
def test_the_two_rules_that_contradict_each_other_are_named(pair: tuple[Rule, Rule]) -> None:
    bystander = cap("heights", "0.5")
    assert contradiction((bystander, *pair)) == pair
    with pytest.raises(ContradictingRules, match=f"'{pair[0].name}' and '{pair[1].name}' together"):
        refuse_contradictions(RuleSet("mine", (bystander, *pair)))


@pytest.mark.parametrize(
    "rules",
    [
        (floor("sub", "0.3"), cap("sub", "0.3")),
        (floor("sub", "0.49"), floor("mains", "0.5")),
        (one("a", "centre", "1", "mains"), one("b", "mains", "1", "centre")),
        (one("c", "centre", "1", "mains"), floor("mains", "0.66", "speakers_and_sub")),
    ],
)
def test_rules_that_just_go_together_are_not_refused(rules: tuple[Rule, ...]) -> None:
    assert contradiction(rules) == ()


def test_one_rule_alone_can_be_impossible() -> None:
    assert contradiction((cap("sub", "0.3"), cap("mains", "0"))) == (cap("mains", "0"),)


def test_three_rules_that_only_together_contradict_are_all_named() -> None:
    three = (floor("sub", "0.4"), floor("mains", "0.4"), floor("centre", "0.3"))
    assert contradiction((*three, cap("heights", "0.9"))) == three


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: floor("subs", "0.1"), "'subs' is not a role"),
        (lambda: floor("sub", "0.1", "everything"), "neither a role nor a denominator"),
        (lambda: floor("sub", "-1"), "factor -1 is out of range; write a number from 0 to 1, or from 0 % to 100 %"),
        (lambda: Rule("r", Form.CAP, MUST, (), of=("limit",)), "no role is named"),
        (lambda: Rule("r", Form.CAP, MUST, ("sub",)), "name one denominator or some roles"),
        (lambda: Rule("r", Form.CAP, MUST, ("sub",), of=("limit", "mains")), "name one denominator or some roles"),
        (lambda: Rule("r", Form.CAP, MUST, ("sub",), Measure.ONE, of=("limit",)), "over all lines of a role"),
        (lambda: presence("contingency", MUST, ""), "measured as a whole"),
        (lambda: RuleSet("mine", (floor("sub", "0.1"), floor("sub", "0.1"))), "stands twice"),
    ],
)
def test_a_rule_that_says_nothing_is_refused(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(BadRule, match=words):
        make()


def test_a_sum_of_money_is_a_floor_too() -> None:
    assert judged(share("cables", Form.FLOOR, MUST, "accessories", "250", "money", "")) == (
        False,
        20_000,
        25_000,
        5_000,
    )


def test_a_ratio_of_whole_roles_is_judged_over_all_their_lines() -> None:
    more = Rule("sub within surrounds", Form.CAP, MUST, ("sub",), Measure.ALL, Decimal("1.25"), ("surrounds",))
    assert judged(more) == (False, 60_000, 50_000, 10_000)


@given(
    prices=st.lists(st.integers(1, 5000), min_size=4, max_size=4),
    rules=st.sampled_from(list(RULE_SETS.values())),
    limit=st.integers(1, 30_000),
)
def test_what_is_told_of_a_rule_adds_up(prices: list[int], rules: RuleSet, limit: int) -> None:
    """The sums that are told, whole cents of pairs at odd prices too: what is short makes up what is had."""
    roles = (("mains", 2), ("centre", 1), ("surrounds", 2), ("sub", 1))
    lines = tuple(BudgetLine(role, price, pieces) for (role, pieces), price in zip(roles, prices, strict=True))
    for one in check(Budget("EUR", limit, True, (*lines, BudgetLine("accessories", 333))), rules).results:
        if not one.judged:
            continue
        turn = -1 if one.rule.form is Form.CAP else 1
        assert (turn * one.has >= turn * one.wanted) is one.holds
        assert turn * one.has + one.lacks == turn * one.wanted or one.holds
        assert (one.lacks > 0) is not one.holds
        assert turn * one.wanted >= turn * one.need
        told = [Decimal(sum_) * 100 for sum_ in re.findall(r"(-?[0-9]+\.[0-9]{2}) EUR", one.why)]
        assert told == [one.has, one.wanted, *([] if one.holds else [one.lacks])]
