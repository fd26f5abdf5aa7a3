"""What rules demand of lines of money as rows of whole numbers, and the cheapest change that meets them.

The programmes behind a mend (mend.py): the amounts that take the smallest effort, of these those that touch the fewest
lines, and the smallest limit that would do where this one is too small. A solver finds them, and what it finds is
looked over exactly before anybody hears of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm
from typing import TYPE_CHECKING, Final

from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.check import written_out
from triptych.recommender.money.budget.comparisons import Sum
from triptych.recommender.money.budget.errors import BudgetError
from triptych.recommender.money.budget.rules import Form, Rule, RuleSet

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

RELUCTANCE: Final = {
    "surrounds": 1, "wides": 1, "heights": 1, "sub": 1, "display": 1,
    "electronics": 10, "mains": 10, "centre": 20,
    "calibration": 40, "accessories": 40,
}  # fmt: skip
"""What it costs to take a unit of money out of a line, where to put one in costs 1. Common practice, no source."""

_TIME_LIMIT = 20.0
# HiGHS counts a whole number as whole within 1e-6; anything of a minor unit or more is a real difference.
_WHOLE = 1e-3


@dataclass(frozen=True, slots=True)
class Demand:
    """A row of whole numbers: coefficients times amounts, plus `limit` times the limit, come to at least `least`."""

    coefficients: tuple[int, ...]
    limit: int
    least: int

    def met(self, amounts: Sequence[int], limit: int) -> bool:
        """Whether these amounts meet it, exactly."""
        return sum(a * x for a, x in zip(self.coefficients, amounts, strict=True)) + self.limit * limit >= self.least


def demands_of(budget: Budget, rule_set: RuleSet) -> Iterator[tuple[Rule, tuple[Demand, ...]]]:
    """Every instance of every rule that is judged, as rows of whole numbers over the lines."""
    for written in written_out(budget, rule_set):
        if written.comparisons:
            yield written.rule, tuple(_demand(one.slack, len(budget.lines)) for one in written.comparisons)


def _demand(slack: Sum, lines: int) -> Demand:
    parts = [slack.coefficients.get(at, Fraction(0)) for at in range(lines)]
    scale = lcm(*(value.denominator for value in (*parts, slack.limit, slack.constant)))
    return Demand(tuple(int(value * scale) for value in parts), int(slack.limit * scale), int(-slack.constant * scale))


def effort_of(budget: Budget, mended: Sequence[int]) -> int:
    """What it costs to change the lines to these amounts."""
    steps = ((line, new - line.amount) for line, new in zip(budget.lines, mended, strict=True))
    return sum(step if step > 0 else -step * RELUCTANCE[line.role] for line, step in steps)


def movable(budget: Budget) -> list[bool]:
    """Which lines a mend may change."""
    return [bool(line.amount) and not (line.owned or line.fixed) for line in budget.lines]


@dataclass(frozen=True, slots=True)
class Latitude:
    """What each line keeps of its money, and whether it may take more. [minor units]."""

    least: Sequence[int]
    grows: Sequence[bool]


def latitude_of(budget: Budget, rule_set: RuleSet, half: bool, anywhere: bool = False) -> Latitude:
    """Each line keeps half of its money, or a minor unit for each that is counted.

    Only those take more of which a floor asks at least so much, or all of them: nobody buys a dearer line so that
    another becomes a smaller share.
    """
    asked = {role for rule in rule_set.rules if rule.form is Form.FLOOR for role in rule.roles}
    least = [-(-line.amount // 2) if half else min(line.amount, line.step) for line in budget.lines]
    return Latitude(least, [anywhere or line.role in asked for line in budget.lines])


def smallest_effort(
    budget: Budget, rule_set: RuleSet, demands: Sequence[Demand], bounds: Latitude
) -> tuple[tuple[int, ...], int] | None:
    """Amounts that take the smallest effort and touch the fewest lines, and the bound of the effort."""
    first = amounts_that_meet(budget, rule_set, demands, bounds)
    if first is None:
        return None
    amounts, effort, bound = first
    nicest = amounts_that_meet(budget, rule_set, demands, bounds, effort)
    return (nicest[0] if nicest else amounts), bound


def _reluctance(role: str, rule_set: RuleSet) -> float:
    """Small against the cost of touching another line, and larger the earlier the rule set spends on the role."""
    place = rule_set.order.index(role) if role in rule_set.order else len(rule_set.order)
    return 0.01 * (len(rule_set.order) - place)


def amounts_that_meet(
    budget: Budget, rule_set: RuleSet, demands: Sequence[Demand], bounds: Latitude, effort_cap: int | None = None
) -> tuple[tuple[int, ...], int, int] | None:
    """Amounts, their effort and its proven bound, for the smallest effort; None if there is none.

    With a cap on the effort the fewest lines are touched instead. The unknowns, a block of one for each line: by how
    many steps it goes up, by how many down, whether it is touched.
    """
    import numpy as np
    from scipy import optimize
    from scipy.optimize import LinearConstraint, milp

    step = np.array([line.step for line in budget.lines], dtype=float)
    old, count, may = (
        np.array([line.amount for line in budget.lines], dtype=float),
        len(budget.lines),
        np.array(movable(budget)),
    )
    most = float(max(budget.limit, budget.total) + sum(abs(demand.least) for demand in demands))
    rules = np.array([demand.coefficients for demand in demands], dtype=float)
    needs = np.array([d.least - d.limit * budget.limit for d in demands], dtype=float) - rules @ old
    rules, scale = rules * step, np.maximum(1.0, np.abs(rules * step).max(axis=1))
    one = np.eye(count)
    effort = np.concatenate([step, step * [RELUCTANCE[line.role] for line in budget.lines], np.zeros(count)])
    constraints = [
        LinearConstraint(np.hstack([rules, -rules, np.zeros_like(rules)]) / scale[:, None], needs / scale, np.inf),
        LinearConstraint(np.hstack([one, one, -most * one]), -np.inf, 0),
    ]
    goal = effort
    if effort_cap is not None:
        constraints.append(LinearConstraint(effort[None, :], -np.inf, effort_cap))
        touched = [1.0 + _reluctance(line.role, rule_set) for line in budget.lines]
        goal = np.concatenate([np.zeros(2 * count), touched])
    down = np.where(may, np.maximum(0, (old - bounds.least) // step), 0)
    upper = np.concatenate([np.where(may & np.array(bounds.grows), most // step, 0), down, may.astype(float)])
    answer = milp(
        goal,
        constraints=constraints,
        bounds=optimize.Bounds(np.zeros(3 * count), upper),
        integrality=np.ones(3 * count, dtype=int),
        options={"time_limit": _TIME_LIMIT, "mip_rel_gap": 0.0},
    )
    return _read(answer, budget, demands)


def _read(answer: OptimizeResult, budget: Budget, demands: Sequence[Demand]) -> tuple[tuple[int, ...], int, int] | None:
    """Whole amounts from a solver's answer, checked exactly."""
    if answer.x is None:
        return None
    count = len(budget.lines)
    moved = [round(value) for value in answer.x]
    steps = [(moved[at] - moved[count + at]) * line.step for at, line in enumerate(budget.lines)]
    amounts = tuple(line.amount + step for line, step in zip(budget.lines, steps, strict=True))
    if not all(demand.met(amounts, budget.limit) for demand in demands):
        raise BudgetError("a mend was found that does not hold to the last minor unit; state rules with fewer digits")
    return amounts, effort_of(budget, amounts), ceil(answer.mip_dual_bound - _WHOLE)


