"""Figures of a budget or a rule: what the one reader makes of them, refused in the budget's words with their place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final, TypeVar

from triptych.catalog import money, number_texts, numbers
from triptych.catalog.errors import BadInput
from triptych.catalog.inputs import shown
from triptych.catalog.money import MOST_MONEY
from triptych.catalog.quantities import Kind, Quantity
from triptych.recommender.money.budget.errors import BadBudget

Read = TypeVar("Read")


def _at(where: str, read: Callable[[], Read]) -> Read:
    try:
        return read()
    except BadInput as problem:
        raise BadBudget(f"{where}: {problem}") from None


def _text(value: object, where: str) -> str:
    """A figure as text: what TOML holds as a number reads one way only."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise BadBudget(f"{where} is {shown(value)}; write a number")
    return number_texts.typed(value)


def number(
    value: object,
    where: str,
    least: Decimal = Decimal("-Infinity"),
    most: Decimal = Decimal("Infinity"),
    examples: Sequence[str] = numbers.EXAMPLE_NUMBERS,
) -> Decimal:
    """A number without a unit, refused out of its bounds.

    >>> number("1 100,50", "line 1")
    Decimal('1100.50')
    """
    text = _text(value, where)
    found = _at(where, lambda: numbers.number(text, least=float(least), most=float(most), examples=examples))
    within(found, least, most, where)
    return found


def up_to(value: object, where: str, most: Decimal, examples: Sequence[str]) -> Decimal:
    """A number whose refusal tells to write what lies from 0 to `most`; whether it lies there the caller says."""
    text = _text(value, where)
    return _at(where, lambda: numbers.number(text, least=0.0, most=float(most), examples=examples))


def amount(value: object, where: str, likely: str | None = None) -> tuple[Decimal, str | None]:
    """An amount and the currency beside it, None where there is none; `likely` settles a sign that several share.

    >>> amount("1100,50 EUR", "line 1"), amount("$1100", "line 1", "USD")
    ((Decimal('1100.50'), 'EUR'), (Decimal('1100'), 'USD'))
    """
    text = _text(value, where)
    read = _at(where, lambda: money.read_amount(text, stated=likely))
    within(read.value, Decimal(0), MOST_MONEY, where)
    if likely in read.codes:
        return read.value, likely
    return read.value, _at(where, lambda: money.currency_of(read, text))


LEAST_RATE: Final = Decimal(1) / 10**6
MOST_RATE: Final = Decimal(10) ** 6
"""Between these all rates of exchange lie, whichever way round they are written."""


def within(value: Decimal | Fraction, least: Decimal, most: Decimal, where: str) -> None:
    """Refuse a figure that is out of range, in one voice for all of them."""
    if not least <= value <= most:
        raise BadBudget(f"{where} is out of range; write a number from {least:f} to {most:,f}")


def rate_of_exchange(value: object, where: str) -> Fraction:
    """What one unit of a currency is in another."""
    return Fraction(number(value, where, LEAST_RATE, MOST_RATE))


def whole(value: object, where: str, least: int = 1) -> int:
    """A whole number from `least` up."""
    text = _text(value, where)
    return _at(where, lambda: numbers.whole(text, least, _MOST))


_MOST = 1_000_000


RUN: Final = Quantity("run", Kind.LENGTH, "length of the cable to one box", 0.1, 100.0, "m")


def run_of_cable(value: object, where: str) -> float:
    """The length of a cable to one box; a bare number is in metres. [m].

    >>> run_of_cable("4.5 m", "line 1"), run_of_cable(3, "line 1")
    (4.5, 3.0)
    """
    text = _text(value, where)
    found = _at(where, lambda: numbers.read(text, RUN))
    if found is None:
        raise BadBudget(f"{where} is empty; write a length such as '4 m', or leave the key out")
    return found


def tax_rate(value: object, where: str) -> Fraction | None:
    """A rate of tax as a share of the price, from percent; None where it is not known."""
    if value is None:
        return None
    text = _text(value, where)
    rate = _at(where, lambda: numbers.percent(text))
    return None if rate is None else Fraction(rate) / 100


def currency(value: object, where: str) -> str:
    """A currency as its three letters.

    >>> currency("eur", "the head")
    'EUR'
    """
    return _at(where, lambda: money.currency(str(value)))


def minor(value: Decimal, code: str, where: str) -> int:
    """An amount in whole minor units; an amount that is not whole is refused.

    >>> minor(Decimal("19.99"), "EUR", "limit")
    1999
    """
    return _at(where, lambda: money.to_minor(value, code))
