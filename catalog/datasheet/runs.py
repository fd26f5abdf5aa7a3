"""Runs of labelled statements in one line, which one mark parts throughout: 'Load: 8 ohms • Weight: 8 kg • ...'."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.text_cells import Cell, label

_MARKS: Final = (r";\s", r"\s[•·∙]\s", r"\s\|\s", r"\s/\s", r",\s", r"\.\s", r"\s[–—-]\s")
_LABEL: Final = r"(?P<label>[^\W\d](?:[^:;()\[\]•·|\d]|\([^()]*\)|\[[^\[\]]*\]){1,40}?)\s?:\s"
_STARTS: Final = tuple(re.compile(rf"(?:^|{mark})\s*{_LABEL}") for mark in _MARKS)
_BARE: Final = re.compile(r"(?:^|\s)(?P<label>[^\W\d_a-z]\w+\.?)\s?:\s")
"""A label of one word behind no mark: 'Brand: Wren Model: W-3 Type: centre'."""
_FEWEST: Final = 3
"""So many known labels behind one mark are a run; tried, no source."""
_ONE_MATTER: Final = dict.fromkeys(("tweeter", "midrange", "woofer"), "drivers") | dict.fromkeys(AXES, "size")
"""Labels that are parts of one statement: 'Drivers: bass: 2 x 165 mm; treble: 25 mm'."""
_MOST_WORDS: Final = 6
"""A longer run of words is no label; tried, no source. [words]."""


def cut(line: str) -> list[str]:
    """Return the statements of a line that is a run of them; the line itself where it is none.

    >>> cut("Sensitivity: 88 dB, 2.83 V • Size (W x H x D): 20 x 30 x 25 cm • Weight: 8 kg")
    ['Sensitivity: 88 dB, 2.83 V', 'Size (W x H x D): 20 x 30 x 25 cm', 'Weight: 8 kg']
    """
    if line.count(":") < _FEWEST:
        return [line]
    places = max((_places(line, pattern) for pattern in _STARTS), key=len) or _places(line, _BARE)
    if len(places) < _FEWEST:
        return [line]
    edges = [0, *(start for start, _ in places if start), len(line)]
    ends = dict(places)
    return [line[ends.get(left, left) : right].strip() for left, right in pairwise(edges) if line[left:right].strip()]


def _places(line: str, pattern: re.Pattern[str]) -> list[tuple[int, int]]:
    """Where a mark with a label behind it stands, and where that label does; none where too few are known."""
    found = list(_matches(line, pattern))
    topics = [label(Cell(match["label"].strip(), 0, 0)) for match in found]
    known = [topic for topic in topics if topic]
    if len({_ONE_MATTER.get(topic, topic) for topic in known}) < _FEWEST or len(known) * 2 < len(found):
        return []
    return [(match.start(), match.start("label")) for match in found]


def _matches(line: str, pattern: re.Pattern[str]) -> Iterator[re.Match[str]]:
    at = 0
    while match := pattern.search(line, at):
        if len(match["label"].split()) <= _MOST_WORDS and _whole(line, match.start()):
            yield match
        at = match.start("label") + 1


def _whole(line: str, place: int) -> bool:
    """Whether a place lies in no bracket."""
    return line.count("(", 0, place) <= line.count(")", 0, place)


def joined(text: str) -> str:
    """Return a text in which runs that were broken over several lines are whole."""
    made: list[str] = []
    for line in text.split("\n"):
        if made and line.strip() and _goes_on(made[-1], line):
            made[-1] = f"{made[-1].rstrip()} {line.strip()}"
        else:
            made.append(line)
    return "\n".join(made)


_TURN: Final = re.compile(r"\s([•·∙|/])\s*(?=$|[^\W\d](?:[^:()\[\]\d]|\([^()]*\)|\[[^\[\]]*\]){1,40}?\s?:\s)|(;)\s")
"""A mark that nothing but a run has between its statements."""
_FEWEST_TURNS: Final = 2


def _goes_on(line: str, following: str) -> bool:
    """Whether a run goes on with the next line: it has the same marks, and the break stands within a statement."""
    if ":" not in line or ":" not in following or "\t" in following:
        return False
    marks = [match[1] or match[2] for match in _TURN.finditer(line)]
    if len(marks) < _FEWEST_TURNS or len(set(marks)) > 1 or line.rstrip()[-1] in ".!?":
        return False
    mark = re.escape(marks[0])
    within = re.search(rf"(?:^|\s){mark}\s|\S{mark}\s", following) is not None
    return within and (
        re.search(rf"{mark}\s*$", line) is not None
        or re.match(r"\s*(?:[^:;•·∙|/()]|\([^()]*\)){2,60}:", following) is None
    )
