"""The change of a budget's lines that a dealer would propose, so that its rules hold within the limit.

The unknowns are what each line costs, in whole minor units that its quantity divides (as long as it does before), so
the answer is exact and can be written into the file. The limit and the musts must hold; then the shoulds that held;
then those that did not, in the order of the rule set, as many as go together. What cannot be kept is said. Money comes
out of what stands around the listener, the subwoofer and the display first, then out of electronics and mains, then the
centre, and last out of accessories and calibration (`RELUCTANCE`); no line gives more than half of itself unless
nothing else would do, and more goes only into lines of which a floor asks at least so much, as nobody buys a dearer
receiver so that the subwoofer is a smaller share; into others only where a must can be kept in no other way. Of the
changes that are cheapest in that sense the one is taken that touches the fewest lines,
and of these the one that cuts where the rule set spends last. Quantities, what is owned, fixed or free stay as they
are.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from triptych.catalog.money import money
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import Check, absent, check, unlisted
from triptych.recommender.money.budget.fitting import fits
from triptych.recommender.money.budget.mend_programmes import (
    Demand,
    Latitude,
    amounts_that_meet,
    demands_of,
    effort_of,
    latitude_of,
    least_limit,
    movable,
    smallest_effort,
)
from triptych.recommender.money.budget.rules import DEFAULT, Duty, Form, Rule, RuleSet, about


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
class Product:
    """A loudspeaker that could stand on a changed line and keeps what the mend keeps. [minor units]."""

    line: int
    role: str
    speaker: str
    cost: int
    words: str


@dataclass(frozen=True, slots=True)
class Mend:
    """The change that is proposed, or what stands in the way.

    Parameters
    ----------
    outcome : MendOutcome
        Whether there was anything to mend, and whether it can be.
    changes : tuple of Change
        What to do.
    amounts : tuple of int
        What each line then takes from the limit. [minor units]
    effort : int
        What the change costs by `RELUCTANCE`.
    bound : int
        No change that does the same costs less.
    limit : int or None
        The smallest limit at which the budget could be mended, where this one is too small. [minor units]
    words : str
        The outcome in a sentence.
    stays : tuple of str
        The shoulds that are broken after it.
    breaks : tuple of str
        Those of them that held before.
    products : tuple of Product
        What the catalogue has for the changed lines, one a line, to be taken together.
    """

    outcome: MendOutcome
    changes: tuple[Change, ...]
    amounts: tuple[int, ...]
    effort: int
    bound: int
    limit: int | None
    words: str
    stays: tuple[str, ...] = ()
    breaks: tuple[str, ...] = ()
    products: tuple[Product, ...] = ()

    @property
    def proven(self) -> bool:
        """Whether no cheaper change would do the same."""
        return self.outcome is MendOutcome.MENDED and self.bound == self.effort


def mend(budget: Budget, rule_set: RuleSet = DEFAULT) -> Mend:
    """What a dealer would propose to make the rules hold within the limit, or the limit that would do."""
    found = Mending(budget, rule_set, dict(demands_of(budget, rule_set))).mend()
    strange = [one for one in fits(budget, rule_set) if not one.holds]
    if not strange:
        return found
    words = found.words
    for said in ("every must", "every rule that is judged", "what is judged of the rules"):
        words = words.replace(said, f"{said} about money")
    told = "; ".join(f"for {about(one.rule)}, {' and '.join(one.mends)}" for one in strange)
    return replace(found, words=f"{words}; no other price mends what does not fit: {told}")


def with_amounts(budget: Budget, amounts: Sequence[int]) -> Budget:
    """The budget with other prices."""
    lines = (
        line if line.amount == new else replace(line, price=new)
        for line, new in zip(budget.lines, amounts, strict=True)
    )
    return replace(budget, lines=tuple(lines))


@dataclass(frozen=True, slots=True)
class Mending:
    """A budget, and what each rule that is judged demands of its lines."""

    budget: Budget
    rule_set: RuleSet
    demands: dict[Rule, tuple[Demand, ...]]

    @property
    def amounts(self) -> tuple[int, ...]:
        """What the lines take now. [minor units]."""
        return tuple(line.amount for line in self.budget.lines)

    def mend(self) -> Mend:
        """The change, or what stands in the way."""
        base = [Demand((-1,) * len(self.budget.lines), 1, 0)]
        base += [one for rule, some in self.demands.items() if rule.kind is Duty.MUST for one in some]
        sound = all(demand.met(self.amounts, self.budget.limit) for demand in base)
        shoulds = [rule for rule in self.demands if rule.kind is Duty.SHOULD]
        held = [rule for rule in shoulds if self._met(rule, self.amounts)]
        if sound and len(held) == len(shoulds):
            absent_roles = absent(self.budget, self.rule_set, Duty.MUST)
            missing = f"; no line has money for {', '.join(absent_roles)}" if absent_roles else ""
            return self._nothing(f"what is judged of the rules holds within the limit{missing}")
        if sound and not any(movable(self.budget)):
            return self._told(self.amounts, 0, held)
        found = self._best(base, held, [rule for rule in shoulds if rule not in held])
        if found is None:
            return _limit_that_would_do(self.budget, base)
        return self._told(*found, held)

    def _met(self, rule: Rule, amounts: Sequence[int]) -> bool:
        return all(demand.met(amounts, self.budget.limit) for demand in self.demands[rule])

    def _nothing(self, words: str, stays: tuple[str, ...] = ()) -> Mend:
        return Mend(MendOutcome.NOTHING_TO_MEND, (), self.amounts, 0, 0, None, words, stays)

    def _best(self, base: list[Demand], held: list[Rule], broken: list[Rule]) -> tuple[tuple[int, ...], int] | None:
        """Amounts with all that goes together, and the bound of the effort; None if the musts can't be kept."""
        bounds = self._bounds(base, held)
        kept: list[Rule] = []
        for some in (held, *([rule] for rule in held), broken, *([rule] for rule in broken)):
            wanted = [rule for rule in some if rule not in kept]
            if (
                wanted
                and amounts_that_meet(self.budget, self.rule_set, [*base, *self._of([*kept, *wanted])], bounds)
                is not None
            ):
                kept += wanted
        return smallest_effort(self.budget, self.rule_set, [*base, *self._of(kept)], bounds)

    def _bounds(self, base: list[Demand], held: list[Rule]) -> Latitude:
        """What the lines keep, and which may take more: all of them only where a must can be kept in no other way."""
        for anywhere in (False, True):
            for half, asked in ((True, [*base, *self._of(held)]), (False, base)):
                bounds = latitude_of(self.budget, self.rule_set, half, anywhere)
                if amounts_that_meet(self.budget, self.rule_set, asked, bounds) is not None:
                    return bounds
        return bounds

    def _of(self, rules: Sequence[Rule]) -> list[Demand]:
        return [demand for rule in rules for demand in self.demands[rule]]

    def _told(self, mended: tuple[int, ...], bound: int, held: list[Rule]) -> Mend:
        currency = self.budget.currency
        after = check(with_amounts(self.budget, mended), self.rule_set)
        stays = tuple(result.rule.name for result in after.results if not result.holds)
        breaks = tuple(rule.name for rule in held if rule.name in stays)
        told = {result.rule.name: about(result.rule) for result in after.results if not result.holds}
        left = f"; what stays broken: {', '.join(told.values())}" if stays else ""
        if mended == self.amounts:
            words = f"every must holds within the limit, and no moving of money between the lines mends more{left}"
            return self._nothing(words + "".join(_lines_to_add(after)), stays)
        kept = "every must" if stays else "every rule that is judged"
        moved = sum(abs(new - old) for new, old in zip(mended, self.amounts, strict=True))
        words = f"{money(moved, currency)} of change over the lines makes {kept} hold{left}"
        if breaks:
            these = "which" if breaks == stays else f"of which {', '.join(told[name] for name in breaks)}"
            words += f", {these} held before"
        words += _little_left(self.budget, mended) + "".join(_lines_to_add(after))
        effort = effort_of(self.budget, mended)
        changes = tuple(_changes(self.budget, mended))
        return Mend(MendOutcome.MENDED, changes, mended, effort, min(bound, effort), None, words, stays, breaks)


