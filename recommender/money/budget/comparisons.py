"""A rule written out over the columns of one budget: exact linear comparisons of what each column costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from typing import Final

from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.rules import CONTINGENCY, DENOMINATORS, IN_WORDS, Form, Measure, Rule

SMALL: Final = ("accessories", "calibration")
"""What takes so little that shares of a total are still judged where it is owned."""

PLURALS: Final = ("mains", "surrounds", "heights", "wides", "electronics", "accessories")
"""The roles whose names are plurals."""


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
        It costs nothing any more: no rule judges it, and no total that shares are shares of has it in.
    """

    role: str
    pieces: int
    label: str
    owned: bool = False


def columns(budget: Budget) -> tuple[Column, ...]:
    """The lines of a budget as columns."""
    return tuple(Column(line.role, line.pieces, line.label, line.owned) for line in budget.lines)


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

    A rule on single boxes has one instance for every two lines that it compares. It has none where one side is not on
    the list, or is owned: what it took is not this budget's money. For the same reason a share is not judged where part
    of what it is a share of is owned, unless that is but accessories or calibration.
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
    sides = ((rule.roles, rule.measure), (rule.of_roles, rule.of_measure))
    for roles, measure in sides:
        listed = [column for column in over if column.role in roles]
        if measure is not Measure.ALL and not listed:
            return f"there is no line for {' or '.join(roles)}"
        small = () if roles is rule.roles or rule.is_ratio else SMALL
        owned = [column for column in listed if column.owned and column.role not in small]
        if owned and (measure is Measure.ALL or len(owned) == len(listed)):
            part = "" if roles is rule.roles or rule.is_ratio else f", so {IN_WORDS[rule.of[0]]} is not the whole"
            are = "are" if owned[0].role in PLURALS else "is"
            return f"{owned[0].label} {are} owned{part}"
    parts = [column for column in over if column.owned and column.role not in SMALL]
    if rule.of == ("limit",) and rule.roles != (CONTINGENCY,) and parts:
        return "part of the system is owned, so the limit is not for the whole"
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
            if column.role in roles and not column.owned:
                yield Sum({at: Fraction(boxes, column.pieces)}), _of_one(column, boxes)


def _total(roles: tuple[str, ...], over: Sequence[Column]) -> Sum:
    return Sum({at: Fraction(1) for at, column in enumerate(over) if column.role in roles and not column.owned})


def _of_one(column: Column, boxes: int) -> str:
    if boxes == 1 and column.pieces == 1:
        return column.label
    return f"{'one' if boxes == 1 else 'a pair'} of {column.label}"
