"""Footnotes put where their marks stand: '298/312* mm' and '*with grille' below."""

from __future__ import annotations

import re
from typing import Final

_RAISED: Final = "¹²³⁴⁵⁶⁷⁸⁹"
_STARRED: Final = re.compile(r"^[ \t]*([*†＊]{1,2})[ \t]*(?=[^\s*])(.{3,120}?)[ \t]*$", re.MULTILINE)
_NUMBERED: Final = re.compile(
    rf"(?:^|[ \t]{{2,}})([1-9{_RAISED}])[ .)][ \t]*(\S.*?)(?=[ \t]{{2,}}[1-9{_RAISED}][ .)]|$)", re.MULTILINE
)
_UNIT: Final = r"(?:[ \t]?(?:mm|cm|in|kg|lbs?|dB|k?Hz|W|Ω|ohms?)\b)?"


def annotated(text: str) -> str:
    r"""Return a text with each footnote in brackets behind the label or figure that bears its mark.

    >>> annotated("Depth 298/312* mm\n*with grille")
    'Depth 298/312 mm (with grille)\n*with grille'
    """
    notes = {match[1]: match[2] for match in _STARRED.finditer(text)}
    raised = re.search(rf"[{_RAISED}]", text)
    if raised:
        notes |= {_raised(match[1]): match[2].rstrip(" .") for match in _NUMBERED.finditer(text)}
    for mark, note in notes.items():
        text = _put(text, mark, note)
    return text


def _raised(mark: str) -> str:
    return _RAISED[int(mark) - 1] if mark in "123456789" else mark


def _put(text: str, mark: str, note: str) -> str:
    """Put a note at its marks; one that holds figures goes to labels only, lest they be taken for the figure's."""
    there = re.escape(mark)
    labelled = re.sub(rf"(?<=[^\W\d_])[ \t]?{there}(?=\s*(?:[:\t(]|\s{{2}}|$))", f" ({note})", text, flags=re.MULTILINE)
    instead = r"\1\2" if re.search(r"\d", note) else rf"\1\2 ({note})"
    return re.sub(rf"(?<=\d)()\s?{there}({_UNIT})", lambda match: match.expand(instead), labelled)
