"""Further tables: of loudspeakers that another has named, in full or by what tells their names apart, or of others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.row_tables import by_rows
from triptych.catalog.datasheet.sheet_tables import by_columns
from triptych.catalog.datasheet.text_cells import Line, is_name, label
from triptych.catalog.names import name_key

_FEWEST_HEADS: Final = 3
"""How many heads a further table has at least, as the first one; tried, no source."""
_OF_LOUDSPEAKERS: Final = frozenset(
    ("sensitivity", "impedance", "minimum", "response", "low", "crossover", "drivers", "woofer", "tweeter", "power")
)
"""What no table of stands or cables tells of its rows."""
_FEWEST_OF_THEM: Final = 2
"""How many of these the heads of a table of other loudspeakers tell; tried, no source."""


def add_tables(parts: list[SheetPart], taken: set[int], lines: Sequence[Line]) -> None:
    """Give each loudspeaker its row of further tables, add those of tables of others, and the lines to those taken."""
    for number, line in enumerate(lines):
        if number in taken or len(line.cells) < _FEWEST_HEADS:
            continue
        below = [row for row in range(number + 1, len(lines)) if lines[row].cells and row not in taken]
        for finder in (by_columns, by_rows):
            found = finder(lines, number, below)
            owners = _owners(parts, found[0]) if found else None
            if found is None or owners is None:
                continue
            for owner, row in zip(owners, found[0], strict=True):
                if owner is None:
                    parts.append(row)
                else:
                    owner.pieces += row.pieces
            taken |= found[1]
            break


def _owners(parts: Sequence[SheetPart], rows: Sequence[SheetPart]) -> list[SheetPart | None] | None:
    """The loudspeaker of each row, by its name or the end of it, none for another; None where two are one's."""
    found: list[SheetPart | None] = []
    for row in rows:
        words = name_key(row.name.text).split() if row.name else []
        owned = [part for part in parts if words and part.name and _ends_in(part.name.text, words)]
        exact = [part for part in owned if part.name and name_key(part.name.text).split() == words]
        owned = exact or owned
        if len(owned) > 1 or (owned and owned[0] in found) or (not owned and not _is_another(row, parts)):
            return None
        found.append(owned[0] if owned else None)
    return found if len(found) > 1 else None


def _is_another(row: SheetPart, parts: Sequence[SheetPart]) -> bool:
    """Whether a row is of another loudspeaker: its name opens as theirs do, and its heads tell what only one has."""
    told = {label(cell) for piece in row.pieces for cell in piece.heads} & _OF_LOUDSPEAKERS
    first = {name_key(part.name.text).split()[0] for part in parts if part.name and name_key(part.name.text)}
    if row.name is None or not is_name(row.name) or len(told) < _FEWEST_OF_THEM:
        return False
    return name_key(row.name.text).split()[0] in first


def _ends_in(name: str, words: Sequence[str]) -> bool:
    return name_key(name).split()[-len(words) :] == words
