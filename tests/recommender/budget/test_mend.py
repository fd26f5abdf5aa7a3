"""A mend against trying everything, and against what it promises."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender.budget.shopping import read_budget
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.fitting import Asks, Gives
from triptych.recommender.money.budget.mend import MendOutcome, mend, with_amounts
from triptych.recommender.money.budget.mend_programmes import demands_of
from triptych.recommender.money.budget.rules import RULE_SETS, Duty, RuleSet, about

pytestmark = pytest.mark.whole

PIECES = {"mains": 2, "centre": 1, "surrounds": 2, "sub": 1, "accessories": 1}
SETS = st.sampled_from(list(RULE_SETS.values()))


@st.composite
def budgets(draw: st.DrawFn, largest: int, roles: tuple[str, ...] = tuple(PIECES)) -> Budget:
    lines = tuple(
        BudgetLine(
            role, draw(st.integers(1, largest)), PIECES[role], fixed=draw(st.sampled_from([False, False, False, True]))
        )
        for role in roles
    )
    return Budget("JPY", draw(st.integers(largest // 2, len(roles) * largest)), True, lines)


def strict(rules: RuleSet) -> RuleSet:
    """The same rules, all of them musts."""
    return replace(rules, rules=tuple(replace(rule, kind=Duty.MUST) for rule in rules.rules))


def effort(before: Budget, amounts: tuple[int, ...]) -> int:
    """By hand: a unit into a line counts 1; one out of it 1, 10, 20 or 40, the later a dealer would take it."""
    steps = ((line.role, new - line.amount) for line, new in zip(before.lines, amounts, strict=True))
    return sum(step if step > 0 else -step * out_of(role) for role, step in steps)


def out_of(role: str) -> int:
    """What a unit out of a line of that role counts."""
    if role in ("surrounds", "wides", "heights", "sub", "display"):
        return 1
    return 40 if role in ("accessories", "calibration") else 20 if role == "centre" else 10


@pytest.mark.examples
@given(budget=budgets(7, ("mains", "centre", "surrounds")), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_no_change_of_less_effort_is_found_by_trying_everything(budget: Budget, rules: RuleSet) -> None:
    demands = [demand for _, some in demands_of(budget, strict(rules)) for demand in some]
    old = [line.amount for line in budget.lines]

    def smallest(keeps: list[int]) -> int | None:
        choices = [[line.amount] if line.fixed else range(least, 40)
                   for line, least in zip(budget.lines, keeps, strict=True)]  # fmt: skip
        # all at once: numpy's whole numbers are exact here
        every = np.array(list(product(*choices)), dtype=np.int64).reshape(-1, len(old))
        kept = every.sum(axis=1) <= budget.limit
        for demand in demands:
            kept &= every @ np.array(demand.coefficients) + demand.limit * budget.limit >= demand.least
        weights = np.array([out_of(line.role) for line in budget.lines])
        steps = every[kept] - np.array(old)
        efforts = np.where(steps > 0, steps, -steps * weights).sum(axis=1)
        return int(efforts.min()) if len(efforts) else None

    # half of every line is kept if that goes
    least = smallest([(amount + 1) // 2 for amount in old])
    least = smallest([1] * len(old)) if least is None else least
    mended = mend(budget, strict(rules))
    if least is None:
        assert mended.outcome in (MendOutcome.ANOTHER_LIMIT, MendOutcome.NO_LIMIT_WOULD_DO)
    else:
        assert mended.effort == effort(budget, mended.amounts) == least


@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_a_mended_budget_keeps_every_must_within_the_limit_and_is_proven(budget: Budget, rules: RuleSet) -> None:
    mended = mend(budget, rules)
    assume(mended.outcome is MendOutcome.MENDED)
    checked = check(with_amounts(budget, mended.amounts), rules)
    assert not checked.broken
    assert not checked.over
    assert mended.proven
    assert all(new == line.amount for line, new in zip(budget.lines, mended.amounts, strict=True) if line.fixed)


PER = {"mains": ("pair", 1), "centre": ("each", 1), "surrounds": (None, 2), "heights": ("pair", 2), "sub": (None, 3),
       "electronics": ("lot", 1), "accessories": ("lot", 1)}  # fmt: skip


@st.composite
def packages(draw: st.DrawFn) -> str:
    """A dealer's package as a file: things for nothing, owned and fixed ones, quantities with and without `per`."""
    text = f'currency = "EUR"\nlimit = {draw(st.integers(500, 9000))}\ntax_included = true\ntax_rate = 19\n'
    for role, (per, quantity) in PER.items():
        if role not in ("mains", "centre") and draw(st.booleans()) and draw(st.booleans()):
            continue
        price = draw(st.sampled_from([0, 99, 249.9, 333.33]) | st.integers(50, 2500))
        more = draw(st.sampled_from(["", "", "", "owned = true\n", "fixed = true\n"]))
        taxed = draw(st.sampled_from(["true", "true", "true", "false"]))
        text += f'[[line]]\nrole = "{role}"\nprice = {price}\nquantity = {quantity}\ntax_included = {taxed}\n'
        text += (f'per = "{per}"\n' if per else "") + more
    return text