def _little_left(budget: Budget, mended: Sequence[int]) -> str:
    """Say what a change leaves less than half of, for which there may be nothing to buy."""
    little = [line.label for line, new in zip(budget.lines, mended, strict=True) if 2 * new < line.amount]
    return f"; it leaves less than half of {' and '.join(little)}, for which there may be nothing" if little else ""


def _lines_to_add(after: Check) -> Iterator[str]:
    """What a line for a role that a broken floor wants would cost, where what is left of the limit pays for it."""
    budget, broken = after.budget, {result.rule.name for result in after.results if not result.holds}

    def with_line(role: str, cost: int) -> Check:
        return check(replace(budget, lines=(*budget.lines, BudgetLine(role, cost))), after.rule_set)

    left = budget.limit - budget.total
    for role in unlisted(budget, after.results):
        least = bisect_left(range(left + 1), True, key=lambda cost: role not in _short(with_line(role, cost)))
        mended = with_line(role, min(least, left))
        if least <= left and not mended.broken and {one.rule.name for one in mended.results if not one.holds} < broken:
            paid = f"would do, and the {money(left, budget.currency)} that is left pays for it"
            yield f"; the list has no {role}: a line of {money(least, budget.currency)} {paid}"
        else:
            yield f"; the list has no {role}, and the {money(left, budget.currency)} that is left is too little for it"


def _short(found: Check) -> set[str]:
    """The roles of the floors that are broken."""
    floors = (one.rule for one in found.results if not one.holds and one.rule.form is Form.FLOOR)
    return {rule.roles[0] for rule in floors if len(rule.roles) == 1}


def _limit_that_would_do(budget: Budget, demands: list[Demand]) -> Mend:
    """What is told where no change within the limit keeps the musts."""
    amounts, limit = tuple(line.amount for line in budget.lines), least_limit(budget, demands)
    if limit is None:
        words = "no change of the lines that may change keeps the musts, whatever the limit; free a line that is fixed"
        return Mend(MendOutcome.NO_LIMIT_WOULD_DO, (), amounts, 0, 0, None, words)
    held = sum(line.amount for line, moves in zip(budget.lines, movable(budget), strict=True) if not moves)
    lines = f": lines that may not change take {money(held, budget.currency)} already" if held >= budget.limit else ""
    words = f"no change mends this within the limit{lines}; a limit of {money(limit, budget.currency)} would do"
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
