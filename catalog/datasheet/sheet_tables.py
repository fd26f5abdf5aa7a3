"""Tables of several loudspeakers: a column a model, a row a model, and two sheets printed side by side."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from statistics import mode
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.merged_tables import CORNER, by_rhythm, by_strokes, told_apart
from triptych.catalog.datasheet.parts import Piece, SheetPart, joined
from triptych.catalog.datasheet.row_tables import by_rows
from triptych.catalog.datasheet.sections import is_shared
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

_LONGEST_BREAK: Final = 3
"""How many lines of other things may stand between two rows. [lines]."""
_MOST_ROWS: Final = 300
"""How far a table goes on below its head. [lines]."""
_NEAR: Final = 6
"""How far the start of a cell is from that of its column, at most; tried on printed tables. [characters]."""


def find_table(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return the loudspeakers of the first table of a text, and the lines that it takes; None where there is none."""
    filled = [number for number, line in enumerate(lines) if line.cells]
    for place, number in enumerate(filled):
        below = filled[place + 1 : place + 1 + _MOST_ROWS]
        for finder in (by_columns, by_rows, _side_by_side, by_rhythm, by_strokes):
            found = finder(lines, number, below)
            if found and len(found[0]) > 1 and _alike(found[0]):
                return found
    return None


def _alike(parts: Sequence[SheetPart]) -> bool:
    """Whether most of what stands under one head is of one kind for all, as figures of several loudspeakers are."""
    under: dict[tuple[str, ...], list[frozenset[object]]] = {}
    for part in parts:
        for piece in part.pieces:
            kinds = frozenset(amount.kind for amount in amounts(folded(piece.body.text)) if amount.unit)
            under.setdefault(tuple(cell.text for cell in piece.heads), []).append(kinds)
    several = [found for heads, found in under.items() if heads and len(found) > 1]
    alike = [found for found in several if len({kinds for kinds in found if kinds}) < 2]
    return len(alike) * 3 >= len(several) * 2


def by_names(lines: Sequence[Line], names: Sequence[str]) -> tuple[list[SheetPart], set[int]] | None:
    """Return the columns under names that a person says stand in one line; None where they don't."""
    for number, line in enumerate(lines):
        places = [line.text.casefold().find(name.casefold()) for name in names]
        if min(places) < 0:
            continue
        heads = [
            Cell(line.text[at : at + len(name)], line.start + at, at) for at, name in zip(places, names, strict=True)
        ]
        parts, taken = [SheetPart(head) for head in heads], {number}
        nth = [
            next((n for n, cell in enumerate(line.cells) if cell.start <= head.start < cell.end), 0) for head in heads
        ]
        for row in range(number + 1, min(len(lines), number + _MOST_ROWS)):
            cells = lines[row].cells
            if len(cells) < 2 or label(cells[0]) is None:
                continue
            over = len(cells) - len(line.cells)
            if over in (0, 1):
                found = [(part, cells[place + over]) for part, place in zip(parts, nth, strict=True)]
            else:
                near = [
                    (part, cell)
                    for part, head in zip(parts, heads, strict=True)
                    for cell in cells[1:]
                    if abs(cell.column - head.column) <= 4
                ]
                found = [] if lines[row].ruled else near
            for part, value in found:
                part.pieces.append(Piece(value, (cells[0],)))
            taken.add(row)
        if all(len(part.pieces) > 1 for part in parts):
            return parts, taken
    return None


