"""Whether some budget could keep a whole rule set, and if not, which rules are to blame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from triptych.recommender.money.budget.budget_lines import ROLES
from triptych.recommender.money.budget.errors import ContradictingRules
from triptych.recommender.money.budget.rules import CONTINGENCY, DENOMINATORS, Form, Measure, Rule, RuleSet

# What must be there is above zero by a share that no sensible rule forbids and no rounding in a solver hides.
_VISIBLE = 1e-7

# The unknowns: what each role takes in all, what one box of it costs, the limit, and how far above zero all must be.
_ONE = len(ROLES)
_LIMIT = 2 * len(ROLES)
_ABOVE_ZERO = _LIMIT + 1
_UNKNOWNS = _ABOVE_ZERO + 1
_BOXES = {"mains": 2, "centre": 1}

Row = tuple[float, ...]


def refuse_contradictions(rules: RuleSet, minor_per_unit: int = 100) -> None:
    """Raise `ContradictingRules`, naming the fewest rules to blame, if no budget could keep the set."""
    found = contradiction(rules.rules, minor_per_unit)
    if found:
        raise ContradictingRules(tuple(rule.name for rule in found))


def contradiction(rules: Sequence[Rule], minor_per_unit: int = 100) -> tuple[Rule, ...]:
    """The fewest rules that no budget could keep together; empty if there are none.

    Every role that a rule names is taken to have money in it, there are two mains and one centre, and any number of
    the rest. A rule set that only a budget of nothing could keep is a contradiction.
    """
    linear = [rule for rule in rules if rule.of_money]
    if _can_be_kept(linear, minor_per_unit):
        return ()
    for size in (1, 2):
        for some in combinations(linear, size):
            if not _can_be_kept(some, minor_per_unit):
                return some
    return _without_bystanders(linear, minor_per_unit)


def _without_bystanders(rules: list[Rule], minor_per_unit: int) -> tuple[Rule, ...]:
    blamed = list(rules)
    for rule in rules:
        rest = [other for other in blamed if other is not rule]
        if not _can_be_kept(rest, minor_per_unit):
            blamed = rest
    return tuple(blamed)


def _can_be_kept(rules: Sequence[Rule], minor_per_unit: int) -> bool:
    """Whether all amounts that the rules name can be above zero at once: a linear programme."""
    import numpy as np
    from scipy.optimize import linprog

    named = {role for rule in rules for role in (*rule.roles, *rule.of_roles) if role in ROLES}
    rows = [row for rule in rules for row in _rule_rows(rule, minor_per_unit)]
    rows += [*_boxes_fit(), *_all_above_zero(named), _within_limit()]
    goal = np.zeros(_UNKNOWNS)
    goal[_ABOVE_ZERO] = -1
    bounds = [(0, None)] * _ABOVE_ZERO + [(0, 1)]
    matrix = np.array(rows)
    answer = linprog(goal, A_ub=-matrix[:, :-1], b_ub=matrix[:, -1], bounds=bounds)
    return answer.status == 0 and -float(answer.fun or 0.0) > _VISIBLE


def _row(coefficients: dict[int, float], constant: float = 0.0) -> Row:
    """A row that must not be below zero: its coefficients, and last its constant."""
    return (*(coefficients.get(at, 0.0) for at in range(_UNKNOWNS)), constant)


def _within_limit() -> Row:
    return _row({_LIMIT: 1.0} | dict.fromkeys(range(len(ROLES)), -1.0))


def _boxes_fit() -> Iterator[Row]:
    for at, role in enumerate(ROLES):
        yield _row({at: 1.0, _ONE + at: -float(_BOXES.get(role, 1))})
        if role in _BOXES:
            yield _row({at: -1.0, _ONE + at: float(_BOXES[role])})


def _all_above_zero(named: set[str]) -> Iterator[Row]:
    for at, role in enumerate(ROLES):
        if role in named:
            yield _row({_ONE + at: 1.0, _ABOVE_ZERO: -1.0})
    yield _row({_LIMIT: 1.0, _ABOVE_ZERO: -1.0})


def _rule_rows(rule: Rule, minor_per_unit: int) -> Iterator[Row]:
    sign = -1.0 if rule.form is Form.CAP else 1.0
    for left, _ in _sides(rule.roles, rule.measure):
        for right, constant in _right_sides(rule):
            both = {at: sign * value for at, value in left.items()}
            for at, value in right.items():
                both[at] = both.get(at, 0.0) - sign * float(rule.factor) * value
            yield _row(both, -sign * float(rule.factor) * constant)


def _right_sides(rule: Rule) -> Iterator[tuple[dict[int, float], float]]:
    if rule.of == ("money",):
        yield {}, 1.0
    elif rule.of == ("limit",):
        yield {_LIMIT: 1.0}, 0.0
    elif rule.of[0] in DENOMINATORS:
        yield {ROLES.index(role): 1.0 for role in rule.of_roles}, 0.0
    else:
        yield from _sides(rule.of, rule.of_measure)


def _sides(roles: Sequence[str], measure: Measure) -> Iterator[tuple[dict[int, float], float]]:
    if tuple(roles) == (CONTINGENCY,):
        yield {_LIMIT: 1.0} | dict.fromkeys(range(len(ROLES)), -1.0), 0.0
    elif measure is Measure.ALL:
        yield {ROLES.index(role): 1.0 for role in roles}, 0.0
    else:
        boxes = 1.0 if measure is Measure.ONE else 2.0
        for role in roles:
            yield {_ONE + ROLES.index(role): boxes}, 0.0
