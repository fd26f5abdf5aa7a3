"""How wide a text is drawn, and how it is made to fit: generous estimates, since nobody knows the reader's font."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

_ASCII: Final = {
    character: width / 100
    for width, characters in {
        28: "'ijl",
        30: "IJ",
        32: " ,.",
        34: "/:;\\|",
        36: "f",
        37: "-",
        40: "()[]t",
        42: "!r",
        46: '"',
        50: "*_`",
        53: "szc?",
        60: "FkLPvxy",
        64: "$0123456789ESTYabdeghnopqu{}",
        69: "ABKVXZ",
        72: "CR",
        75: "NHU",
        79: "DGOQ&",
        84: "#+<=>^~w",
        100: "%@mMW",
    }.items()
    for character in characters
}
"""Advance of each character over the size, rounded up; DejaVu Sans, as wide as any common sans serif."""

_OTHERS: Final = {"\u00a0": 0.32, "·": 0.32, "°": 0.5, "–": 0.5, "€": 0.64, "£": 0.64, "ß": 0.64, "ø": 0.62, "ł": 0.3}
_WIDEST: Final = 1.12
_PICTOGRAM: Final = 1.4
BOLD: Final = 1.25
"""Bold over regular."""

_REORDERING: Final = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_MOST_MARKS: Final = 2


@lru_cache(maxsize=512)
def clean(text: str) -> str:
    r"""Return a text on one line, without anything that XML forbids or that would disturb the text around it.

    Control characters, lone surrogates, non-characters, marks of writing direction and towers of accents go; a text
    with letters written from right to left is isolated, so that the numbers beside it stay where they are.

    Examples
    --------
    >>> clean("Two\nlines\x07 of  it")
    'Two lines of it'
    """
    if not _UNUSUAL(text):
        return " ".join(text.split())
    one_line = " ".join("".join(character if _wanted(character) else " " for character in text).split())
    kept = "".join(_few_marks(one_line))
    if any(unicodedata.bidirectional(character) in ("R", "AL") for character in kept):
        return f"\u2068{kept}\u2069"
    return kept


_UNUSUAL: Final = re.compile("[^\x20-\x7e\xa0-\u02ff\u2010-\u2027\u2030-\u205e\u2200-\u22ff]").search
"""Finds what could have to go; all else is letters, figures and signs of the left-to-right scripts of most names."""


def _wanted(character: str) -> bool:
    return unicodedata.category(character) not in ("Cc", "Cs", "Cn", "Co", "Zl", "Zp") and character not in _REORDERING


def _few_marks(text: str) -> Iterator[str]:
    marks = 0
    for character in text:
        marks = marks + 1 if unicodedata.category(character) in ("Mn", "Me") else 0
        if marks <= _MOST_MARKS:
            yield character


def width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text is drawn at most, in the unit of `size`.

    Examples
    --------
    >>> width("AVA", 10.0)
    20.7
    """
    return _advances(text) * size * (BOLD if bold else 1.0)


@lru_cache(maxsize=2048)  # a text is measured again at each place that it could stand
def _advances(text: str) -> float:
    return sum(map(_advance, text))


@lru_cache(maxsize=4096)
def _advance(character: str) -> float:
    known = _ASCII.get(character) or _OTHERS.get(character)
    if known is not None:
        return known
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0.0
    if unicodedata.category(character) == "So":
        return _PICTOGRAM
    base = unicodedata.normalize("NFD", character)[0]
    if base != character and base in _ASCII:
        return _ASCII[base]
    return _WIDEST


def fit(text: str, size: float, room: float, bold: bool = False) -> str:
    """Return the text, cut short with an ellipsis where it is wider than `room`.

    Examples
    --------
    >>> fit("a long name", 3.0, 12.0)
    'a lon…'
    """
    if width(text, size, bold) <= room:
        return text
    closing = "\u2069" if text.endswith("\u2069") else ""
    kept = text
    while kept and width(kept + "…", size, bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…" + closing


def wrap(text: str, size: float, room: float, lines: int, bold: bool = False) -> list[str]:
    """Return the text in at most `lines` lines that fit into `room`; what is left over is cut short.

    Examples
    --------
    >>> wrap("three short words", 3.0, 20.0, 2)
    ['three short', 'words']
    """
    if "\u2068" in text:
        return [fit(text, size, room, bold)]
    words, done = text.split(" "), list[str]()
    while words and len(done) < lines - 1:
        line = words.pop(0)
        reach = width(line, size, bold)
        while words and (reach := reach + width(f" {words[0]}", size, bold)) <= room:
            line += " " + words.pop(0)
        done.append(fit(line, size, room, bold))
    return [*done, fit(" ".join(words), size, room, bold)] if words else done
