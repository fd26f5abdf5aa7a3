"""Two loudspeakers whose figures stand in one list: 'a [b]' or 'a / b', where a sentence says whose each is."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND, OR, RANGED
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.sheet_words import BRACKETS, FIRST_OF_TWO, SECOND_OF_TWO
from triptych.catalog.datasheet.text_cells import Cell, Line

_NAME: Final = r"[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*(?: [^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*){0,2}(?: \d{1,4}\b)?"
_PAIR: Final = re.compile(rf"(?P<a>{_NAME})(?:\s*[/&,]\s*|\s+(?:{AND}|{OR})\s+)(?P<b>{_NAME})")
_SENTENCE: Final = re.compile(r"[^.;!?]*(?:[.;!?](?=\S)[^.;!?]*)*")
_ALONE: Final = re.compile(r"(?<=\s)[A-Z][\w-]*")
"""A name in a sentence, behind another word."""
_NUMBER: Final = re.compile(r"\d+(?:[.,]\d+)*")
_BRACKET: Final = re.compile(
    r"\[(?P<square>[^\[\]]*\d[^\[\]]*)\]|\((?P<round>(?:[^()]|\([^()]*\))*\d(?:[^()]|\([^()]*\))*)\)"
)
_AMOUNT: Final = r"\d+(?:[.,]\d+)*(?: ?(?:[^\W\d_]{1,4}\b|Ω|\"|″|%))?"
_RANGE: Final = rf"{_AMOUNT}\s*{RANGED}\s*{_AMOUNT}"
_STROKE: Final = re.compile(
    rf"(?<![\d/.,])(?<!/ )(?:(?P<a>{_RANGE})\s*/\s*(?P<b>{_RANGE})|(?P<c>{_AMOUNT})\s*/\s*(?P<d>{_AMOUNT}))(?!\s*/)"
)
_FEWEST: Final = 3
"""In how many lines both have a figure of their own at least, lest a sentence alone make two; tried, no source."""

_Spans = list[tuple[int, int]]
_Apart = tuple[_Spans, _Spans]
"""What of a line is of the first alone, and what of the second."""


def two_told(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return two loudspeakers whose figures stand beside each other; None where no sentence says whose each is."""
    for number, line in enumerate(lines):
        for names, cut in ((_bracketed(lines, line), _by_bracket), (_stroked(lines, line), _by_stroke)):
            if names and (found := _shared_out(lines, number, names, cut)):
                return found
    return None


def _shared_out(
    lines: Sequence[Line], number: int, names: tuple[Cell, Cell], cut: Callable[[str], _Apart | None]
) -> tuple[list[SheetPart], set[int]] | None:
    parts = [SheetPart(name) for name in names]
    told = 0
    taken = {number}
    for row in range(number + 1, len(lines)):
        line = lines[row]
        apart = cut(line.text) if line.cells else None
        if apart is None:
            continue
        taken.add(row)
        told += bool(apart[0])
        for part, others in zip(parts, reversed(apart), strict=True):
            part.pieces.append(_without(line, others))
    return (parts, taken) if told >= _FEWEST else None


def _without(line: Line, others: _Spans) -> Piece:
    """A line as a piece, with blanks where the other loudspeaker is told of."""
    if not others:
        return Piece(line.whole)
    text = line.text
    for start, end in others:
        text = text[:start] + " " * (end - start) + text[end:]
    return Piece(Cell(text.rstrip(), line.start, 0), apart=True)


def _sentences(text: str) -> Iterator[str]:
    yield from (match[0].strip() for match in _SENTENCE.finditer(text) if match[0].strip())


def _bracketed(lines: Sequence[Line], line: Line) -> tuple[Cell, Cell] | None:
    """The two names where a sentence says of one of them that its figures stand in brackets."""
    for said in _sentences(line.text):
        if not BRACKETS.search(folded(said)):
            continue
        for one in lines:
            for pair in _PAIR.finditer(one.text):
                held = [name for name in "ab" if _names(said, pair[name])]
                if len(held) == 1 and pair["a"] != pair["b"]:
                    first, second = ("b", "a") if held == ["a"] else ("a", "b")
                    return _cell(one, pair, first), _cell(one, pair, second)
    return None


