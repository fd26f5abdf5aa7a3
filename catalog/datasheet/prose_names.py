"""Several loudspeakers that only sentences tell of: their names are found there, and what is said of each."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND, OR
from triptych.catalog.datasheet.mentions import ARTICLE
from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.said_of import said_of
from triptych.catalog.datasheet.sections import NO_NAME, matters
from triptych.catalog.datasheet.sheet_words import topic_of
from triptych.catalog.datasheet.text_cells import Cell, Line

_TELLING: Final = 3
"""So many matters are told of a loudspeaker of its own; tried, no source."""
_MOST: Final = 5
"""More names than that in running text are no loudspeakers each; tried, no source."""
_FAMILY: Final = re.compile(
    r"(?<![\w.-])(?P<first>[A-ZÀ-ÞĄĆĘŁŃŚŹŻ][\w'’&-]{2,20}) "
    r"(?P<own>\d{1,4}[A-Za-z]{0,2}|[A-Z]{1,3}\d{0,3}|[A-ZÀ-ÞĄĆĘŁŃŚŹŻ][a-zà-ÿąćęłńśźż]{2,12})"
    r"(?![\w-]|[.,:]\d| ?(?:mm|cm|kg|dB|k?Hz|W\b|ohm|Ω|V\b|%|€|£|\$|inch|\"))"
)
_CODE: Final = re.compile(r"(?<![\w.-])(?P<first>[A-Z]{1,4})-?(?P<own>[A-Z]?\d{1,3}[A-Z]{0,2}|[A-Z]{1,3})(?![\w-])")
_NO_MORE: Final = (
    r"(?![\w-]|[.,:]\d| ?(?:mm|cm|kg|dB|k?Hz|W\b|ohm|Ω|V\b|%|€|£|\$|inch|\"|x\b|way|Wege|voies|vie|vías|posts?|\d))"
)
"""Behind a name's end: no unit, no more of a number."""
_MORE: Final = re.compile(
    rf"(?:\s*[,/&+]\s*|\s+(?:{AND}|{OR}|vs\.?|versus)\s+)(?:{ARTICLE}\s+)?"
    rf"(?P<own>\d{{1,4}}[A-Za-z]{{0,2}}|[A-Z]{{1,2}}\d{{0,3}}){_NO_MORE}"
)
"""What goes on with the end of another name."""
_LABELLED: Final = re.compile(r"\W*[^\W\d][^:.]{1,30}(?::| [-–—]) ?\S")


def in_prose(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return loudspeakers of which sentences alone tell, at least two with much of each; None where there are none."""
    paragraphs = [one for one in _paragraphs(lines) if _is_prose(lines[one[0].start : one[0].stop])]
    for names in _families(paragraphs):
        parts = [SheetPart(name) for name in names]
        taken: set[int] = set()
        for rows, line in paragraphs:
            found = said_of(parts, line)
            for part, piece in found:
                part.pieces.append(piece)
            taken |= set(rows) if found else set()
        telling = [part for part in parts if len(matters(part.pieces)) >= _TELLING]
        common = set.intersection(*(_matters(part) for part in telling)) if telling else set()
        if len(telling) > 1 and len(common) > 1:
            return telling, taken
    return None


def _matters(part: SheetPart) -> set[str]:
    """What is told of a loudspeaker; a side of it is its size."""
    found = matters(part.pieces)
    return found | {"size"} if found & set(AXES) else found


def _paragraphs(lines: Sequence[Line]) -> Iterator[tuple[range, Line]]:
    """Lines without an empty one between as one; each character stays where it stands in the text."""
    full = [number for number, line in enumerate(lines) if line.cells]
    start = 0
    for place, (number, following) in enumerate(pairwise([*full, len(lines) + 1])):
        if following != number + 1:
            rows = range(full[start], number + 1)
            text = ""
            for row in rows:
                text = text.ljust(lines[row].start - lines[rows[0]].start) + lines[row].text
            yield rows, Line(text, lines[rows[0]].start, (Cell(text, lines[rows[0]].start, 0),), ruled=False)
            start = place + 1


def _is_prose(lines: Sequence[Line]) -> bool:
    """Whether lines hold sentences: no cells side by side, hardly a label with its value, and small letters."""
    labelled = sum(_LABELLED.match(line.text) is not None for line in lines)
    capitals = all(line.text == line.text.upper() for line in lines)
    return all(len(line.cells) == 1 for line in lines) and labelled < _TELLING and not capitals


def _families(paragraphs: Sequence[tuple[range, Line]]) -> Iterator[list[Cell]]:
    """The sets of names that open alike and go on differently, those first that come most often."""
    found: dict[str, dict[str, list[Cell]]] = {}
    for _, line in paragraphs:
        for pattern in (_FAMILY, _CODE):
            for match in _named(line.text, pattern):
                first, own = match["first"].casefold(), match["own"].casefold()
                cell = Cell(match[0], line.start + match.start(), match.start())
                found.setdefault(first, {}).setdefault(own, []).append(cell)
                for other, at in _listed(line.text, match):
                    if not _called_so(other, paragraphs):
                        continue
                    name = Cell(f"{match['first']} {other}", line.start + at, at)
                    found[first].setdefault(other.casefold(), []).append(name)
    for names in sorted(found.values(), key=lambda names: -sum(map(len, names.values()))):
        if 2 <= len(names) <= _MOST:
            yield [cells[0] for cells in names.values()]


def _listed(text: str, match: re.Match[str]) -> Iterator[tuple[str, int]]:
    """What a name is followed by that is another one's end, with where: 'Wren 8 or the 10', 'Mulino 20 e 25'."""
    end = match.end()
    while other := _MORE.match(text, end):
        yield other["own"], other.start("own")
        end = other.end()


def _called_so(own: str, paragraphs: Sequence[tuple[range, Line]]) -> bool:
    """Whether a text calls something by a name's end alone: 'the 10'."""
    called = re.compile(rf"\b(?i:{ARTICLE})\s{re.escape(own)}{_NO_MORE}")
    return any(called.search(line.text) for _, line in paragraphs)


def _named(text: str, pattern: re.Pattern[str]) -> Iterator[re.Match[str]]:
    """The names of a text; the end of what is none may be the beginning of one: 'Die Wren 6'."""
    at = 0
    while match := pattern.search(text, at):
        first, own = match["first"].casefold(), match["own"].casefold()
        if NO_NAME.fullmatch(first) or NO_NAME.fullmatch(own) or _is_word(match["own"]):
            at = match.end("first")
        else:
            yield match
            # 'Torvisco Dehesa 3' may be the 3 of the Dehesas
            at = match.end("first") if re.match(r" (?:\d|[A-Z]\b)", text[match.end() :]) else match.end()


def _is_word(own: str) -> bool:
    """Whether what follows a capital's word is a label or a driver, and so no name's end."""
    return len(own) > 3 and topic_of(folded(own), anywhere=True) not in (None, "role")
