"""A rule written out over the columns of one budget: exact linear comparisons of what each column costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product

from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.rules import CONTINGENCY, DENOMINATORS, Form, Measure, Rule


@dataclass(frozen=True, slots=True)
class Column:
    """A line of a budget, or a role whose loudspeaker is still to be chosen.

    Parameters
    ----------
    role : str
        Its role.
    pieces : int
        How many boxes it holds.
    label : str
        What it is called in a sentence.
    owned : bool
        It costs nothing any more.
    one : Fraction or None
        What one box is worth where the column is owned and that is known. [minor units]
    """

    role: str
    pieces: int
    label: str
    owned: bool = False
    one: Fraction | None = None


def columns(budget: Budget) -> tuple[Column, ...]:
    """The lines of a budget as columns."""
    return tuple(
        Column(line.role, line.pieces, line.label, line.owned, line.one if line.owned else None)
        for line in budget.lines
    )


@dataclass(frozen=True, slots=True)
class Sum:
    """A linear sum of what columns cost, of the limit, and a constant. [minor units]."""

    coefficients: Mapping[int, Fraction] = field(default_factory=dict)
    constant: Fraction = Fraction(0)
    limit: Fraction = Fraction(0)

    def at(self, amounts: Sequence[int], limit: int) -> Fraction:
        """Its value for these amounts under this limit."""
        return sum(
            (share * amounts[column] for column, share in self.coefficients.items()), self.constant + self.limit * limit
        )

    def times(self, factor: Fraction) -> Sum:
        """The same sum, multiplied."""
        scaled = {column: share * factor for column, share in self.coefficients.items()}
        return Sum(scaled, self.constant * factor, self.limit * factor)

    def minus(self, other: Sum) -> Sum:
        """The difference of two sums."""
        both = {*self.coefficients, *other.coefficients}
        return Sum(
            {at: self.coefficients.get(at, Fraction(0)) - other.coefficients.get(at, Fraction(0)) for at in both},
            self.constant - other.constant,
            self.limit - other.limit,
        )


@dataclass(frozen=True, slots=True)
class Inequality:
    """One instance of a rule: `left` is at least (floor) or at most (cap) `right`."""

    rule: Rule
    left: Sum
    right: Sum
    left_label: str
    right_label: str

    @property
    def slack(self) -> Sum:
        """What must not be below zero."""
        return self.right.minus(self.left) if self.rule.form is Form.CAP else self.left.minus(self.right)


@dataclass(frozen=True, slots=True)
class Written:
    """All instances of a rule over some columns, or why there is nothing to judge."""

    rule: Rule
    comparisons: tuple[Inequality, ...] = ()
    unjudged: str = ""


def write_out(rule: Rule, over: Sequence[Column], minor_per_unit: int) -> Written:
    """A floor or a cap over these columns.

    A rule on single boxes has one instance for every two lines that it compares. It has none where one side is not
    on the list, or is owned at a price that is not known. A share is not judged for a role that is owned: what it
    took is not this budget's money.
    """
    reason = _nothing_to_judge(rule, over)
    if reason:
        return Written(rule, unjudged=reason)
    left = list(_sides(rule.roles, rule.measure, over))
    right = list(_right_sides(rule, over, minor_per_unit))
    pairs = tuple(
        Inequality(rule, one, other.times(rule.ratio), label, other_label)
        for (one, label), (other, other_label) in product(left, right)
    )
    return Written(rule, pairs)


def _nothing_to_judge(rule: Rule, over: Sequence[Column]) -> str:
    for roles, measure in ((rule.roles, rule.measure), (rule.of_roles, rule.of_measure)):
        listed = [column for column in over if column.role in roles]
        if measure is not Measure.ALL and not listed:
            return f"there is no line for {' or '.join(roles)}"
        if measure is not Measure.ALL and all(column.owned and column.one is None for column in listed):
            return f"{listed[0].label} is owned and its price is not stated"
    owned = [column for column in over if column.role in rule.roles and column.owned]
    if rule.measure is Measure.ALL and owned:
        return f"{owned[0].label} is owned and takes none of this money"
    return ""


def _right_sides(rule: Rule, over: Sequence[Column], minor_per_unit: int) -> Iterator[tuple[Sum, str]]:
    if rule.of == ("money",):
        yield Sum(constant=Fraction(minor_per_unit)), "the sum stated"
    elif rule.of == ("limit",):
        yield Sum(limit=Fraction(1)), "the limit"
    elif rule.of[0] in DENOMINATORS:
        yield _total(rule.of_roles, over), rule.of[0]
    else:
        yield from _sides(rule.of, rule.of_measure, over)


def _sides(roles: tuple[str, ...], measure: Measure, over: Sequence[Column]) -> Iterator[tuple[Sum, str]]:
    if roles == (CONTINGENCY,):
        yield Sum(dict.fromkeys(range(len(over)), Fraction(-1)), limit=Fraction(1)), "what is left of the limit"
    elif measure is Measure.ALL:
        yield _total(roles, over), " and ".join(roles)
    else:
        boxes = 1 if measure is Measure.ONE else 2
        for at, column in enumerate(over):
            if column.role in roles and not (column.owned and column.one is None):
                yield _boxes(at, column, boxes), _of_one(column, boxes)


def _total(roles: tuple[str, ...], over: Sequence[Column]) -> Sum:
    return Sum({at: Fraction(1) for at, column in enumerate(over) if column.role in roles and not column.owned})


def _boxes(at: int, column: Column, boxes: int) -> Sum:
    if column.owned and column.one is not None:
        return Sum(constant=column.one * boxes)
    return Sum({at: Fraction(boxes, column.pieces)})


def _of_one(column: Column, boxes: int) -> str:
    if boxes == 1 and column.pieces == 1:
        return column.label
    return f"{'one' if boxes == 1 else 'a pair'} of {column.label}"
