"""Which rules a budget keeps, by how much it misses the others, and what is not on the list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from math import ceil, floor
from typing import Final

from triptych.catalog.money import minor_digits, money
from triptych.recommender.money.budget.budget_lines import AUDIO_TOTAL, ROLES, SPEAKERS_AND_SUB, Budget, BudgetLine
from triptych.recommender.money.budget.comparisons import Inequality, Written, columns, write_out
from triptych.recommender.money.budget.fitting import FitResult, fits
from triptych.recommender.money.budget.rules import DEFAULT, IN_WORDS, Duty, Form, Measure, Rule, RuleSet

_SHARES = {"audio_total": AUDIO_TOTAL, "speakers_and_sub": SPEAKERS_AND_SUB}


class BudgetVerdict(Enum):
    """What a check comes to. A broken must or a total over the limit fails, whatever else is missing."""

    PASS = "pass"
    FAIL = "fail"
    INCOMPLETE = "incomplete"


@dataclass(frozen=True, slots=True)
class RoleShare:
    """What a role takes, of each denominator it belongs to; None where it does not or where that is zero."""

    role: str
    amount: int
    of_audio_total: Fraction | None
    of_speakers_and_sub: Fraction | None


@dataclass(frozen=True, slots=True)
class RuleResult:
    """How one rule stands; for a rule with several instances, the one that is worst off.

    Parameters
    ----------
    rule : Rule
        The rule.
    holds : bool
        Whether it is kept; a rule with nothing to judge is.
    judged : bool
        Whether there was anything to judge.
    have, need, short : Fraction
        The left side, what it must reach or keep within, and by how much it does not. [minor units]
    why : str
        The same in a sentence.
    """

    rule: Rule
    holds: bool
    judged: bool
    have: Fraction
    need: Fraction
    short: Fraction
    why: str

    @property
    def wanted(self) -> int:
        """What the right side is told as: the least whole sum that is enough, or the most that is allowed."""
        return floor(self.need) if self.rule.form is Form.CAP else ceil(self.need)

    @property
    def has(self) -> int:
        """What the left side is told as, on the side of `wanted` on which it is. [minor units]."""
        return floor(self.have) if (self.rule.form is Form.CAP) is self.holds else ceil(self.have)

    @property
    def lacks(self) -> int:
        """By how much it is told to be short, so that what makes this up makes it up wholly. [minor units]."""
        return 0 if self.holds else abs(self.wanted - self.has)


@dataclass(frozen=True, slots=True)
class Check:
    """A budget, judged."""

    budget: Budget
    rule_set: RuleSet
    results: tuple[RuleResult, ...]
    fits: tuple[FitResult, ...]
    shares: tuple[RoleShare, ...]
    missing: tuple[str, ...]
    advised: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def over(self) -> int:
        """By how much the total is above the limit. [minor units]."""
        return max(0, self.budget.total - self.budget.limit)

    @property
    def broken(self) -> tuple[RuleResult, ...]:
        """The musts about money that do not hold."""
        return tuple(result for result in self.results if not result.holds and result.rule.kind is Duty.MUST)

    @property
    def misfits(self) -> tuple[FitResult, ...]:
        """The musts on what must fit that do not hold: no money mends them."""
        return tuple(result for result in self.fits if not result.holds and result.rule.kind is Duty.MUST)

    @property
    def verdict(self) -> BudgetVerdict:
        """Fail before incomplete before pass."""
        if self.over or self.broken or self.misfits:
            return BudgetVerdict.FAIL
        return BudgetVerdict.INCOMPLETE if self.missing else BudgetVerdict.PASS

    @property
    def denominators(self) -> dict[str, int]:
        """What shares are shares of, without what is owned. [minor units]."""
        return {name: self.budget.amount(roles) for name, roles in _SHARES.items()}

    @property
    def not_counted(self) -> dict[str, tuple[str, ...]]:
        """The roles that are owned, so that what shares are shares of has them not in."""
        owned = dict.fromkeys(line.role for line in self.budget.lines if line.owned)
        return {name: tuple(role for role in owned if role in roles) for name, roles in _SHARES.items()}


def check(budget: Budget, rule_set: RuleSet = DEFAULT) -> Check:
    """Judge a budget by a rule set."""
    results = tuple(judge(written, budget) for written in written_out(budget, rule_set))
    return Check(
        budget,
        rule_set,
        results,
        fits(budget, rule_set),
        shares(budget, rule_set),
        absent(budget, rule_set, Duty.MUST),
        tuple(dict.fromkeys((*absent(budget, rule_set, Duty.SHOULD), *unlisted(budget, results)))),
        (*budget.cautions, *owned_words(budget)),
    )


def written_out(budget: Budget, rule_set: RuleSet) -> tuple[Written, ...]:
    """Every floor and cap of a rule set, over the lines of a budget."""
    missing = absent(budget, rule_set, Duty.MUST)
    over, minor_per_unit = columns(budget), 10 ** minor_digits(budget.currency)
    return tuple(
        Written(rule, unjudged=f"{rule.roles[0]} is missing from the list")
        if set(rule.roles) & set(missing)
        else write_out(rule, over, minor_per_unit)
        for rule in rule_set.rules
        if rule.of_money
    )


def judge(written: Written, budget: Budget) -> RuleResult:
    """The worst instance of a rule in a budget."""
    if not written.comparisons:
        nothing = Fraction(0)
        why = f"not judged: {written.unjudged}"
        return RuleResult(written.rule, True, False, nothing, nothing, nothing, why)
    amounts = [line.amount for line in budget.lines]
    worst = min(written.comparisons, key=lambda one: one.slack.at(amounts, budget.limit))
    have, need = worst.left.at(amounts, budget.limit), worst.right.at(amounts, budget.limit)
    short = max(Fraction(0), -worst.slack.at(amounts, budget.limit))
    found = RuleResult(written.rule, not short, True, have, need, short, "")
    return replace(found, why=_in_words(worst, found, budget.currency))


def _in_words(one: Inequality, found: RuleResult, currency: str) -> str:
    """An instance of a rule as a sentence with its numbers."""
    rule = one.rule
    bound = "at most" if rule.form is Form.CAP else "at least"
    verb = "comes to" if rule.measure is Measure.ALL else "costs"
    wanted = f"{bound} {money(found.wanted, currency)}{_origin(one)}"
    missed = "more than allowed" if rule.form is Form.CAP else "short"
    ending = "" if found.holds else f": {money(found.lacks, currency)} {missed}"
    reason = f" ({rule.why})" if rule.why else ""
    return f"{one.left_label} {verb} {money(found.has, currency)}; it should be {wanted}{ending}{reason}"


def _origin(one: Inequality) -> str:
    rule = one.rule
    if rule.of == ("money",):
        return ""
    if not rule.is_ratio:
        return f", {(rule.factor * 100).normalize():f} % of {IN_WORDS[rule.of[0]]}"
    verb = "cost" if one.right_label.startswith(PLURAL) else "costs"
    return f", {'' if rule.factor == 1 else f'{rule.factor:f} × '}what {one.right_label} {verb}"


PLURAL: Final = ("the mains", "the surrounds", "the heights", "the wides")
"""How what is many begins to be named."""


def shares(budget: Budget, rule_set: RuleSet) -> tuple[RoleShare, ...]:
    """What each role on the list takes of each denominator, in the order in which the rule set spends."""
    listed = {line.role for line in budget.lines}
    rank = {role: at for at, role in enumerate(rule_set.order)}
    in_order = sorted(listed, key=lambda role: (rank.get(role, len(rank)), role))
    return tuple(
        RoleShare(role, budget.amount((role,)), *(_of(budget, role, roles) for roles in _SHARES.values()))
        for role in in_order
    )


def _of(budget: Budget, role: str, roles: tuple[str, ...]) -> Fraction | None:
    total = budget.amount(roles)
    return Fraction(budget.amount((role,)), total) if role in roles and total else None


def absent(budget: Budget, rule_set: RuleSet, kind: Duty) -> tuple[str, ...]:
    """The roles that a rule set wants on the list and in which nothing is there."""
    there = {line.role for line in budget.lines if line.there}
    wanted = [role for rule in rule_set.of_kind(kind) if rule.form is Form.PRESENCE for role in rule.roles]
    return tuple(role for role in wanted if role not in there)


def unlisted(budget: Budget, results: Sequence[RuleResult]) -> tuple[str, ...]:
    """The roles that a broken floor wants money in, and in which nothing is there."""
    there = {line.role for line in budget.lines if line.there}
    wanted = (one.rule.roles for one in results if not one.holds and one.rule.form is Form.FLOOR)
    return tuple(roles[0] for roles in wanted if len(roles) == 1 and roles[0] in ROLES and roles[0] not in there)


def owned_words(budget: Budget) -> tuple[str, ...]:
    """What counts nothing because it is owned."""
    return tuple(_owned_words(line) for line in budget.lines if line.owned)


def _owned_words(line: BudgetLine) -> str:
    return f"{line.label}: owned, counts nothing towards any total, and no rule about money judges it"
