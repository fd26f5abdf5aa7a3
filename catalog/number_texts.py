"""Numbers as texts that are read back in one way, and texts and ranges as refusals quote them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from triptych.catalog.numerals import LONGEST_NUMERAL
from triptych.catalog.quantities import Quantity
from triptych.catalog.units import FACTORS

LONGEST_SHOWN: Final = 80
"""How much of a text an error repeats. [characters]."""

READS_TWICE: Final = re.compile(r"-?[1-9][0-9]{0,2}\.[0-9]{3}")
"""A decimal whose point could part thousands."""


def typed(value: float | Decimal) -> str:
    """Return a number that a file or a program holds as such, as text that can be read one way only.

    >>> typed(Decimal("1.2")), typed(Decimal("1.290")), typed(1290)
    ('1.2', '1.29', '1290')
    >>> typed(Decimal("1.299"))
    '1.2990'
    """
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite() or abs(exact.adjusted()) > LONGEST_NUMERAL:
        return str(exact)
    text = plain(exact)
    return f"{text}0" if READS_TWICE.fullmatch(text) else text


def plain(value: Decimal) -> str:
    """Return a decimal without exponent and trailing zeros."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def quoted(text: str) -> str:
    """Return a text in quotes and short, with everything unprintable written out."""
    return repr(text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…")


def plausible(quantity: Quantity, unit: str | None = None) -> str:
    """Return the plausible range in words, in `unit` or else in the bare unit."""
    unit = unit or quantity.bare_unit
    factor = float(FACTORS[quantity.kind][unit])
    low, high = (plain(Decimal(f"{limit / factor:.4g}")) for limit in (quantity.low, quantity.high))
    return f"{low} to {high}{after(unit)}"


def after(unit: str) -> str:
    """Return a unit as it follows a number."""
    return "" if unit in ("", "1") else f" {unit}"


def either(texts: Sequence[str]) -> str:
    """Return texts in quotes, the last after an `or`."""
    *first, last = map(quoted, texts)
    return f"{', '.join(first)} or {last}" if first else last


def two_ways(text: str, told: Sequence[str], right: Sequence[str]) -> str:
    """Why a text that could be two numbers is refused, with what to write for those of them that would be taken."""
    return f"{quoted(text)} could be {' or '.join(told)}; write {either(right)}"