def by_columns(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Return the loudspeakers of a head of names, under which rows open with a label; None where a line is none."""
    body = _rows_with_label(lines, number, below)
    if len(body) < 3:
        return None
    apart = [row for row in below if number + 1 < row < body[0] and len(lines[row].cells) > 1]
    if apart and apart[0] != number + 1 and not lines[number + 1].cells:
        # names further down are the head: this line is a page's own
        return None
    width = mode(len(lines[row].cells) for row in body)
    heads = _column_names(lines[number], width - 1)
    if heads is None or width < 3:
        return None
    wholly = {number}
    names = [[head] for head in heads]
    for above in (number - 1, *(row for row in below if row < body[0])):
        more = [cell for cell in lines[above].cells if cell.text] if above >= 0 else []
        near = (lines[above].ruled and len(lines[above].cells) == len(lines[number].cells)) or all(
            abs(cell.column - head.column) <= _NEAR for cell, head in zip(more, heads, strict=False)
        )
        if len(more) == len(heads) and near and all(map(is_name, more)):
            wholly.add(above)
            for own, cell in zip(names, more, strict=True):
                own.append(cell)
    parts = [SheetPart(joined(own), maker=own[0] if len(own) == 2 and wholly > {number} else None) for own in names]
    corner = lines[number].cells[0]
    for part in parts:
        part.labelled = corner not in heads and CORNER.match(folded(corner.text)) is not None
    if label(corner) == "maker" and len(names[0]) == 1:
        for part, head in zip(parts, heads, strict=True):
            part.maker = part.name = head
    if is_name(corner) and corner not in heads and corner.text.split()[0].isupper():
        for part in parts:
            part.title = (corner,)
    dashed = any(cell.text in _NONE for row in body for cell in lines[row].cells[1:])
    last: Cell | None = None
    for row, following in zip(body, [*body[1:], None], strict=True):
        first, *values = _parted(lines[row].cells, heads)
        group = _label_above(lines, row) if _SUB_ROW.match(first.text) else []
        if last is not None and _goes_on(lines[row].cells, heads, last):
            first, values = last, list(lines[row].cells)
        last = first
        bracket = _rest_of_label(lines, row, following)
        for place in range(1, len(values)):
            values[place] = values[place - 1] if values[place].text in _AS_LEFT else values[place]
        # where a dash says that one has none, an empty cell says that it has the same
        lone = dashed and len(values) == 1 and not lines[row].ruled and abs(values[0].column - heads[0].column) <= 2
        of_each = ((part, values[0]) for part in parts) if lone else _aligned(parts, heads, values, lines[row])
        for part, value in of_each:
            if part.maker is not None and part.name is part.maker and label(first) == "model":
                part.name = joined([part.maker, value])
            else:
                part.pieces.append(Piece(value, (*group, first, *bracket)))
        wholly |= {row, *(row + 1 for _ in bracket)}
    return parts, wholly


_WHO_SAYS: Final = re.compile(
    r"(?:as )?(?:claimed|stated|specified|rated|measured|tested|published)|(?:maker|manufacturer)(?:'?s)?(?: data)?|"
    r"(?:our )?(?:test|lab|measurements?|data)|angabe|hersteller(?:angaben?)?|werksangaben?|angegeben|gemessen|"
    r"mess(?:wert|ung)e?n?|labor|annoncee?s?|constructeur|mesuree?s?|mesures?|labo|declarad[oa]s?|fabricante|medid[oa]s?|"
    r"medicion(?:es)?|laboratorio?|dichiarat[oaie]|costruttore|misurat[oaie]|misure|rilevat[oaie]|rilevamento|opgegeven|"
    r"opgave|fabrieksopgave|gemeten|metingen|deklarowan[eya]|producenta?|zmierzon[eya]|pomiary?"
)
"""Who says what stands in a column: two of them are of one loudspeaker."""
_AS_LEFT: Final = frozenset(("←", "<-", "⇐", "〃"))
"""What a cell holds that says the same as the one on its left."""
_NONE: Final = frozenset(("-", "–", "—", "--", "n/a"))
"""What a cell holds that says that a loudspeaker has no such part."""
_SUB_ROW: Final = re.compile(r"[-–—•·]\s")
"""How the label of a row opens that goes on with a label above it."""


def _label_above(lines: Sequence[Line], row: int) -> list[Cell]:
    """The label on a line of its own of which a row tells a part: 'Sensitivity' and '- measured' below."""
    for above in range(row - 1, max(row - _LONGEST_BREAK - 1, -1), -1):
        cells = lines[above].cells
        if len(cells) == 1:
            return list(cells) if label(cells[0]) else []
        if not cells or not _SUB_ROW.match(cells[0].text):
            break
    return []


def _goes_on(cells: Sequence[Cell], heads: Sequence[Cell], last: Cell) -> bool:
    """Whether a row without a label goes on with what stands in the columns above it."""
    in_columns = all(abs(cell.column - head.column) <= _NEAR for cell, head in zip(cells, heads, strict=False))
    return len(cells) == len(heads) and in_columns and heads[0].column - last.column > _NEAR


def _rest_of_label(lines: Sequence[Line], row: int, following: int | None) -> list[Cell]:
    """A bracket that goes on with the label of the row above it: 'Size' and '(W*H*D)' below."""
    below = lines[row + 1].cells if row + 1 < len(lines) and row + 1 != following else ()
    return list(below) if len(below) == 1 and re.fullmatch(r"\([^()]+\)|\[[^\[\]]+\]", below[0].text) else []


def _parted(cells: Sequence[Cell], heads: Sequence[Cell]) -> list[Cell]:
    """The cells of a row, its label whole where it fills two, and parted from the first value that it runs into."""
    if len(cells) == len(heads) + 2 and heads[0].column - cells[1].column > _NEAR and label(joined(cells[:2])):
        return [joined(cells[:2]), *cells[2:]]
    first = cells[0]
    edge = first.text.rfind(" ", 0, max(0, heads[0].column - first.column + 1))
    reaches = first.column + len(first.text) > heads[0].column
    if len(cells) != len(heads) or not reaches or edge < 1 or abs(first.column + edge + 1 - heads[0].column) > _NEAR:
        return list(cells)
    name, value = first.text[:edge], first.text[edge + 1 :]
    return [
        Cell(name, first.start, first.column),
        Cell(value, first.start + edge + 1, first.column + edge + 1),
        *cells[1:],
    ]


def _rows_with_label(lines: Sequence[Line], number: int, below: Sequence[int]) -> list[int]:
    """The rows under a head whose first cell is a label, or which lie between two such."""
    rows: list[int] = []
    for row in below:
        cells = lines[row].cells
        merged = len(cells) == 2 and label(cells[0]) and not lines[row].ruled and cells[1].text.count(" ") > 1
        if (len(cells) < 3 and not merged) or ":" in cells[0].text[:-1]:
            if row - (rows[-1] if rows else number) > _LONGEST_BREAK:
                break
            continue
        if not rows and all(is_name(cell) for cell in cells if cell.text):
            continue
        if [cell.text for cell in cells] == [cell.text for cell in lines[number].cells]:
            # the head again, on another page
            continue
        rows.append(row)
    labelled = [row for row in rows if label(lines[row].cells[0])]
    return rows if len(labelled) * 2 > len(rows) else []


def _column_names(line: Line, wanted: int) -> list[Cell] | None:
    cells = [cell for cell in line.cells if cell.text]
    if len(cells) == wanted + 1:
        cells = cells[1:]
    if all(_WHO_SAYS.fullmatch(folded(cell.text)) for cell in cells):
        return None
    named = len(cells) == wanted and all(is_name(cell) or _is_code(cell) for cell in cells)
    return cells if named and len({cell.text for cell in cells}) == len(cells) else None


def _is_code(cell: Cell) -> bool:
    """Whether a cell is a model such as KL-F70 or 'Obi C' in quotes."""
    return (
        bool(re.fullmatch(r"[\w .\"“”'-]{2,40}", cell.text))
        and label(cell) is None
        and bool(re.search("[A-Za-z]", cell.text))
        and not re.search(r"\d ?(?:mm|cm|kg|dB|k?Hz|Ω|ohms?)\b", cell.text)
    )


def _aligned(
    parts: Sequence[SheetPart], heads: Sequence[Cell], values: Sequence[Cell], line: Line
) -> Iterator[tuple[SheetPart, Cell]]:
    """The values of a row with the column that each stands in; one value under several columns is nobody's."""
    if len(values) == 1 and is_shared(values[0].text):
        yield from ((part, values[0]) for part in parts)
    elif len(values) == len(parts):
        yield from ((part, value) for part, value in zip(parts, values, strict=True) if value.text)
    elif len(values) == 1 and not line.ruled and (own := _under_one(values[0], heads)):
        # the cells before it are empty
        yield parts[own], values[0]
    elif not line.ruled and values and (apart := told_apart(line, values[0].start, len(parts))):
        yield from zip(parts, apart, strict=True)
    elif not line.ruled:
        for value in values:
            if _crosses(value, heads):
                continue
            near = sorted(range(len(heads)), key=lambda place: abs(heads[place].column - value.column))
            if abs(heads[near[0]].column - value.column) <= 4:
                yield parts[near[0]], value


def _under_one(value: Cell, heads: Sequence[Cell]) -> int:
    """The column but the first under whose head a lone cell begins; 0 where it is under none."""
    return next((place for place, head in enumerate(heads) if place and abs(head.column - value.column) <= 2), 0)


def _crosses(value: Cell, heads: Sequence[Cell]) -> bool:
    """Whether a cell reaches well under the next head, so that it may hold more than one column's values."""
    own = max((place for place, head in enumerate(heads) if head.column <= value.column + 4), default=0)
    return own + 1 < len(heads) and value.column + len(value.text) > heads[own + 1].column + _NEAR


def _side_by_side(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Two or more names in one line, and under each its own lines of label and value."""
    heads = lines[number].cells
    if len(heads) < 2 or not all(is_name(cell) for cell in heads):
        return None
    parts, taken = [SheetPart(head) for head in heads], {number}
    for row in below:
        cells = lines[row].cells
        if not all(":" in cell.text for cell in cells if cell.text) and not _one_label(cells, len(heads)):
            break
        for nth, cell in enumerate(cells):
            place = min(range(len(heads)), key=lambda one: abs(heads[one].column - cell.column))
            if lines[row].ruled:
                place = nth
            elif abs(heads[place].column - cell.column) > 3:
                return None
            if place >= len(parts):
                return None
            if cell.text:
                parts[place].pieces.append(Piece(cell))
        taken.add(row)
    return (parts, taken) if all(len(part.pieces) >= 3 for part in parts) else None


def _one_label(cells: Sequence[Cell], wanted: int) -> bool:
    """Whether the cells of a row open with the same word, and it is a label."""
    first = {cell.text.split(" ", 1)[0] for cell in cells if " " in cell.text}
    return len(cells) == wanted and len(first) == 1 and label(Cell(first.pop(), 0, 0)) is not None
