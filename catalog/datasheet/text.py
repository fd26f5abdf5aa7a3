"""The text of a datasheet in one plain spelling: small letters, no accents, plain marks, single blanks."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

_FRACTIONS: Final = dict(
    zip(
        "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞",
        ["1/2", "1/3", "2/3", "1/4", "3/4", "1/5", "2/5", "3/5", "4/5", "1/6", "5/6", "1/8", "3/8", "5/8", "7/8"],
        strict=True,
    )
)
_MARKS: Final = str.maketrans(
    dict.fromkeys("“”„‟″＂«»", '"')
    | dict.fromkeys("‘’‚‛′´`＇", "'")
    | dict.fromkeys("‐‑‒–—−﹣－÷", "-")
    | dict.fromkeys("⁄∕", "/")
    | dict.fromkeys("×✕✖⨯", "x")
    | dict.fromkeys("º˚", "°")
    | dict.fromkeys("\u200b\u2060\ufeff\u00ad®™©", "")
    | {fraction: f" {text} " for fraction, text in _FRACTIONS.items()}
    | {"…": "...", "π": "pi", "æ": "ae", "œ": "oe", "ø": "o"}
)
_PLUS_MINUS: Final = re.compile(r"\+ ?/ ?- ?|\+-|-/\+ ?|∓ ?|± ")
_BY: Final = re.compile(r"""(?<=[\d"'])\s*[x*]\s*(?=[\d.,("])|(?<=[mn)])[x*](?=[\d.,("])""")


def printable(text: str) -> str:
    r"""Return a line without what does not print, and with single blanks.

    Examples
    --------
    >>> printable("Width:\u00a0 546\x07 mm")
    'Width: 546 mm'
    """
    shown = "".join(
        character if character.isprintable() else " "
        for character in text
        if unicodedata.category(character) not in ("Cc", "Cs", "Cn", "Co") or character.isspace()
    )
    return re.sub(r"\s+", " ", shown).strip()


def folded(text: str) -> str:
    """Return text for reading: small letters without accents, plain marks, `x` between numbers set apart.

    Examples
    --------
    >>> folded("Höhe × Breite: 7½″ × 546 mm"), folded("±3 dB, 8 Ω")
    ('hohe x breite: 7 1/2" x 546 mm', '±3 db, 8 ω')
    """
    marked = re.sub(r"[øØ⌀∅]\s*(?=\d)", "", text).translate(_MARKS)
    bare = "".join(c for c in unicodedata.normalize("NFKD", marked) if not unicodedata.combining(c)).casefold()
    bare = _PLUS_MINUS.sub("±", bare).replace("''", '"').replace("⁄", "/")
    bare = _BY.sub(" x ", re.sub(r"(?<=\d)\s*\.{2,}\s*(?=\d)", " - ", bare))
    bare = re.sub(r"(?<=\d) -(?=[a-z])", "-", bare)
    return re.sub(r"\s+", " ", re.sub(r'(?<=\d) (?=["°])', "", bare)).strip()