def _names(said: str, name: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", said) is not None


def _cell(line: Line, match: re.Match[str], group: str | int = 0) -> Cell:
    return Cell(match[group], line.start + match.start(group), match.start(group))


def _stroked(lines: Sequence[Line], line: Line) -> tuple[Cell, Cell] | None:
    """The two names where a sentence says whose figure comes first and whose second."""
    for said in _sentences(line.text):
        small = folded(said)
        if not (FIRST_OF_TWO.search(small) and SECOND_OF_TWO.search(small)):
            continue
        named = list({match[0]: match for match in reversed(list(_ALONE.finditer(said)))}.values())[::-1]
        if len(named) != 2:
            continue
        order = _order(said[: named[0].start()], said[named[0].end() : named[1].start()])
        whole = [_full(lines, match[0]) for match in named]
        if order and whole[0] and whole[1]:
            return (whole[0], whole[1]) if order > 0 else (whole[1], whole[0])
    return None


def _order(before: str, between: str) -> int:
    """1 where the name told first has the first figure, -1 where it has the second, 0 where nothing tells."""
    for text in map(folded, (before, between)):
        first, second = FIRST_OF_TWO.search(text), SECOND_OF_TWO.search(text)
        if first and second:
            return 0
        if first or second:
            return 1 if first else -1
    return 0


def _full(lines: Sequence[Line], name: str) -> Cell | None:
    """A name with the word of its range before it, where the text has it so; else as it stands."""
    ranged = re.compile(rf"(?<![\w-])[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]+ {re.escape(name)}(?![\w-])")
    alone = re.compile(rf"(?<![\w-]){re.escape(name)}(?![\w-])")
    for pattern in (ranged, alone):
        for line in lines:
            if match := pattern.search(line.text):
                return _cell(line, match)
    return None


def _by_bracket(text: str) -> _Apart | None:
    """What is of each alone where brackets hold the second's figures; None where one has no fellow before it."""
    first: _Spans = []
    second: _Spans = []
    for match in _BRACKET.finditer(text):
        inside = match["square"] or match["round"]
        start = _fellow(text[: match.start()], inside, alike=match["round"] is not None)
        if start is None and match["round"] is not None:
            # a remark on the figure before it
            continue
        if start is None:
            return None
        first.append((start, match.start()))
        first += [(match.start(), match.start() + 1), (match.end() - 1, match.end())]
        second.append(match.span())
    return first, second


def _fellow(before: str, inside: str, *, alike: bool) -> int | None:
    """Where the figures begin that stand before a bracket with as many; with `alike`, in the same words."""
    wanted = len(_NUMBER.findall(inside))
    numbers = [match.start() for match in _NUMBER.finditer(before)]
    if len(numbers) < wanted:
        return None
    start = numbers[-wanted]
    shapes = [_NUMBER.sub("0", one).strip() for one in (before[start:], inside)]
    return start if not alike or shapes[0] == shapes[1] else None


def _by_stroke(text: str) -> _Apart | None:
    """What is of each alone where a stroke parts two figures of one unit."""
    first: _Spans = []
    second: _Spans = []
    for match in _STROKE.finditer(text):
        left, right = ("a", "b") if match["a"] else ("c", "d")
        units = [re.findall(r"[^\W\d_]+|[Ω\"″%]", match[group]) for group in (left, right)]
        if units[0] and units[0][-1] != (units[1] or [""])[-1]:
            continue
        # a unit behind the second alone is of both
        bare = not units[0] and bool(units[1])
        end = match.start(right) + len(_NUMBER.findall(match[right])[0]) if bare else match.end(right)
        first.append((match.start(left), match.start(right)))
        second.append((match.end(left), end))
    return first, second
