"""Weights and discounts as people write them: parts of a whole, each within its bounds."""

from __future__ import annotations

from typing import Final

from triptych.catalog.errors import BadInput
from triptych.catalog.number_texts import quoted
from triptych.catalog.numbers import number, read
from triptych.catalog.quantities import Kind, Quantity

MOST_WEIGHT: Final = 1_000
"""A weight above this is taken for a slip of the pen; only the shares of weights count."""


def figure(text: str, called: str, most: float = MOST_WEIGHT) -> float:
    """A number from 0 up that somebody writes, called as it is there; whether it is beyond `most` the caller says."""
    try:
        return float(number(text, least=0, most=most))
    except BadInput as problem:
        raise BadInput(f"{called}: {problem}") from None


def weight(text: str, called: str) -> float:
    """What somebody writes for a weight, called as it is there."""
    found = figure(text, called)
    refuse_weight(found, called)
    return found


def refuse_weight(value: float, called: str) -> None:
    """Refuse a weight that is below 0, no number or beyond all others."""
    if not 0 <= value <= MOST_WEIGHT:
        raise BadInput(f"{called} is out of range; write a number from 0 to {MOST_WEIGHT:,}")


_DISCOUNT: Final = Quantity("discount", Kind.PERCENT, "what is taken off a price", 0.0, 100.0, "%")


def discount(text: str) -> float | None:
    """Return what is taken off a price in percent, None where nothing is said; 0 takes nothing off and is refused.

    >>> discount("12.5"), discount("75 %")
    (12.5, 75.0)
    """
    found = read(text, _DISCOUNT)
    if found == 0:
        raise BadInput(f"{quoted(text)} is no discount; write a number above 0, up to 100 %, or leave it out")
    return found
