"""One amount to one value: exact conversion, plausible range, and what two printings of one figure agree on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from triptych.catalog import number_texts, numbers
from triptych.catalog.datasheet.amounts import WrittenAmount
from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.quantities import Quantity

_METRIC: Final = ("mm", "cm", "m", "kg", "g")
_NO_THOUSANDTHS: Final = ("mm", "Hz", "W", "g", "dB")
"""Units that nobody prints three decimals of; common practice, no source."""


@dataclass(frozen=True, slots=True)
class UnitReading:
    """What an amount was read as, in SI; `step` is what its digits resolve. With `refusal` it has no value."""

    value: float | None
    step: float = 0.0
    flags: tuple[str, ...] = ()
    inferred: bool = False
    refusal: str | None = None
    raw: str = ""
    metric: bool = False

    def flagged(self, *flags: str, inferred: bool | None = None) -> UnitReading:
        """Return it with more flags, and as inferred where that is said."""
        return replace(self, flags=self.flags + flags, inferred=self.inferred if inferred is None else inferred)


def refused(why: str, raw: str = "") -> UnitReading:
    """Return a reading without a value."""
    return UnitReading(None, refusal=why, raw=raw)


def resolve(amount: WrittenAmount, quantity: Quantity, unit: str | None = None, raw: str = "") -> UnitReading:
    """Return the value of an amount, exactly converted, or why it has none.

    Parameters
    ----------
    amount : Amount
        As it stands in the text.
    quantity : Quantity
        What it should be; a reading outside its plausible range is none.
    unit : str, optional
        The unit of a bare number; else the bare unit of the quantity.
    """
    named = amount.unit or unit or quantity.bare_unit
    shown = f"{amount.printed} {named}" if amount.unit is None and quantity.unit != "1" else amount.printed
    tried = {number: _tried(number, named, quantity) for number in amount.numbers}
    values = {number: value for number, value in tried.items() if isinstance(value, float)}
    if len(values) > 1 and named in _NO_THOUSANDTHS:
        values.pop(amount.numbers[0])
    if len(values) > 1:
        one, other = (f"{number_texts.plain(numbers.number(number))} {named}" for number in values)
        return refused(f"{shown!r} could be {one} or {other}", raw)
    if not values:
        return refused(str(next(iter(tried.values()))), raw)
    number, value = next(iter(values.items()))
    step = _step(amount, number, named, quantity)
    return _marked(UnitReading(value, step, raw=raw, metric=named in _METRIC), amount, number, shown)


def _marked(reading: UnitReading, amount: WrittenAmount, number: str, shown: str) -> UnitReading:
    """Say which of two readings was taken, unless it is the plain one."""
    if len(amount.numbers) == 1 or (number == amount.numbers[0] and not amount.comma):
        return reading
    what = "thousands" if number == amount.numbers[1] else "decimals"
    return reading.flagged(f"the mark in {shown!r} is taken for {what}; otherwise it is not plausible", inferred=True)


@lru_cache(maxsize=4096)
def _tried(number: str, unit: str, quantity: Quantity) -> float | str:
    try:
        value = numbers.read(number if unit == "1" else f"{number} {unit}", quantity)
    except UnreadableQuantity as problem:
        return str(problem)
    return float("nan") if value is None else value


def _step(amount: WrittenAmount, number: str, unit: str, quantity: Quantity) -> float:
    """What the digits resolve, in SI."""
    if unit == "1":
        return 1.0
    printed = amount.step if number == amount.numbers[0] else 1.0
    anything = replace(quantity, low=0.0, high=float("inf"))
    return printed * (numbers.read(f"1 {unit}", anything) or 0.0)


def agree(one: UnitReading, other: UnitReading) -> bool:
    """Whether two readings can be one figure, printed twice and rounded as their digits allow."""
    if one.value is None or other.value is None:
        return False
    slack = 1e-9 * max(abs(one.value), abs(other.value))
    return abs(one.value - other.value) <= (one.step + other.step) / 2 + slack


def merged(readings: Sequence[UnitReading], unit_text: str) -> UnitReading:
    """Return the finest of several readings of one figure, or the refusal where they disagree.

    Parameters
    ----------
    readings : sequence of Reading
        At least one.
    unit_text : str
        The quantity's name, for the refusal.
    """
    known = [reading for reading in readings if reading.value is not None]
    if not known:
        return readings[0]
    # metric stands as it is printed, unless it is ten times coarser
    best = min(known, key=lambda reading: (reading.step / (10 if reading.metric else 1), reading.inferred))
    odd = next((reading for reading in known if not agree(best, reading)), None)
    if odd is not None:
        shown = " and ".join(dict.fromkeys((best.raw, odd.raw))) or unit_text
        return refused(f"two figures that disagree by more than their rounding: {shown}", shown)
    lost = [reading.refusal for reading in readings if reading.refusal]
    return best.flagged(*(f"left out: {why}" for why in lost)) if lost else best
