"""A budget's rule set as linear rules over the roles of a choice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import inf, lcm
from typing import Final

from triptych.catalog.money import minor_digits
from triptych.recommender.money.budget.budget_lines import SPEAKERS_AND_SUB, Budget
from triptych.recommender.money.budget.comparisons import Column, Inequality, Sum, columns, write_out
from triptych.recommender.money.budget.rules import CONTINGENCY, Duty, Rule, RuleSet
from triptych.recommender.money.planner.problem import LinearRule

SHOULD_COSTS: Final = 25.0
"""What a should costs that is short by as much as the whole limit, and less in proportion: a quarter of a point for
each hundredth of the limit [points]. Assumed, no source: a rule of thumb about shares is worth less than what one
hears, so that a better match pays for a centre that is a little too cheap; a plan states another as `should_costs`."""


WITHIN: Final = "accessories"
"""The role that is bought with the loudspeakers it bears or joins."""


def linear_rules(
    rule_set: RuleSet, wanted: Mapping[str, int], fixed: Budget, should_costs: float = SHOULD_COSTS
) -> tuple[LinearRule, ...]:
    """The floors and caps of a rule set, for roles to be chosen beside lines that are fixed.

    A should gives way at a price. A rule of a role that is neither wanted nor on a line asks for nothing.

    Parameters
    ----------
    rule_set : RuleSet
        The rules.
    wanted : mapping of str to int
        Roles to be chosen, and how many boxes of each. With `accessories` among them, what loudspeakers cost has their
        stands and cables in it, and a measure of that name says how much.
    fixed : Budget
        Lines that stand: owned, or bought already. Its `total` is the problem's `spent`.
    should_costs : float
        What a should costs that is short by as much as the limit. [points]
    """
    over = [Column(role, pieces, f"the {role}") for role, pieces in wanted.items()]
    over += columns(fixed)
    price = should_costs / fixed.limit
    amounts = [0] * len(wanted) + [line.amount for line in fixed.lines]
    return tuple(
        _linear(comparison, list(wanted), amounts, inf if rule.kind is Duty.MUST else price)
        for rule in rule_set.rules
        if rule.of_money and (rule.kind is Duty.MUST or _asks(rule, over))
        for comparison in write_out(rule, over, 10 ** minor_digits(fixed.currency)).comparisons
    )


def _asks(rule: Rule, over: Sequence[Column]) -> bool:
    return rule.roles == (CONTINGENCY,) or any(column.role in rule.roles for column in over)


def _linear(comparison: Inequality, wanted: list[str], amounts: Sequence[int], price: float) -> LinearRule:
    slack = comparison.slack
    standing = Sum(slack.coefficients, slack.constant).at(amounts, 0)
    shares = dict(_shares(slack, wanted))
    scale = lcm(*(value.denominator for value in (*shares.values(), standing, slack.limit)))
    whole = {role: int(share * scale) for role, share in shares.items() if role != WITHIN}
    return LinearRule(
        comparison.rule.name,
        whole,
        least=int(-standing * scale),
        limit=int(slack.limit * scale),
        unit=scale,
        price=price,
        measures=_within(int(shares.get(WITHIN, 0) * scale), whole, wanted) if WITHIN in wanted else {},
    )


def _within(share: int, whole: Mapping[str, int], wanted: Sequence[str]) -> dict[tuple[str, str], int]:
    """What a row adds for the part of a role's cost that is of another: its share in the place of the role's own."""
    roles = (role for role in wanted if role in SPEAKERS_AND_SUB)
    return {(role, WITHIN): more for role in roles if (more := share - whole.get(role, 0))}


def _shares(slack: Sum, wanted: list[str]) -> Iterator[tuple[str, Fraction]]:
    for at, role in enumerate(wanted):
        if slack.coefficients.get(at):
            yield role, slack.coefficients[at]
