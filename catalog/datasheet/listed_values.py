"""Lines of a label with a value for each of several loudspeakers, by their names or by a word between two."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import takewhile
from typing import Final

from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

_LABELLED: Final = re.compile(r"\W*(?P<label>[^\W\d][^:]{1,70}?):\s*(?P<said>\S.*)")
_BETWEEN: Final = re.compile(r"\s+(?:bzw\.?|beziehungsweise|resp\.)\s+")
_TWO_NAMES: Final = re.compile(rf"(?P<first>[^\W\d_][^,;:()/]*?){_BETWEEN.pattern}(?P<second>[^\W\d_][^,;:()/]*)")
_FEWEST: Final = 3
"""So many lines of one form are a table; tried, no source."""
_MOST: Final = 6
"""More names than that are no loudspeakers each; tried, no source."""


def listed_values(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return loudspeakers with a value each behind a label: 'Impedance: Reed 2 8 ohm; Reed C 4 ohm', 'a bzw. b'."""
    return _by_a_word(lines) or _by_their_names(lines)


def _by_a_word(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Two names with a word between them, and below them labels with two values each: '4 Ohm bzw. 6 Ohm'."""
    for number, line in enumerate(lines):
        named = _TWO_NAMES.search(line.text)
        heads = [_cell(line, *_trimmed(named, group)) for group in ("first", "second")] if named else []
        if len(heads) != 2 or not all(map(is_name, heads)) or label(heads[1]) is not None:
            continue
        heads[0] = _alike(heads[0], heads[1])
        parts, taken = [SheetPart(head) for head in heads], {number}
        for row in range(number + 1, len(lines)):
            told = _LABELLED.match(lines[row].text)
            lead = _cell(lines[row], *told.span("label")) if told else None
            if told is None or lead is None or _label(lead) is None:
                continue
            pieces = list(_two_each(lines[row], lead, told.start("said")))
            for nth, piece in pieces:
                parts[nth].pieces.append(piece)
            taken |= {row} if pieces else set()
        if len(taken) > _FEWEST:
            return parts, taken
    return None


def _trimmed(match: re.Match[str], group: str) -> tuple[int, int]:
    start, end = match.span(group)
    return start, end - len(match[group]) + len(match[group].rstrip())


def _alike(first: Cell, second: Cell) -> Cell:
    """The first of two names without the words before the one that the second opens with."""
    at = first.text.rfind(second.text.split()[0])
    return Cell(first.text[at:], first.start + at, first.column + at) if at > 0 else first


def _two_each(line: Line, lead: Cell, start: int) -> Iterator[tuple[int, Piece]]:
    """The two values of each clause with their label, what leads both, and the unit that only the second has."""
    for clause in re.finditer(r"[^;]+", line.text[start:]):
        mark = _BETWEEN.search(clause[0])
        if mark is None:
            continue
        at = start + clause.start()
        words = re.match(r"[^\d(]*(?=\d)", clause[0])
        before = Cell(words[0].strip(), line.start + at, at) if words and words[0].strip() else None
        opens = len(words[0]) if words and before else 0
        values = [
            _cell(line, at + opens, at + mark.start()),
            _cell(line, at + mark.end(), at + clause.end() - clause.start()),
        ]
        last = re.search(r"\d\s*([^\W\d]{1,4}|[\"Ω])\s*$", values[1].text)
        bare = re.search(r"[^\W\d]|[\"Ω]", values[0].text) is None
        unit = (Cell(f"({last[1]})", values[1].end, 0),) if last and bare else ()
        for nth, value in enumerate(values):
            yield nth, Piece(value, (lead, *((before,) if before else ()), *unit))


def _by_their_names(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Labels with clauses behind them that open with the same names in the same order."""
    rows: list[tuple[int, Cell, list[Cell]]] = []
    for number, line in enumerate(lines):
        told = _LABELLED.match(line.text)
        lead = _cell(line, *told.span("label")) if told else None
        if told is None or lead is None or _label(lead) is None:
            continue
        clauses = [_cell(line, *_span(match, told.start("said"))) for match in re.finditer(r"[^;]+", told["said"])]
        if 1 < len(clauses) <= _MOST:
            rows.append((number, lead, clauses))
    counts = {len(clauses) for _, _, clauses in rows}
    for count in sorted(counts, reverse=True):
        found = [row for row in rows if len(row[2]) == count]
        names = _names([clauses for _, _, clauses in found])
        named = [row for row in found if names and _opens(row[2], names)]
        if len(named) < _FEWEST:
            continue
        firsts = named[0][2]
        parts = [SheetPart(Cell(name, cell.start, cell.column)) for name, cell in zip(names, firsts, strict=True)]
        for _, lead, clauses in found:
            opened = _opens(clauses, names)
            for part, name, cell in zip(parts, names, clauses, strict=True):
                part.pieces.append(Piece(_behind(cell, name if opened else ""), (lead,)))
        return parts, {number for number, _, _ in found}
    return None


def _names(rows: Sequence[Sequence[Cell]]) -> list[str]:
    """The words that the clauses of most rows open with, for each place; nothing where they are no different names."""
    found: list[str] = []
    for place in range(len(rows[0])):
        opened = [row[place].text.split() for row in rows]
        if not all(opened):
            return []
        first = max((words[0] for words in opened), key=[words[0] for words in opened].count)
        alike = [words[:-1] for words in opened if words[0] == first and len(words) > 1]
        same = takewhile(lambda words: len(set(words)) == 1, zip(*alike, strict=False))
        found.append(" ".join(words[0] for words in same))
    if len(set(found)) < len(found) or not all(name and is_name(Cell(name, 0, 0)) for name in found):
        return []
    return found


def _opens(clauses: Sequence[Cell], names: Sequence[str]) -> bool:
    return all(cell.text.startswith(f"{name} ") for cell, name in zip(clauses, names, strict=True))


def _behind(cell: Cell, name: str) -> Cell:
    rest = cell.text[len(name) :]
    start = len(cell.text) - len(rest.lstrip(" :"))
    return Cell(cell.text[start:], cell.start + start, cell.column + start)


def _label(lead: Cell) -> str | None:
    """What a label is about, without its brackets' figures."""
    return label(lead) or label(Cell(re.sub(r"\([^()]*\)|\[[^\[\]]*\]", "", lead.text).strip(), 0, 0))


def _span(match: re.Match[str], start: int) -> tuple[int, int]:
    return start + match.start(), start + match.end()


def _cell(line: Line, start: int, end: int) -> Cell:
    text = line.text[start:end]
    blank = len(text) - len(text.lstrip())
    return Cell(text.strip().rstrip("."), line.start + start + blank, start + blank)
