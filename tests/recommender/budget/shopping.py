"""Budgets as text, for the tests of this folder."""

from __future__ import annotations

from triptych.recommender.money.budget.budget_lines import Budget, Head, read_headed
from triptych.recommender.money.budget.toml_records import Table, parse


def line(role: str, price: str | int, per: str = "each", quantity: int = 1, more: str = "tax_included = true") -> str:
    """One line in TOML."""
    return f'[[line]]\nrole = "{role}"\nprice = {price}\nper = "{per}"\nquantity = {quantity}\n{more}\n'


def head(limit: int = 4000, more: str = "tax_included = true\ntax_rate = 20") -> str:
    """The head in TOML."""
    return f'currency = "EUR"\nlimit = {limit}\n{more}\n'


def read_budget(data: Table) -> Budget:
    """A budget from TOML already loaded."""
    return read_headed(Head, data)[1]


def parse_budget(text: str) -> Budget:
    """A budget from TOML."""
    return read_budget(parse(text, "the budget"))


def budget(*lines: str, top: str | None = None) -> Budget:
    """A budget read from lines in TOML."""
    return parse_budget((head() if top is None else top) + "".join(lines))


MAINS = line("mains", 1100, "pair")
CENTRE = line("centre", 600)
SURROUNDS = line("surrounds", 400, "pair")
SUB = line("sub", 600)
ELECTRONICS = line("electronics", 800)
ACCESSORIES = line("accessories", 200)
SOUND = (MAINS, CENTRE, SURROUNDS, SUB, ELECTRONICS, ACCESSORIES)
