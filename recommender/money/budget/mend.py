"""The smallest change of a budget's lines that makes every must hold within the limit: an integer programme.

The unknowns are what each line costs, in whole minor units, so the answer is exact. The change that is made as small
as possible is the sum over the lines of how much each goes up or down; money that is left under the limit is free to
use. Among the changes of that size the one that touches the fewest lines is taken, and of these the one that cuts
where the rule set spends last. Quantities, owned lines and lines said to be fixed stay as they are. A line that has
money in it keeps some.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from math import ceil, lcm
from typing import TYPE_CHECKING

from triptych.catalog.money import money
from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.check import written_out
from triptych.recommender.money.budget.errors import BudgetError
from triptych.recommender.money.budget.rules import DEFAULT, Duty, RuleSet

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

_TIME_LIMIT = 20.0
# HiGHS counts a whole number as whole within 1e-6; anything of a minor unit or more is a real difference.
_WHOLE = 1e-3


class MendOutcome(Enum):
    """What there is to do."""

    NOTHING_TO_MEND = "nothing_to_mend"
    MENDED = "mended"
    ANOTHER_LIMIT = "another_limit"
    NO_LIMIT_WOULD_DO = "no_limit_would_do"


@dataclass(frozen=True, slots=True)
class Change:
    """Money that goes from one line to another, or from or to what is left of the limit.

    Parameters
    ----------
    source, target : int or None
        Places of the lines in the budget; None is what is left of the limit.
    by : int
        How much. [minor units]
    words : str
        The same in a sentence.
    """

    source: int | None
    target: int | None
    by: int
    words: str


@dataclass(frozen=True, slots=True)
class Mend:
    """The smallest change, or what stands in the way.

    Parameters
    ----------
    outcome : MendOutcome
        Whether there was anything to mend, and whether it can be.
    changes : tuple of Change
        What to do.
    amounts : tuple of int
        What each line then takes from the limit. [minor units]
    total_change : int
        The sum of how much each line goes up or down. [minor units]
    bound : int
        No change smaller than this mends it. [minor units]
    limit : int or None
        The smallest limit at which the budget could be mended, where this one is too small. [minor units]
    words : str
        The outcome in a sentence.
    """

    outcome: MendOutcome
    changes: tuple[Change, ...]
    amounts: tuple[int, ...]
    total_change: int
    bound: int
    limit: int | None
    words: str

    @property
    def proven(self) -> bool:
        """Whether no smaller change would do."""
        return self.outcome is MendOutcome.MENDED and self.bound == self.total_change


@dataclass(frozen=True, slots=True)
class Demand:
    """A row of whole numbers: coefficients times amounts, plus `limit` times the limit, come to at least `least`."""

    coefficients: tuple[int, ...]
    limit: int
    least: int

    def met(self, amounts: Sequence[int], limit: int) -> bool:
        """Whether these amounts meet it, exactly."""
        return sum(a * x for a, x in zip(self.coefficients, amounts, strict=True)) + self.limit * limit >= self.least


def mend(budget: Budget, rule_set: RuleSet = DEFAULT) -> Mend:
    """The smallest change that makes every must hold within the limit, or the limit that would do."""
    demands = list(must_demands(budget, rule_set))
    amounts = tuple(line.amount for line in budget.lines)
    if all(demand.met(amounts, budget.limit) for demand in demands):
        return Mend(MendOutcome.NOTHING_TO_MEND, (), amounts, 0, 0, None, "every must holds within the limit")
    solved = _smallest_change(budget, demands, rule_set)
    if solved is None:
        return _limit_that_would_do(budget, demands)
    mended, bound = solved
    changes = tuple(_changes(budget, mended))
    total = sum(abs(new - old) for new, old in zip(mended, amounts, strict=True))
    words = f"{money(total, budget.currency)} of change over the lines makes every must hold"
    return Mend(MendOutcome.MENDED, changes, mended, total, min(bound, total), None, words)


def must_demands(budget: Budget, rule_set: RuleSet) -> Iterator[Demand]:
    """The limit and every instance of every must, as rows of whole numbers over the lines."""
    lines = len(budget.lines)
    yield Demand((-1,) * lines, 1, 0)
    for written in written_out(budget, rule_set):
        if written.rule.kind is Duty.MUST:
            for comparison in written.comparisons:
                slack = comparison.slack
                shares = [slack.coefficients.get(at, Fraction(0)) for at in range(lines)]
                yield _whole(shares, slack.limit, -slack.constant)


def _whole(shares: Sequence[Fraction], limit: Fraction, least: Fraction) -> Demand:
    scale = lcm(*(value.denominator for value in (*shares, limit, least)))
    return Demand(tuple(int(value * scale) for value in shares), int(limit * scale), int(least * scale))


def _movable(budget: Budget) -> list[bool]:
    return [not (line.owned or line.fixed) for line in budget.lines]


def _smallest_change(budget: Budget, demands: list[Demand], rule_set: RuleSet) -> tuple[tuple[int, ...], int] | None:
    first = _solve(budget, demands, [1.0] * len(budget.lines), [0.0] * len(budget.lines), None)
    if first is None:
        return None
    amounts, change, bound = first
    touch = [1.0 + _reluctance(line.role, rule_set) for line in budget.lines]
    nicest = _solve(budget, demands, [0.0] * len(budget.lines), touch, change)
    return (nicest[0] if nicest else amounts), bound


def _reluctance(role: str, rule_set: RuleSet) -> float:
    """Small against the cost of touching another line, and larger the earlier the rule set spends on the role."""
    place = rule_set.order.index(role) if role in rule_set.order else len(rule_set.order)
    return 0.01 * (len(rule_set.order) - place)


def _solve(
    budget: Budget, demands: list[Demand], change_cost: list[float], touch_cost: list[float], change_cap: int | None
) -> tuple[tuple[int, ...], int, int] | None:
    """Amounts, their total change and its proven bound, for the cheapest change; None if there is none.

    The unknowns, a block of one for each line: how much it goes up, how much it goes down, whether it is touched.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    old = np.array([line.amount for line in budget.lines], dtype=float)
    count, movable = len(old), np.array(_movable(budget))
    most = float(max(budget.limit, budget.total) + sum(abs(demand.least) for demand in demands))
    one = np.eye(count)
    rules = np.array([demand.coefficients for demand in demands], dtype=float)
    least = np.array([d.least - d.limit * budget.limit for d in demands], dtype=float) - rules @ old
    scale = np.maximum(1.0, np.abs(rules).max(axis=1))[:, None]
    constraints = [
        LinearConstraint(np.hstack([rules, -rules, np.zeros_like(rules)]) / scale, least / scale[:, 0], np.inf),
        LinearConstraint(np.hstack([one, one, -most * one]), -np.inf, 0),
    ]
    if change_cap is not None:
        total = np.concatenate([np.ones(2 * count), np.zeros(count)])[None, :]
        constraints.append(LinearConstraint(total, -np.inf, change_cap))
    down = np.where(movable, np.maximum(0, old - 1), 0)
    upper = np.concatenate([np.where(movable, most, 0), down, movable.astype(float)])
    answer = milp(
        np.concatenate([change_cost, change_cost, touch_cost]),
        constraints=constraints,
        bounds=Bounds(np.zeros(3 * count), upper),
        integrality=np.ones(3 * count, dtype=int),
        options={"time_limit": _TIME_LIMIT, "mip_rel_gap": 0.0},
    )
    return _read(answer, budget, demands)