FACTS = st.fixed_dictionaries({
    "asks": st.sampled_from([None, Asks(load=4, nominal=4, least_power=30, weight=8), Asks(load=8, nominal=8)]),
    "electronics": st.sampled_from([
        None, Gives("receiver", channels=7, sub_outputs=1, power=90, power_into=8, lowest_load=6),
        Gives("receiver", channels=9, processed=11, lowest_load=4),
    ]),
    "accessories": st.sampled_from([None, Gives("stand", bears=10), Gives("stand", bears=30)]),
})  # fmt: skip
"""What the catalogue may know of what stands on the lines."""


def known(budget: Budget, facts: dict[str, Any]) -> Budget:
    """The lines with what the catalogue knows of them."""
    lines = (
        replace(line, gives=facts[line.role], serves="mains") if line.role in facts
        else replace(line, asks=facts["asks"])
        for line in budget.lines
    )  # fmt: skip
    return replace(budget, lines=tuple(lines))


def applied(text: str, amounts: tuple[int, ...]) -> Budget:
    """The file with the new prices written into it, read and brought to the limit anew."""
    data = tomllib.loads(text, parse_float=Decimal)
    old = read_budget(data)
    for row, line, amount in zip(data["line"], old.lines, amounts, strict=True):
        if amount != line.amount:
            row |= {"price": Decimal(amount) / 100 / row["quantity"], "tax_included": True}
            if amount % row["quantity"]:
                # no whole price for each even before, as tax was added to the whole line: then it is one lot
                row |= {"price": Decimal(amount) / 100, "per": "lot", "quantity": 1, "pieces": line.pieces}
    return read_budget(data)


@example(
    text='currency = "EUR"\nlimit = 4000\ntax_included = true\ntax_rate = 19\n'
    + "".join(
        f'[[line]]\nrole = "{role}"\nprice = {price}\nquantity = {many}\ntax_included = false\n'
        for role, price, many in (("mains", 600, 2), ("centre", 700, 1), ("sub", "333.33", 3), ("accessories", 90, 1))
    ),
    rules=RULE_SETS["music-first"],
    facts={"asks": None, "electronics": None, "accessories": None},
)
@given(text=packages(), rules=SETS, facts=FACTS)
@settings(max_examples=example_count(2 / 3))
def test_a_package_with_its_mend_written_into_the_file_is_as_the_mend_says(
    text: str, rules: RuleSet, facts: dict[str, Any]
) -> None:
    """Five hundred of them by hand: `TRIPTYCH_TEST_EXAMPLES=most pytest -k package` of this file."""
    budget = known(read_budget(tomllib.loads(text, parse_float=Decimal)), facts)
    before, mended = check(budget, rules), mend(budget, rules)
    if mended.outcome in (MendOutcome.ANOTHER_LIMIT, MendOutcome.NO_LIMIT_WOULD_DO):
        assert before.broken or before.over
        return
    after = check(known(applied(text, mended.amounts), facts), rules)
    assert after.fits == before.fits
    assert all(about(one.rule) in mended.words for one in before.fits if not one.holds)
    assert [line.amount for line in after.budget.lines] == list(mended.amounts)
    assert not after.broken
    assert not after.over
    broken = {result.rule.name for result in after.results if not result.holds}
    assert broken == set(mended.stays)
    held = {result.rule.name for result in before.results if result.holds}
    assert set(mended.breaks) == broken & held
    assert broken <= {result.rule.name for result in before.results if not result.holds} | set(mended.breaks)
    untouched = (line.owned or line.fixed or not line.amount for line in budget.lines)
    assert all(new == line.amount for line, new, still in zip(budget.lines, mended.amounts, untouched, strict=True)
               if still)  # fmt: skip


@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_the_changes_add_up_to_the_new_amounts(budget: Budget, rules: RuleSet) -> None:
    mended = mend(budget, rules)
    amounts = [line.amount for line in budget.lines]
    for change in mended.changes:
        assert change.by > 0
        for place, sign in ((change.source, -1), (change.target, 1)):
            if place is not None:
                amounts[place] += sign * change.by
    assert tuple(amounts) == mended.amounts


@pytest.mark.examples
@given(budget=budgets(300_000), rules=SETS)
@settings(max_examples=example_count(2 / 3))
def test_the_limit_that_would_do_does_and_no_smaller_one(budget: Budget, rules: RuleSet) -> None:
    fixed = replace(budget, lines=tuple(replace(line, fixed=line.role != "centre") for line in budget.lines), limit=1)
    answer = mend(fixed, rules)
    assume(answer.outcome is MendOutcome.ANOTHER_LIMIT and answer.limit is not None)
    assert answer.limit is not None
    assert mend(replace(fixed, limit=answer.limit), rules).outcome in (MendOutcome.MENDED, MendOutcome.NOTHING_TO_MEND)
    assert mend(replace(fixed, limit=answer.limit - 1), rules).outcome is MendOutcome.ANOTHER_LIMIT


@pytest.mark.processes
def test_where_nothing_may_move_no_solver_is_asked() -> None:
    """A plan's lines cost what they cost: a should that is broken there is told, at the price of no library."""
    code = (
        "import sys; from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine; "
        "from triptych.recommender.money.budget.mend import mend; "
        "lines = (BudgetLine('mains', 9000, 2, fixed=True), BudgetLine('centre', 100, fixed=True), "
        "BudgetLine('sub', 2500, fixed=True)); "
        "found = mend(Budget('EUR', 20000, True, lines)); "
        "print(found.outcome.value, *found.stays, found.changes, 'scipy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("nothing_to_mend centre_at_least_one_main () False\n", "")
