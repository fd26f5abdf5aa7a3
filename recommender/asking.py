"""From the options of a command, or the fields of a form, to what a catalogue is asked."""

from __future__ import annotations

from decimal import Decimal
from typing import Final, TypedDict

from triptych.catalog.errors import BadInput


class Cap(TypedDict):
    """The most a centre may cost, and in which currency; None where neither is named."""

    cap: float | None
    currency: str | None


def cap_of(budget: str, called: str = "--budget") -> Cap:
    """What `--budget` says, or what a form calls so; nothing where it isn't given."""
    cap, currency = amount(budget, called) if budget else (None, None)
    return Cap(cap=cap, currency=currency)


class SurroundPrice(TypedDict):
    """What one surround costs, and in which currency; None where neither is named."""

    surround_price: float | None
    surround_currency: str | None


def surround_of(text: str, called: str = "--surround-price") -> SurroundPrice:
    """What `--surround-price` says, or what a form calls so; nothing where it isn't given."""
    from triptych.catalog.money import dearest, too_dear
    from triptych.catalog.number_texts import quoted

    price, currency = amount(text, called) if text else (None, None)
    if price is not None and too_dear(Decimal(price), currency):
        raise BadInput(f"{called} {quoted(text)} {dearest(currency)}")
    return SurroundPrice(surround_price=price, surround_currency=currency)


LONGEST_SEARCH: Final = 86_400
"""Nobody waits for longer [s]."""


def seconds(text: str, option: str) -> float:
    """How long something may take, at most a day [s]."""
    from triptych.catalog.shares import figure

    found = figure(text, option, LONGEST_SEARCH)
    if not 0 <= found <= LONGEST_SEARCH:
        raise BadInput(f"{option} is out of range; write a number from 0 to {LONGEST_SEARCH:,} seconds")
    return found


def amount(text: str, option: str = "--budget") -> tuple[float, str | None]:
    """A budget as a number with its currency, if one is named: `700`, `1,200.50`, `700 EUR`."""
    from triptych.catalog import money
    from triptych.catalog.number_texts import quoted

    try:
        read = money.read_amount(text)
        currency = money.currency_of(read, text)
    except BadInput as problem:
        raise BadInput(f"{option} {problem}") from None
    if read.value == 0:
        raise BadInput(f"{option} {quoted(text)}: write an amount above 0")
    money.refuse_beyond(read.value, f"{option} {quoted(text)}")
    return float(read.value), currency
