"""A second table of loudspeakers that another has named, in full or by what tells their names apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.row_tables import by_rows
from triptych.catalog.datasheet.text_cells import Line
from triptych.catalog.names import name_key

_FEWEST_HEADS: Final = 3
"""How many heads a further table has at least, as the first one; tried, no source."""


def add_tables(parts: Sequence[SheetPart], taken: set[int], lines: Sequence[Line]) -> None:
    """Give each loudspeaker its row of further tables, and add the lines of these to those taken."""
    for number, line in enumerate(lines):
        if number in taken or len(line.cells) < _FEWEST_HEADS:
            continue
        below = [row for row in range(number + 1, len(lines)) if lines[row].cells and row not in taken]
        found = by_rows(lines, number, below)
        owners = _owners(parts, found[0]) if found else []
        if found and owners:
            for owner, row in zip(owners, found[0], strict=True):
                owner.pieces += row.pieces
            taken |= found[1]


def _owners(parts: Sequence[SheetPart], rows: Sequence[SheetPart]) -> list[SheetPart]:
    """The loudspeaker of each row, by its name or the end of it; none where a row is nobody's or two are one's."""
    found: list[SheetPart] = []
    for row in rows:
        words = name_key(row.name.text).split() if row.name else []
        owned = [part for part in parts if words and part.name and _ends_in(part.name.text, words)]
        exact = [part for part in owned if part.name and name_key(part.name.text).split() == words]
        owned = exact or owned
        if len(owned) != 1 or owned[0] in found:
            return []
        found += owned
    return found if len(found) > 1 else []


def _ends_in(name: str, words: Sequence[str]) -> bool:
    return name_key(name).split()[-len(words) :] == words
