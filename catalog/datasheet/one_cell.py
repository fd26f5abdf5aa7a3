"""One cell of a table as a datasheet would say it: '16 kg (pair)', '45Hz-24kHz', 'silk dome'."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.reader import read_datasheet
from triptych.catalog.datasheet.result import Fate, ReadField, ReadStatus
from triptych.catalog.datasheet.sheet_words import is_known
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

LONGEST_CELL: Final = 200
"""A longer cell is no figure. [characters]."""
_BESIDE: Final = {
    "weight": (),
    "amplifier_min": ("amplifier_max",),
    "amplifier_max": ("amplifier_min",),
    "low_limit": ("low_limit_drop", "high_limit"),
    "high_limit": ("low_limit", "low_limit_drop"),
    "crossover": ("crossover_order",),
    "tweeter_type": ("tweeter_material",),
    "woofer_size": ("woofer_count",),
    "midrange_size": ("midrange_count",),
    "tweeter_size": ("tweeter_type", "tweeter_material"),
    "woofer_count": ("woofer_size",),
    "midrange_count": ("midrange_size",),
}
"""Columns whose cells often say more than a figure, and of what else: a crossover's cell may tell its slope."""
_WORDS: Final = ("tweeter_type",)
"""Of these, columns without a figure."""
_CONCLUDED: Final = ("stated for a pair", "electrical or acoustic", "nominal sizes in mm and in")
"""How the flags begin of what a cell may leave to conclude."""


def read_cell(column: str, text: str) -> dict[str, ReadField] | None:
    """Return what one cell under a column's name says of it and of what goes with it.

    None where that is nothing, or where anything in the cell is left over: it is read whole or not at all.

    >>> {name: field.value for name, field in read_cell("crossover", "2.4 kHz (24 dB/oct)").items()}
    {'crossover': (2400.0,), 'crossover_order': 4}
    >>> read_cell("width", "546 mm, see drawing") is None
    True
    """
    plain = " ".join(text.split())
    if column not in _BESIDE or len(plain) > LONGEST_CELL or not _nothing_left(plain, column):
        return None
    sheet = read_datasheet(f"{column}: {plain}")
    lost = any(one.fate in (Fate.NOT_READ, Fate.REFUSED) for one in sheet.numbers)
    if lost or len(sheet.records) != 1 or sheet.records[0].unread or sheet.unread:
        return None
    fields = sheet.records[0].fields
    found = fields.get(column)
    if found is None or any(name != column and name not in _BESIDE[column] for name in fields):
        return None
    return dict(fields) if all(map(_is_sure, fields.values())) else None


def _is_sure(found: ReadField) -> bool:
    if found.value is None:
        return False
    return found.status is ReadStatus.READ or found.flags[0].startswith(_CONCLUDED)


def _kind(column: str) -> Kind:
    """What a figure in a cell measures; beside a count it is the driver's size: 'twin 5"'."""
    return Kind.LENGTH if column.endswith("_count") else LOUDSPEAKER[column].kind


def _nothing_left(text: str, column: str) -> bool:
    """Whether every word of a cell is a number, a unit or a word that datasheets use, and a figure has its unit."""
    small = folded(text)
    found = amounts(small)
    if (
        "^" in small
        or re.search(r"\b(?:or|oder|ou)\b", small)
        or not (column in _WORDS or any(amount.kind is _kind(column) for amount in found))
    ):
        # a raised figure is a footnote's, and of two things none is said
        return False
    for amount in reversed(found):
        small = f"{small[: amount.start]} {small[amount.end :]}"
    return all(is_known(word) for word in re.findall(r"[^\W\d_]{3,}", small))
