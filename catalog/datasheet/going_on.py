"""Rows of tables with a column a model whose label or values go on on the line below: as one row, with tabs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.text_cells import Cell, label

_GAP: Final = re.compile(r"[ \u00a0]{2,}")
_OPEN: Final = re.compile(r"(?:[-–—/x×*÷~+,]|\b(?:and|und|et|y|e|en|i|to|bis|à|a|tot|do))$")
"""How a value ends that goes on below."""
_FEWEST: Final = 3
"""How many cells a row has at least: its label, and a value of each of two loudspeakers."""
_SLIP: Final = 2
"""How far a cell begins from the one that it goes on with. [characters]."""


def rows_whole(text: str) -> str:
    r"""Return a text with the rows that go on below as one row with tabs between its cells.

    >>> rows_whole("Size        20 x 35 x    20 x 94 x\n(WxHxD)     29 cm        31 cm").replace("\t", "|")
    'Size (WxHxD)|20 x 35 x 29 cm|20 x 94 x 31 cm'
    """
    if "  " not in text:
        return text
    text = _values_whole(text)
    made: list[str] = []
    row: list[Cell] | None = None
    for line in text.split("\n"):
        cells = [] if "\t" in line or "|" in line else _cells(line)
        if row is not None and cells and (more := _more(row, cells)):
            row = [Cell(_joined(own.text, one), own.start, own.column) for own, one in zip(row, more, strict=True)]
            made[-1] = "\t".join(cell.text for cell in row)
            continue
        made.append(line)
        row = cells if len(cells) >= _FEWEST and not cells[0].column else None
    return "\n".join(made)


def _cells(line: str) -> list[Cell]:
    """The pieces of a line that wide blanks part."""
    edges = [0, *(edge for gap in _GAP.finditer(line) for edge in gap.span()), len(line)]
    pieces = ((line[left:right].strip(), left) for left, right in zip(edges[::2], edges[1::2], strict=True))
    return [Cell(text, column, column) for text, column in pieces if text]


def _more(row: Sequence[Cell], cells: Sequence[Cell]) -> list[str] | None:
    """What a line adds to each cell of the row above it; None where it is no part of that row."""
    under = [
        next((place for place, own in enumerate(row) if abs(own.column - cell.column) <= _SLIP), None) for cell in cells
    ]
    if None in under or len(set(under)) < len(under):
        return None
    more = {place: cell.text for place, cell in zip(under, cells, strict=True)}
    texts = [more.get(place, "") for place in range(len(row))]
    if 0 not in more:
        # under names stand names, and a label among the values begins a row of its own
        labelled = label(row[0]) is not None and not any(label(cell) for cell in cells)
        return texts if labelled else None
    edge = row[1].column - row[0].column
    if len(cells) == 1:
        # the rest of a label: 'Amplificatore' and 'consigliato' below
        goes_on = texts[0][0].islower() or texts[0][0] in "([" or row[0].text.endswith(("/", "-"))
        return texts if goes_on and len(texts[0]) < edge and ":" not in texts[0] else None
    values = [own.text for own in row[1:] if re.search(r"\d", own.text)]
    opened = [text for text in values if _OPEN.search(text)]
    return texts if len(cells) == len(row) and len(opened) * 2 > len(values) else None


def _joined(own: str, more: str) -> str:
    """A cell with what goes on with it: a broken word whole, or another value."""
    if not more:
        return own
    if re.search(r"[^\W\d_]-$", own) and more[0].islower():
        return f"{own[:-1]}{more}"
    another = re.match(r"\d", more) and not _OPEN.search(own) and label(Cell(own, 0, 0)) is None
    return f"{own}, {more}" if another else f"{own} {more}"


_BULLET: Final = re.compile(r"\s*[-–—•*·▪]")


def _values_whole(text: str) -> str:
    """A text whose values of several lines, further in than the label above them, are one line each."""
    made: list[str] = []
    lines = text.split("\n")
    at = 0
    while at < len(lines):
        made.append(lines[at])
        at += 1
        below = at
        while below < len(lines) and lines[below].strip() and _indent(lines[below]) > _indent(lines[at - 1]) + 1:
            below += 1
        hanging = lines[at:below]
        if len(hanging) > 1 and label(Cell(lines[at - 1].strip(), 0, 0)) and all(map(_is_value, hanging)):
            whole = hanging[0].rstrip()
            for line in hanging[1:]:
                whole = _joined(whole, line.strip()) if not line.strip()[0].isupper() else f"{whole}, {line.strip()}"
            made.append(whole)
            at = below
    return "\n".join(made)


def _is_value(line: str) -> bool:
    """Whether a line holds a value and no label of its own."""
    bare = line.strip()
    lead = re.split(r"\d", bare, maxsplit=1)[0].strip(" (:")
    own = label(Cell(lead, 0, 0)) if len(lead) < len(bare) else None
    return own is None and not _BULLET.match(line) and not re.search(r":\s|\t|\||\S {2,}\S", bare)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())
