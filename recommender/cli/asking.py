"""From the options of a command to what a catalogue is asked."""

from __future__ import annotations

import re
from typing import TypedDict

from triptych.catalog.errors import BadInput


class Cap(TypedDict):
    """The most a centre may cost, and in which currency; None where neither is named."""

    cap: float | None
    currency: str | None


def cap_of(budget: str) -> Cap:
    """What `--budget` says; nothing where it isn't given."""
    cap, currency = amount(budget) if budget else (None, None)
    return Cap(cap=cap, currency=currency)


def amount(text: str) -> tuple[float, str | None]:
    """A budget as a number with its currency, if one is named: `700`, `1,200.50`, `700 EUR`."""
    from triptych.catalog.errors import UnreadableQuantity
    from triptych.catalog.measures import number

    found = re.fullmatch(r"(?P<before>[A-Za-z]{3})?\s*(?P<number>[^A-Za-z]+?)\s*(?P<after>[A-Za-z]{3})?", text.strip())
    if not found or (found["before"] and found["after"]):
        raise BadInput(f"--budget {text!r} is no amount: give a number such as 700, or 700 EUR")
    try:
        value = float(number(found["number"]))
    except UnreadableQuantity as problem:
        raise BadInput(f"--budget {text!r}: {problem}") from None
    if not 0 < value < 1e9:
        raise BadInput(f"--budget {text!r}: an amount from 0 to 1,000,000,000 is wanted")
    currency = found["before"] or found["after"]
    return value, currency.upper() if currency else None
