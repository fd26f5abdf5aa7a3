"""Where the words of a text lie: its lines, and the cells that wide blanks, tabs and pipes make of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.furniture import is_furniture
from triptych.catalog.datasheet.posts import is_head
from triptych.catalog.datasheet.sheet_words import topic_of

_LINE: Final = re.compile(r"[^\r\n\v\f\x85\u2028\u2029]*(?:\r\n|[\r\n\v\f\x85\u2028\u2029]|$)")
_GAP: Final = re.compile(r"[ \u3000]*\t[ \u3000]*|\s*\|\s*|[ \u00a0\u3000]{2,}|\u3000+(?=[¥\d])")
_RULE: Final = re.compile(r"^[\s|:=+_*~\-–—]*$")
_CODE: Final = re.compile(r"[A-Z]{1,4}-[A-Z]?\d{1,4}[A-Z]{0,3}")
"""A model's code, which may end as a figure does: 'KS-110W'."""
LONGEST_CELL_LINE: Final = 2_000
"""What is beyond it in one line is in no cell. [characters]."""
_FEWEST_MARKS: Final = 3
"""How many semicolons each of two lines after one another has that are rows of a file of values."""
_QUOTED: Final = re.compile(r'(?:(?<=^)|(?<=[,;\t]))"[^"\t]*"(?=[,;\t]|$)|^"[^"]*"$')
"""A cell in quotes."""
_SENTENCE: Final = re.compile(
    r"(?<=\S )(?-i:is|are|was|were|has|have|had|ist|sind|war|waren|hat|haben|est|sont|ont|son|tiene|tienen|sono|"
    r"hanno|zijn|heeft|hebben|jest|są|mają) (?!\d*$)|"
    r"^(?:edit(?: ?\d)?|ps|p\.s|nb|n\.b|update|quote|zitat|btw|tl;?dr|op)$",
    re.IGNORECASE,
)
"""Words that make a sentence, and what opens a remark of a post."""
_LONGEST_LABEL: Final = 48


