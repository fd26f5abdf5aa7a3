"""A budget's rule set as linear rules over the roles of a choice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import lcm

from triptych.catalog.money import minor_digits
from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.comparisons import Column, Inequality, Sum, columns, write_out
from triptych.recommender.money.budget.rules import Duty, Form, RuleSet
from triptych.recommender.money.planner.problem import LinearRule

BOTH_KINDS = (Duty.MUST, Duty.SHOULD)


def linear_rules(
    rule_set: RuleSet, wanted: Mapping[str, int], fixed: Budget, kinds: Sequence[Duty] = BOTH_KINDS
) -> tuple[LinearRule, ...]:
    """The floors and caps of a rule set, for roles to be chosen beside lines that are fixed.

    Parameters
    ----------
    rule_set : RuleSet
        The rules.
    wanted : mapping of str to int
        Roles to be chosen, and how many boxes of each.
    fixed : Budget
        Lines that stand: owned, or bought already. Its `total` is the problem's `spent`.
    kinds : sequence of Duty
        Which rules to hold to.
    """
    over = [Column(role, pieces, f"the {role}") for role, pieces in wanted.items()]
    over += columns(fixed)
    amounts = [0] * len(wanted) + [line.amount for line in fixed.lines]
    return tuple(
        _linear(comparison, list(wanted), amounts)
        for rule in rule_set.rules
        if rule.form is not Form.PRESENCE and rule.kind in kinds
        for comparison in write_out(rule, over, 10 ** minor_digits(fixed.currency)).comparisons
    )


def _linear(comparison: Inequality, wanted: list[str], amounts: Sequence[int]) -> LinearRule:
    slack = comparison.slack
    standing = Sum(slack.coefficients, slack.constant).at(amounts, 0)
    shares = dict(_shares(slack, wanted))
    scale = lcm(*(value.denominator for value in (*shares.values(), standing, slack.limit)))
    return LinearRule(
        comparison.rule.name,
        {role: int(share * scale) for role, share in shares.items()},
        least=int(-standing * scale),
        limit=int(slack.limit * scale),
        unit=scale,
    )


def _shares(slack: Sum, wanted: list[str]) -> Iterator[tuple[str, Fraction]]:
    for at, role in enumerate(wanted):
        if slack.coefficients.get(at):
            yield role, slack.coefficients[at]
