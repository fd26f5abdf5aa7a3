"""Footnotes put where their marks stand: '298/312* mm' and '*with grille' below."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.sheet_words import OTHER_GOODS

_RAISED: Final = "¹²³⁴⁵⁶⁷⁸⁹"
_MARKS: Final = "*†‡§＊"
_STARRED: Final = re.compile(rf"^[ \t]*(?:[{_MARKS}]|[*＊]{{2}})[ \t]*[^\s*].*$", re.MULTILINE)
_MARKED: Final = re.compile(rf"(?:^|[ \t]{{2,}}|(?<=[.;])[ \t]+)[ \t]*([{_MARKS}]|[*＊]{{2}})[ \t]*(?=[^\s*])")
"""A mark with its note, of which a line may have several."""
_TELLING: Final = re.compile(r"^[-–−±@]|^(?:2[.,]83|1) ?(?:V|W|m)\b|^[^\W\d][\w -]{0,20}: ?\d")
"""A note whose figures are a condition or of another loudspeaker, and cannot be taken for those that it is put to."""
_OF_IT: Final = re.compile(
    r"(?:min\w*|pendenza|pente|slope|pendiente|flanken\w*|helling|nachylenie)\.? (?:de |di )?\d", re.IGNORECASE
)
"""A note that tells a figure of the same matter by a word of its own: 'minimum 3.4 ohm'."""
_NUMBERED: Final = re.compile(
    rf"(?:^|[ \t]{{2,}})([1-9{_RAISED}])[ .)][ \t]*(\S.*?)(?=[ \t]{{2,}}[1-9{_RAISED}][ .)]|$)", re.MULTILINE
)
_BRACKETED_LINE: Final = re.compile(r"^[ \t]*\([1-9a-f]\)[ \t]+\S.*$", re.MULTILINE)
_BRACKETED: Final = re.compile(
    r"(?:^|[ \t]{2,}|(?<=\.) )[ \t]*\(([1-9a-f])\)[ \t]+(\S.*?)(?=(?:[ \t]{2,}|(?<=\.) )\([1-9a-f]\)|\s*$)"
)
"""Notes whose numbers stand in brackets, as those of the labels do."""
_SENTENCE_END: Final = re.compile(r"(?<=[^\W\d]\.)\s+(?=[^\W\d_a-zß-ÿąćęłńśźż])")
_GOODS: Final = re.compile(rf"\b(?:stand)?{OTHER_GOODS.pattern}")
_UNIT: Final = r"(?:[ \t]?(?:mm|cm|in|kg|lbs?|dB|k?Hz|W|Ω|ohms?)\b)?"


def annotated(text: str) -> str:
    r"""Return a text with each footnote in brackets behind the label or figure that bears its mark.

    >>> annotated("Depth 298/312* mm\n*with grille")
    'Depth 298/312 mm (with grille)\n*with grille'
    """
    notes = dict(_starred(text))
    raised = re.search(rf"[{_RAISED}]", text)
    if raised:
        notes |= {_raised(match[1]): match[2].rstrip(" .") for match in _NUMBERED.finditer(text)}
    bracketed = [match for line in _BRACKETED_LINE.findall(text) for match in _BRACKETED.finditer(line)]
    signs = [match[1] for match in bracketed]
    in_order = signs in (list("123456789"[: len(signs)]), list("abcdef"[: len(signs)]))
    if len(bracketed) > 1 and in_order and any(not match[2][0].isdigit() for match in bracketed):
        notes |= {
            f"({match[1]})": match[2].rstrip(" .")
            for match in bracketed
            if _TELLING.match(match[2]) or _OF_IT.match(match[2]) or not re.search(r"\d", match[2])
        }
    for mark, note in notes.items():
        text = _put(text, mark, note)
    return text


def is_put(line: str, others: Iterable[str]) -> bool:
    """Return whether a line is nothing but notes with bracketed signs, and each stands where its sign stood.

    >>> is_put("(a) closed box", ["Wren C (closed box)"]), is_put("(a) closed box", ["Wren C"])
    (True, False)
    """
    notes = [match[2].rstrip(" .") for match in _BRACKETED.finditer(line)] if _BRACKETED_LINE.match(line) else []
    texts = list(others) if notes else []
    return bool(notes) and all(any(f"({note})" in text for text in texts) for note in notes)


def _starred(text: str) -> Iterator[tuple[str, str]]:
    """The notes of lines that open with a mark."""
    for line in _STARRED.finditer(text):
        _, *told = _MARKED.split(line[0])
        for mark, note in zip(told[::2], told[1::2], strict=True):
            bare = _of_its_mark(note.strip(" \t"))
            if 3 <= len(bare) <= 120:
                yield mark, bare.rstrip(".") if len(told) > 2 else bare


def _of_its_mark(note: str) -> str:
    """A note without what it goes on to say of stands and such, whose figures are no mark's."""
    first, *more = _SENTENCE_END.split(note)
    kept = [said for said in more if not (re.search(r"\d", said) and _GOODS.search(folded(said)))]
    return " ".join([first, *kept]) if len(kept) < len(more) else note


def _raised(mark: str) -> str:
    return _RAISED[int(mark) - 1] if mark in "123456789" else mark


def _put(text: str, mark: str, note: str) -> str:
    """Put a note at its marks; one that holds figures goes to labels only, lest they be taken for the figure's."""
    there = re.escape(mark)
    labelled = re.sub(
        rf"(?<=[^\W\d_)])[ \t]?{there}(?=\s*(?:[:\t(]|\s{{2}}|$))", f" ({note})", text, flags=re.MULTILINE
    )
    apart = re.search(r"\d", note) and not _TELLING.match(note) and not _OF_IT.match(note)
    instead = r"\1\2" if apart else rf"\1\2 ({note})"
    if mark in _MARKS and (_TELLING.match(note) or not re.search(r"\d", note)):
        labelled = re.sub(rf"(?<=\d)({_UNIT[:-1]})[ \t]?{there}(?![\w*])", rf"\1 ({note})", labelled)
    # between figures a star is a mark of times: '160*270*210mm'
    return re.sub(rf"(?<=\d)()\s?{there}(?!\s?\d)({_UNIT})", lambda match: match.expand(instead), labelled)
