"""How large a driver is: the lengths of its clause, its nominal size in two units, the longer side of a ribbon."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, joined
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.readings import UnitReading, agree, refused, resolve
from triptych.catalog.datasheet.result import NOMINAL, NOMINAL_SLACK
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind
from triptych.catalog.units import UNITS

_NO_SIZE: Final = re.compile(r"\s*-?\s*(?:voice ?coil|schwingspul|bobin|magnet)|\s*\)?\s*magnet")


def lengths_of(text: str, entry: SheetEntry) -> list[WrittenAmount]:
    """Return the lengths of a clause; a bare number takes the unit that the key names."""
    named = re.search(r"(?:\(|\b|\d ?)(mm|cm|in|inch|inches)[)\]]?\.?$", entry.key)
    found = amounts(text)
    sizes = [a for a in found if a.kind is Kind.LENGTH and not _NO_SIZE.match(text[a.end :])]
    sizes = [a for a in sizes if not re.search(r"(?:spacing|thick|wall|mdf)\W*$", text[: a.start])]
    if sizes or not named:
        return sizes
    bare = [a for a in found if a.unit is None and not re.match(r"\s*(?:x|@|-?way)", text[a.end :])]
    return [replace(a, unit=UNITS[named[1]]) for a in bare[:1]]


def longer(sizes: Sequence[WrittenAmount], kind: str, entry: SheetEntry) -> UnitReading:
    """Return the longer side of a ribbon; the first of two bare sides has the unit of the second."""
    readings = [resolve(size, LOUDSPEAKER[f"{kind}_size"], raw=entry.raw) for size in sizes]
    bare = [amount for amount in amounts(entry.value) if amount.unit is None]
    for amount in bare:
        if re.match(r"\s*x\s*\d", entry.value[amount.end :]):
            readings.append(resolve(amount, LOUDSPEAKER[f"{kind}_size"], sizes[0].unit, entry.raw))
    return max(readings, key=lambda reading: reading.value or 0.0)


def nominal(sizes: Sequence[WrittenAmount], kind: str, text: str, entry: SheetEntry) -> UnitReading:
    """Return a nominal size, whose inches and millimetres are names rather than measures."""
    quantity = LOUDSPEAKER[f"{kind}_size"]
    readings = [resolve(size, quantity, raw=entry.raw) for size in sizes]
    if any(reading.value is not None for reading in readings):
        # what is too long or too short for a driver is something else's
        kept = [place for place, reading in enumerate(readings) if reading.value is not None]
        sizes, readings = [sizes[place] for place in kept], [readings[place] for place in kept]
    first = readings[0]
    if len(sizes) == 1 or not joined(text, sizes[0], sizes[1]) or first.value is None or readings[1].value is None:
        return first if len({reading.value for reading in readings}) == 1 else _several(sizes, readings, text, entry)
    if agree(first, readings[1]):
        return min(readings[:2], key=lambda reading: (not reading.metric, reading.step))
    if abs(first.value - readings[1].value) <= NOMINAL_SLACK * max(first.value, readings[1].value):
        metric = readings[0] if sizes[0].unit in ("mm", "cm") else readings[1]
        return metric.flagged(NOMINAL, inferred=True)
    return refused("two sizes that disagree by more than nominal sizes do", entry.raw)


def _several(
    sizes: Sequence[WrittenAmount], readings: Sequence[UnitReading], text: str, entry: SheetEntry
) -> UnitReading:
    if len(sizes) > 1 and joined(text, sizes[0], sizes[1]):
        return readings[0] if readings[0].value is not None else readings[1]
    return refused("several sizes; which one is the driver's?", entry.raw)