@dataclass(frozen=True, slots=True)
class Cell:
    """A piece of one line; `start` is where it stands in the text, `column` where in its line."""

    text: str
    start: int
    column: int

    @property
    def end(self) -> int:
        """Where it ends in the text."""
        return self.start + len(self.text)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a text and its cells; an empty one has none."""

    text: str
    start: int
    cells: tuple[Cell, ...]
    ruled: bool
    """Whether tabs or pipes part the cells, so that an empty one counts."""

    @property
    def whole(self) -> Cell:
        """All of it as one cell, without blanks around it."""
        bare = self.text.strip()
        column = len(self.text) - len(self.text.lstrip())
        return Cell(bare, self.start + column, column)


def lines(text: str) -> list[Line]:
    """Return the lines of a text with their cells; a line of rules alone counts for an empty one."""
    found = [(match[0].rstrip("\r\n\v\f\x85\u2028\u2029"), match.start()) for match in _LINE.finditer(text)]
    marks = [[line.count(";") for line, _ in found], _headed([line for line, _ in found])]
    return [
        _line(line, start, next((mark for mark, counts in zip(";,", marks, strict=True) if _parts(counts, place)), ""))
        for place, (line, start) in enumerate(found)
    ]


def _parts(counts: Sequence[int], place: int) -> bool:
    """Whether a mark parts the cells of a line as in a file of values: its neighbour has as many."""
    beside = (counts[place - 1] if place else 0, counts[place + 1] if place + 1 < len(counts) else 0)
    return counts[place] >= _FEWEST_MARKS and counts[place] in beside


def _commas(line: str) -> int:
    """How many commas part cells: those outside quotes, where hardly any stands before a blank as in a sentence."""
    bare = _QUOTED.sub(" ", line)
    count = bare.count(",")
    apart = "\t" in line or "  " in line.strip() or len(re.findall(r",[ \t]", bare)) * 4 >= count
    return count if count > _FEWEST_MARKS and not apart else 0


def _headed(found: Sequence[str]) -> list[int]:
    """How many commas part the cells of each line, where a head of labels begins lines of as many; else 0."""
    counts = [_commas(line) for line in found]
    headed: list[int] = []
    for place, line in enumerate(found):
        if place and counts[place] == counts[place - 1]:
            headed.append(headed[-1])
            continue
        labels = sum(label(Cell(text, 0, 0)) is not None for text in line.split(",")) if counts[place] else 0
        headed.append(counts[place] if labels > 2 else 0)
    return headed


def _line(text: str, start: int, mark: str) -> Line:
    """One line, whose cells a mark parts as in a file of values, or else blanks, tabs and pipes."""
    text = text[:LONGEST_CELL_LINE]
    if _RULE.match(text) or is_head(text) or (is_furniture(text) and label(Cell(text.strip(), 0, 0)) is None):
        return Line(text, start, (), ruled=False)
    marked = text
    if mark:
        marked = re.sub(rf"{_QUOTED.pattern}|{mark}", lambda one: "\t" if one[0] == mark else one[0], text)
    ruled = "|" in text or "\t" in marked.strip()
    return Line(text, start, tuple(_cells(marked, start, ruled)), ruled)


def _cells(text: str, start: int, ruled: bool) -> Iterator[Cell]:
    edges = [0]
    for gap in _GAP.finditer(text):
        edges += gap.span()
    edges.append(len(text))
    outer = ruled and "\t" not in text.strip() and text.strip().startswith("|")
    pieces = [(text[left:right], left) for left, right in zip(edges[::2], edges[1::2], strict=True)]
    for place, (piece, left) in enumerate(pieces):
        bare = piece.strip(" *\u00a0")
        if _QUOTED.fullmatch(bare):
            bare = bare[1:-1]
        border = place in (0, len(pieces) - 1) and (outer or not ruled)
        if bare or (ruled and not border):
            column = left + (piece.index(bare) if bare else 0)
            yield Cell(bare, start + column, column)


def label(cell: Cell) -> str | None:
    """Return the topic of a cell that is nothing but a label.

    >>> label(Cell("Weight (kg)", 0, 0)), label(Cell("12 kg", 0, 0)), label(Cell("Skerry Tower", 0, 0))
    ('weight', None, None)
    """
    if not cell.text or len(cell.text) > _LONGEST_LABEL:
        return None
    small = folded(cell.text).strip(" .:*").replace("_", " ")
    plain = re.sub(
        r"\([^)]*\)|\[[^\]]*\]|^[a-z]?\d{1,2}[.)]? |[,\-±]+ ?\d+ ?db|\b(?:at|bei|a) |"
        r"\b20\d\d\b|\b\d{1,2}(?:[.,]\d)? ?%|@?\b(?:2[.,]83|1) ?(?:v|w|m)\b[^a-z]*m?\b|\bf-?(?:3|6|10)$",
        " ",
        small,
    )
    return None if re.search(r"\d", plain) else topic_of(small)


def is_name(cell: Cell) -> bool:
    """Return whether a cell can name a loudspeaker: letters, few words, no label and no figure with a unit.

    >>> [is_name(Cell(text, 0, 0)) for text in ("Skerry Tower", "Brezal 1", "12 kg", "Weight", "2 x 130 mm", "8")]
    [True, True, False, False, False, False]
    """
    text = cell.text.strip()
    if not text or len(text) > 60 or len(text.split()) > 7 or not re.search(r"[^\W\d_]{2}|[A-Z]", text):
        return False
    if not _CODE.fullmatch(text) and re.search(
        r"[:!?;€£$¥=]|\d\s*(?:eur|euros?|zł|zl|pln|usd|chf|yen|(?:centi|milli|mili|zenti)m[eè]t\w+|centymetr\w*)\b|"
        r"\b(?:mm|cm|kg|dB|k?Hz)\.?\s\d|"
        r"\d\s*(?:mm|cm|m|m2|kg|lbs?|dB|k?Hz|W|Ω|ohms?|in|inch|V)\b|\d ?[\"″%Ω]|\d[x×*]|±|\b(?:19|20)\d\d\b",
        text,
        re.IGNORECASE,
    ):
        return False
    if _SENTENCE.search(text) or re.fullmatch(r"\w+_\w+", text):
        return False
    return not re.match(r"[\d(•*.…_-]", text) and label(cell) is None
