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
    bare = [a for a in found if a.unit is None and not re.match(r"\s*(?:x|@|-?way)", text[a.end :])]
    if sizes or (not named and not _in_millimetres(bare, entry)):
        return sizes
    return [replace(a, unit=UNITS[named[1] if named else "mm"]) for a in bare[:1]]


def _in_millimetres(bare: Sequence[WrittenAmount], entry: SheetEntry) -> bool:
    """Whether the only bare number under a label of a bass driver can be nothing but millimetres: 'Ø bass: 2 x 130'."""
    sized = len(bare) == 1 and re.fullmatch(r"\d{2,3}", bare[0].printed) is not None
    return sized and bool(entry.key) and _SMALLEST <= int(bare[0].printed) <= _LARGEST


BARE_LIST: Final = re.compile(
    r"(?:\d ?[x*] ?)?(\d+(?:[.,]\d+)?)(?:\s*[/+]\s*(?:\d ?[x*] ?)?(\d+(?:[.,]\d+)?)){1,2}\s*(?P<unit>mm|cm|in|\")?"
)
"""Sizes of drivers and no more: '25 / 2x130'."""


def with_units(entry: SheetEntry) -> SheetEntry:
    """Return a list of bare sizes with the unit of its label or its end, or that of figures that fit no other."""
    found = BARE_LIST.fullmatch(entry.value)
    if not found:
        return entry
    named = re.search(r"(?:\(|\b)(mm|cm|in|inch|\")[)\]]?\.?$", entry.key)
    sizes = [float(size.replace(",", ".")) for size in re.findall(r"\d+(?:[.,]\d+)?(?![\d.,]* ?[x*])", found[0])]
    fits = max(sizes) >= _SMALLEST and min(sizes) >= _THINNEST
    unit = found["unit"] or (named[1] if named else "mm" if fits else None)
    if unit is None:
        return entry
    bare = found[0].removesuffix(found["unit"] or "").strip()
    return replace(entry, value=" + ".join(f"{part.strip()} {unit}" for part in re.split("[/+]", bare)))


_SMALLEST: Final = 65
_LARGEST: Final = 460
"""Within these a bare number is a bass driver's in millimetres: in inches or centimetres there is none. [mm]."""
_THINNEST: Final = 13
"""A smaller one beside them is no tweeter's in millimetres. [mm]."""


def longer(sizes: Sequence[WrittenAmount], kind: str, entry: SheetEntry) -> UnitReading:
    """Return the longer side of a ribbon; the first of two bare sides has the unit of the second."""
    readings = [resolve(size, LOUDSPEAKER[f"{kind}_size"], raw=entry.raw) for size in sizes]
    bare = [amount for amount in amounts(entry.value) if amount.unit is None]
    for amount in bare:
        if re.match(r"\s*x\s*\d", entry.value[amount.end :]):
            readings.append(resolve(amount, LOUDSPEAKER[f"{kind}_size"], sizes[0].unit, entry.raw))
    longest = max(readings, key=lambda reading: reading.value or 0.0)
    return longest.flagged("the longer side of a ribbon") if len(readings) > 1 and longest.value else longest


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
