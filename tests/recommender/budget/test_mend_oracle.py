"""Dealers' packages and their mends against an oracle that tries everything and shares no code with the product."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from random import Random
from typing import Final

import pytest

from tests.recommender.budget.mend_oracle import RULES, Package, best, every, touching
from tests.recommender.budget.shopping import read_budget
from triptych.recommender.money.budget.budget_lines import Budget
from triptych.recommender.money.budget.mend import MendOutcome, mend
from triptych.recommender.money.budget.rules import RULE_SETS

pytestmark = pytest.mark.examples

PER: Final = {"mains": ("pair", 1), "centre": ("", 1), "surrounds": ("", 2), "heights": ("pair", 1), "sub": ("", 1),
              "electronics": ("lot", 1), "accessories": ("lot", 1)}  # fmt: skip
"""How the lines are counted; without `per` a quantity is of single boxes."""


def small_package(random: Random) -> str:
    """A package in so few yen that all can be tried, with things for nothing, owned, fixed and equal ones."""
    same = random.randint(1, 6)
    text = f'currency = "JPY"\nlimit = {random.randint(8, 26)}\ntax_included = true\n'
    for role, (per, quantity) in PER.items():
        if random.random() < (0.05 if role in ("mains", "centre", "accessories") else 0.4):
            continue
        quantity = 2 if role == "sub" and random.random() < 0.2 else quantity
        price = random.choice([0, same, same, random.randint(1, 7), random.randint(1, 4)])
        more = random.choice(["", "", "", "", "owned = true\n", "fixed = true\n", 'item = "given"\n'])
        text += f'[[line]]\nrole = "{role}"\nprice = {price}\nquantity = {quantity}\ntax_included = true\n{more}'
        text += f'per = "{per}"\n' if per else ""
    return text


def large_package(random: Random) -> str:
    """A package at the prices of a shop, some of them without tax."""
    text = f'currency = "EUR"\nlimit = {random.randint(500, 9000)}\ntax_included = true\ntax_rate = 19\n'
    for role, (per, quantity) in PER.items():
        if random.random() < (0.05 if role in ("mains", "centre") else 0.25):
            continue
        price = random.choice([0, "99.90", "333.33", random.randint(50, 2500), random.randint(50, 2500)])
        more = random.choice(["", "", "", "owned = true\n", "fixed = true\n", 'item = "given"\n'])
        taxed = random.choice(["true", "true", "false"])
        text += f'[[line]]\nrole = "{role}"\nprice = {price}\nquantity = {quantity}\ntax_included = {taxed}\n{more}'
        text += f'per = "{per}"\n' if per else ""
    return text


def budget_of(text: str) -> Budget:
    return read_budget(tomllib.loads(text, parse_float=Decimal))


def hold_against_all(seed: int) -> MendOutcome:
    """One small package against all that could be done with it."""
    random = Random(seed)
    text, name = small_package(random), random.choice(list(RULES))
    package, found = Package.read(text), mend(budget_of(text), RULE_SETS[name])
    old, expected = [line.amount for line in package.lines], best(package, name)
    if expected is None:
        assert found.outcome in (MendOutcome.ANOTHER_LIMIT, MendOutcome.NO_LIMIT_WOULD_DO), text
        if found.limit is not None and found.limit < 60:
            assert len(every(Package(found.limit, package.lines), name, half=False)), text
            assert not len(every(Package(found.limit - 1, package.lines), name, half=False)), text
        return found.outcome
    amounts = list(found.amounts)
    assert sum(amounts) <= package.limit, text
    assert frozenset(package.rows(name)) - package.broken(name, amounts) == expected.held, text
    assert (found.effort, touching(package, name, amounts)) == (expected.effort, expected.touched), text
    assert (found.outcome is MendOutcome.MENDED) == (amounts != old), text
    _says_what_it_breaks(package, name, found.stays, found.breaks, amounts)
    return found.outcome


def hold_to_its_words(seed: int) -> MendOutcome:
    """One large package with its mend, judged again."""
    random = Random(seed)
    text, name = large_package(random), random.choice(list(RULES))
    package, found = Package.read(text), mend(budget_of(text), RULE_SETS[name])
    old, amounts = [line.amount for line in package.lines], list(found.amounts)
    assert [line.amount for line in budget_of(text).lines] == old, text
    if found.outcome in (MendOutcome.MENDED, MendOutcome.NOTHING_TO_MEND):
        assert sum(amounts) <= package.limit, text
        assert all(new == line.amount for line, new in zip(package.lines, amounts, strict=True) if not line.moves), text
        _says_what_it_breaks(package, name, found.stays, found.breaks, amounts)
    else:
        assert sum(old) > package.limit, text
    return found.outcome


def _says_what_it_breaks(
    package: Package, name: str, stays: tuple[str, ...], breaks: tuple[str, ...], amounts: list[int]
) -> None:
    before, after = (package.broken(name, some) for some in ([line.amount for line in package.lines], amounts))
    if stays or amounts != [line.amount for line in package.lines]:
        assert set(stays) == after
    assert set(breaks) == after - before


@pytest.mark.parametrize("first", range(0, 60, 10))
def test_no_mend_hurts_less_than_the_one_that_is_proposed(first: int) -> None:
    """More by hand, as `hold_against_all(seed)` with seeds of your own."""
    outcomes = {hold_against_all(seed) for seed in range(first, first + 10)}
    assert MendOutcome.MENDED in outcomes


@pytest.mark.parametrize("first", [0, 20])
def test_a_package_is_after_its_mend_what_the_mend_says(first: int) -> None:
    outcomes = {hold_to_its_words(seed) for seed in range(first, first + 20)}
    assert MendOutcome.MENDED in outcomes
