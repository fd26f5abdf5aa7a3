"""A text to its loudspeakers: tables first, then a line each, then headings; what is left is shared or one."""

from __future__ import annotations

from collections.abc import Sequence

from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.sections import a_line_each, headed
from triptych.catalog.datasheet.shared import share
from triptych.catalog.datasheet.sheet_tables import find_table
from triptych.catalog.datasheet.text_cells import Cell, Line, lines


def find_parts(text: str) -> tuple[list[SheetPart], list[Cell]]:
    """Return the loudspeakers of a text that holds several, and the lines of nobody; none where it holds one or none.

    A line outside of them that says so, such as 'All models: 8 ohm', is given to each.
    """
    found = lines(text)
    for finder in (find_table, a_line_each, headed):
        made = finder(found)
        if made is not None:
            return _completed(*made, found)
    return [], []


def _completed(parts: list[SheetPart], taken: set[int], found: Sequence[Line]) -> tuple[list[SheetPart], list[Cell]]:
    """The loudspeakers with their titles and what all of them share, and what is left over."""
    rest: list[Cell] = []
    first = min(taken)
    for number, line in enumerate(found):
        if number in taken or not line.cells:
            continue
        if not share(parts, line):
            rest.append(line.whole)
    title = tuple(line.whole for number, line in enumerate(found) if line.cells and number < first)[:2]
    for part in parts:
        part.title = title
    return parts, rest