def least_limit(budget: Budget, demands: Sequence[Demand]) -> int | None:
    """The smallest limit at which these are met by changing what may be changed; None if there is none."""
    import numpy as np
    from scipy import optimize
    from scipy.optimize import LinearConstraint, milp

    count, may = len(budget.lines), movable(budget)
    amounts, steps = tuple(line.amount for line in budget.lines), [line.step for line in budget.lines]
    rows = np.array([(*(a * s for a, s in zip(d.coefficients, steps, strict=True)), d.limit) for d in demands],
                    dtype=float).reshape(-1, count + 1)  # fmt: skip
    scale = np.maximum(1.0, np.abs(rows).max(axis=1))
    whole = [amount // step for amount, step in zip(amounts, steps, strict=True)]
    low = [1 if free else amount for free, amount in zip(may, whole, strict=True)]
    high = [np.inf if free else amount for free, amount in zip(may, whole, strict=True)]
    answer = milp(
        np.concatenate([np.zeros(count), [1.0]]),
        constraints=LinearConstraint(rows / scale[:, None], np.array([d.least for d in demands]) / scale, np.inf),
        bounds=optimize.Bounds(np.array([*low, 0.0]), np.array([*high, np.inf])),
        integrality=np.ones(count + 1, dtype=int),
        options={"time_limit": _TIME_LIMIT, "mip_rel_gap": 0.0},
    )
    return None if answer.x is None else round(answer.x[-1])