def _read(answer: OptimizeResult, budget: Budget, demands: list[Demand]) -> tuple[tuple[int, ...], int, int] | None:
    """Whole amounts from a solver's answer, checked exactly."""
    if answer.x is None:
        return None
    count = len(budget.lines)
    moved = [round(value) for value in answer.x]
    steps = [moved[at] - moved[count + at] for at in range(count)]
    amounts = tuple(line.amount + step for line, step in zip(budget.lines, steps, strict=True))
    if not all(demand.met(amounts, budget.limit) for demand in demands):
        raise BudgetError("a mend was found that does not hold to the last minor unit; state rules with fewer digits")
    return amounts, sum(abs(step) for step in steps), ceil(answer.mip_dual_bound - _WHOLE)


def _limit_that_would_do(budget: Budget, demands: list[Demand]) -> Mend:
    """The smallest limit at which the musts can be kept by changing what may be changed."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    count, movable = len(budget.lines), _movable(budget)
    amounts = tuple(line.amount for line in budget.lines)
    rows = np.array([(*d.coefficients, d.limit) for d in demands], dtype=float).reshape(-1, count + 1)
    scale = np.maximum(1.0, np.abs(rows).max(axis=1))
    low = [min(1, amount) if free else amount for free, amount in zip(movable, amounts, strict=True)]
    high = [np.inf if free else amount for free, amount in zip(movable, amounts, strict=True)]
    answer = milp(
        np.concatenate([np.zeros(count), [1.0]]),
        constraints=LinearConstraint(rows / scale[:, None], np.array([d.least for d in demands]) / scale, np.inf),
        bounds=Bounds(np.array([*low, 0.0]), np.array([*high, np.inf])),
        integrality=np.ones(count + 1, dtype=int),
        options={"time_limit": _TIME_LIMIT, "mip_rel_gap": 0.0},
    )
    if answer.x is None:
        words = "no change of the lines that may change keeps the musts, whatever the limit; free a line that is fixed"
        return Mend(MendOutcome.NO_LIMIT_WOULD_DO, (), amounts, 0, 0, None, words)
    limit = round(answer.x[-1])
    words = f"no change mends this within the limit; a limit of {money(limit, budget.currency)} would do"
    return Mend(MendOutcome.ANOTHER_LIMIT, (), amounts, 0, 0, limit, words)


def _changes(budget: Budget, mended: Sequence[int]) -> Iterator[Change]:
    """What goes where: first from line to line, then what is left of the limit gives or takes the rest."""
    steps = [new - line.amount for new, line in zip(mended, budget.lines, strict=True)]
    sources = [[at, -step] for at, step in enumerate(steps) if step < 0]
    for target, wanted in ((at, step) for at, step in enumerate(steps) if step > 0):
        rest = wanted
        while rest and sources:
            by = min(rest, sources[0][1])
            yield _change(budget, sources[0][0], target, by)
            rest, sources[0][1] = rest - by, sources[0][1] - by
            sources = [source for source in sources if source[1]]
        if rest:
            yield _change(budget, None, target, rest)
    for source, by in sources:
        yield _change(budget, source, None, by)


def _change(budget: Budget, source: int | None, target: int | None, by: int) -> Change:
    amount = money(by, budget.currency)
    if source is None and target is not None:
        words = f"put {amount} of what is left of the limit into {budget.lines[target].label}"
    elif source is not None and target is not None:
        words = f"take {amount} from {budget.lines[source].label} and put it in {budget.lines[target].label}"
    else:
        words = f"take {amount} from {budget.lines[source or 0].label}"
    return Change(source, target, by, words)
