"""Tables of several loudspeakers: a column a model, a row a model, and two sheets printed side by side."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import mode
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

_CORNER: Final = re.compile(
    r"^(?:model\w*|modell\w*|modele|item|mod\.?|type|typ|spec\w*|merk.*|marke.*|marque.*|make.*|no\.?|lp\.?|nr\.?|"
    r"art.*|platz.*|product|produkt)$"
)
_NAMING: Final = re.compile(
    r"\b(?:model\w*|modell\w*|modele|mod\.?|mod|merk|marke|marque|make|naam|name|produkt|product)\b"
)
_MOST_ROWS: Final = 300
"""How far a table goes on below its head. [lines]."""
_NEAR: Final = 6
"""How far the start of a cell is from that of its column, at most; tried on printed tables. [characters]."""


def find_table(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return the loudspeakers of the first table of a text, and the lines that it takes; None where there is none."""
    filled = [number for number, line in enumerate(lines) if line.cells]
    for place, number in enumerate(filled):
        below = filled[place + 1 : place + 1 + _MOST_ROWS]
        for finder in (_by_columns, _by_rows, _side_by_side, _by_rhythm):
            found = finder(lines, number, below)
            if found and len(found[0]) > 1:
                return found
    return None


def _by_columns(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """A head of names, and under it rows that open with a label."""
    body = _rows_with_label(lines, number, below)
    if len(body) < 3:
        return None
    width = mode(len(lines[row].cells) for row in body)
    heads = _column_names(lines[number], width - 1)
    if heads is None or width < 3:
        return None
    wholly = {number}
    names = [[head] for head in heads]
    for above in (number - 1, *(row for row in below if row < body[0])):
        more = lines[above].cells if above >= 0 else ()
        near = all(abs(cell.column - head.column) <= _NEAR for cell, head in zip(more, heads, strict=False))
        if len(more) == len(heads) and near and all(map(is_name, more)):
            wholly.add(above)
            for own, cell in zip(names, more, strict=True):
                own.append(cell)
    parts = [SheetPart(_joined(own), maker=own[0] if len(own) == 2 and wholly > {number} else None) for own in names]
    for row in body:
        first, *values = _parted(lines[row].cells, heads)
        for part, value in _aligned(parts, heads, values, lines[row]):
            part.pieces.append(Piece(value, (first,)))
        wholly.add(row)
    return parts, wholly


def _parted(cells: Sequence[Cell], heads: Sequence[Cell]) -> list[Cell]:
    """The cells of a row, its long label parted from the first value where that begins under its head."""
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
        if len(cells) < 3 or ":" in cells[0].text[:-1]:
            if rows or row - number > 3:
                break
            continue
        if not rows and all(is_name(cell) for cell in cells):
            continue
        rows.append(row)
    labelled = [row for row in rows if label(lines[row].cells[0])]
    return rows if len(labelled) * 2 > len(rows) else []


def _column_names(line: Line, wanted: int) -> list[Cell] | None:
    cells = [cell for cell in line.cells if cell.text]
    if len(cells) == wanted + 1:
        cells = cells[1:]
    named = len(cells) == wanted and all(is_name(cell) or _is_code(cell) for cell in cells)
    return cells if named and len({cell.text for cell in cells}) == len(cells) else None


def _is_code(cell: Cell) -> bool:
    """Whether a cell is a model such as KL-F70 or 'Obi C' in quotes."""
    return (
        bool(re.fullmatch(r"[\w .\"“”'-]{2,40}", cell.text))
        and label(cell) is None
        and bool(re.search("[A-Za-z]", cell.text))
    )


def _aligned(
    parts: Sequence[SheetPart], heads: Sequence[Cell], values: Sequence[Cell], line: Line
) -> Iterator[tuple[SheetPart, Cell]]:
    """The values of a row with the column that each stands in; one value under several columns is nobody's."""
    if len(values) == len(parts):
        yield from ((part, value) for part, value in zip(parts, values, strict=True) if value.text)
    elif not line.ruled:
        for value in values:
            near = sorted(range(len(heads)), key=lambda place: abs(heads[place].column - value.column))
            if abs(heads[near[0]].column - value.column) <= 4:
                yield parts[near[0]], value


def _joined(cells: Sequence[Cell]) -> Cell:
    """Names over several lines as one."""
    ordered = sorted(cells, key=lambda cell: cell.start)
    return Cell(" ".join(cell.text for cell in ordered), ordered[0].start, ordered[0].column)


def _by_rows(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """A head of labels, and under it rows that open with a name."""
    heads = [cell for cell in lines[number].cells if cell.text]
    labels = [label(cell) for cell in heads]
    if len(heads) < 4 or sum(topic not in (None, "maker", "model") for topic in labels) < 3:
        return None
    naming = next((place for place, cell in enumerate(heads) if _NAMING.search(folded(cell.text))), 0)
    parts, taken = [], {number}
    for row in below:
        cells = [cell for cell in lines[row].cells if cell.text or lines[row].ruled]
        if abs(len(cells) - len(heads)) > 1 or sum(bool(re.search(r"\d", cell.text)) for cell in cells) < 2:
            break
        placed = _under(heads, cells, lines[row].ruled)
        name = placed.get(naming)
        if name is None:
            break
        part = SheetPart(name)
        for place, cell in placed.items():
            if place != naming and cell.text:
                part.pieces.append(Piece(cell, (heads[place],)))
        parts.append(part)
        taken.add(row)
    return parts, taken


def _under(heads: Sequence[Cell], cells: Sequence[Cell], ruled: bool) -> dict[int, Cell]:
    """The cells of a row by the head that each stands under."""
    if len(cells) == len(heads):
        return dict(enumerate(cells))
    if len(cells) == len(heads) + 1 and re.fullmatch(r"\d{1,3}\.?", cells[0].text):
        return dict(enumerate(cells[1:]))
    if ruled:
        return {}
    placed: dict[int, Cell] = {}
    for cell in cells:
        place = min(range(len(heads)), key=lambda one: abs(heads[one].column - cell.column))
        if place in placed:
            return {}
        placed[place] = cell
    return placed


def _side_by_side(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Two or more names in one line, and under each its own lines of label and value."""
    heads = lines[number].cells
    if len(heads) < 2 or lines[number].ruled or not all(is_name(cell) for cell in heads):
        return None
    parts, taken = [SheetPart(head) for head in heads], {number}
    for row in below:
        cells = lines[row].cells
        if not all(":" in cell.text for cell in cells):
            break
        for cell in cells:
            place = min(range(len(heads)), key=lambda one: abs(heads[one].column - cell.column))
            if abs(heads[place].column - cell.column) > 3:
                return None
            parts[place].pieces.append(Piece(cell))
        taken.add(row)
    return (parts, taken) if all(len(part.pieces) >= 3 for part in parts) else None


_JOINERS: Final = frozenset(["x", "×", "*", "-", "–", "/", "+", "·"])


def _groups(text: str) -> tuple[str, list[tuple[int, str]], str]:
    """The words of a row before its figures, the figures with what belongs to each, and what brackets hold last."""
    suffix = re.search(r"\s*(\([^()]*[^\W\d][^()]*\))\s*$", text)
    bare = text[: suffix.start()] if suffix else text
    words = [(match.start(), match[0]) for match in re.finditer(r"\S+", bare)]
    starts = [
        start
        for place, (start, word) in enumerate(words)
        if (word[0].isdigit() or word[0] in "€£$¥" or word in "-–—")
        and (place == 0 or words[place - 1][1] not in _JOINERS or words[place - 1][1] in "·–—-")
        and not (word in "-–—" and _within_range(words, place))
        and not (place > 1 and words[place - 1][1] in "-–" and _within_range(words, place - 1))
    ]
    edges = [*starts, len(bare)]
    found = [(left, bare[left:right].strip(" ·")) for left, right in pairwise(edges)]
    return bare[: edges[0]].strip(), found, suffix[1] if suffix else ""


def _within_range(words: Sequence[tuple[int, str]], place: int) -> bool:
    """Whether a dash stands between two figures of one range: '50 Hz - 22 kHz'."""
    before, after = words[max(0, place - 1)][1], words[place + 1][1] if place + 1 < len(words) else ""
    return place > 0 and bool(re.search(r"\d|Hz$", before)) and after[:1].isdigit() and before.isalpha() is not True


def _by_rhythm(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Columns run together: names that open with the same word, and rows with as many figures as names."""
    names = _repeated(lines[number].whole)
    if len(names) < 2:
        return None
    parts, taken = [SheetPart(name) for name in names], {number}
    for row in below:
        whole = lines[row].whole
        head, found, suffix = _groups(whole.text)
        if len(found) != len(parts):
            head, found = _words(whole.text, len(parts))
        if len(found) != len(parts):
            continue
        heads = tuple(Cell(text, whole.start, whole.column) for text in (head, suffix) if text)
        for part, (start, text) in zip(parts, found, strict=True):
            part.pieces.append(Piece(Cell(text, whole.start + start, start), heads))
        taken.add(row)
    return (parts, taken) if all(len(part.pieces) >= 3 for part in parts) else None


def _words(text: str, wanted: int) -> tuple[str, list[tuple[int, str]]]:
    """A row of single words, one a column, that a label may lead."""
    words = [(match.start(), match[0]) for match in re.finditer(r"\S+", text)]
    if any(char.isdigit() for char in text.replace("2-", "").replace("3-", "")):
        return "", []
    first = Cell(words[0][1], 0, 0) if words else None
    if first and len(words) == wanted + 1 and label(first):
        return first.text, words[1:]
    return "", words if len(words) == wanted else []


def _repeated(whole: Cell) -> list[Cell]:
    """The names of a line whose first word comes again: 'Lucarne 1 Lucarne 5 Lucarne C'."""
    led = re.match(r"\S+ ", whole.text)
    if led and _CORNER.match(folded(led[0].strip(" :"))):
        whole = Cell(whole.text[led.end() :], whole.start + led.end(), whole.column + led.end())
    words = whole.text.split()
    if len(words) < 4 or words.count(words[0]) < 2 or not words[0][0].isupper():
        return []
    starts = [match.start() for match in re.finditer(rf"(?<!\S){re.escape(words[0])}(?!\S)", whole.text)]
    edges = [*starts, len(whole.text)]
    return [
        Cell(whole.text[left:right].strip(), whole.start + left, whole.column + left) for left, right in pairwise(edges)
    ]
