"""The text of a datasheet in one plain spelling: small letters, no accents, plain marks, single blanks."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.joining import AND, BETWEEN
from triptych.catalog.datasheet.sheet_words import topic_of
from triptych.catalog.datasheet.spelling import in_digits
from triptych.catalog.numerals import PLAIN_MARKS, VULGAR

_MARKS: Final = str.maketrans(
    PLAIN_MARKS
    | dict.fromkeys("«»", '"')
    | {"÷": "-", "～": "-"}
    | dict.fromkeys("×✕✖⨯", "x")
    | dict.fromkeys("º˚", "°")
    | dict.fromkeys("\u00ad®™©", "")
    | {character: f" {fraction} " for character, fraction in VULGAR.items()}
    | {"…": "...", "π": "pi", "æ": "ae", "œ": "oe", "ł": "l", "Ł": "L"}
)
_HALF: Final = str.maketrans(
    {chr(code): chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)}
    | {"￥": "¥", "〔": "[", "〕": "]", "【": "[", "】": "]", "、": ",", "。": ".", "〜": "~", "−": "-", "‑": "-"}
)
_CLOSE_UP: Final = re.compile(r"(?<=[，；。、])(?=[^\s\d])|(?<=[^\d\s][，；。、])(?=\d)")
"""Where a full-width mark, which brings its own blank, stands right before a word."""
_SMALL_FRACTION: Final = re.compile(r"([⁰¹²³⁴-⁹]+)[⁄∕/]([₀-₉]+)")
_RAISED: Final = re.compile(r"(?<=[0-9])[⁰¹²³⁴-⁹]+")
_PLUS_MINUS: Final = re.compile(r"\+ ?/ ?- ?|\+-|-/\+ ?|∓ ?|± ")
_BY: Final = re.compile(
    r"""(?<=[\d"'])\s*[x*]\s*(?=[\d.,("])|(?<=[mn)])[x*](?=[\d.,("])|(?<=[\d"')m])\s*[x*]\s*(?=(?:[hwdbtlpasgf]|a[ln])\s?\d)"""
)


SHORTHAND: Final = (
    ("w/o", re.compile(r"\bw/o\b\.?"), "without"),
    ("w/", re.compile(r"\bw/ ?(?=[a-z]{3})"), "with "),
    ("k", re.compile(r"(?<![\d.,])(\d{1,2})k(\d)(?!\d)"), r"\1.\2 khz"),
    ("v", re.compile(r"(?<![\d.,])(\d)v(\d\d)(?!\d)"), r"\1.\2 v"),
    ("r", re.compile(r"(?<![\d.,])(\d{1,2})r(?![a-z0-9])"), r"\1 ohm"),
    (",", re.compile(r"(?<=[a-z]),(?=\d)"), ", "),
    ("e ciency", re.compile(r"\be ciency\b"), "efficiency"),
    ("ampli er", re.compile(r"\bampli er"), "amplifier"),
    ("speci cation", re.compile(r"\bspeci cation"), "specification"),
    ("re ex", re.compile(r"\bre ex\b"), "reflex"),
    ("- ring", re.compile(r"\b(down|front|rear|side)(ward)?- ring\b"), r"\1\2-firing"),
    ("in nite ba e", re.compile(r"\bin nite ba e\b"), "infinite baffle"),
    ("er ", re.compile(r"(?<!\d)([12]\d)er (?=\S*(?:kalotte|hochton))"), r"\1 mm "),
    ("er-", re.compile(r"(?<!\d)([12]\d)er-(?=\S*(?:kalotte|hochton))"), r"\1 mm "),
    ("er-", re.compile(r"(?<!\d)([123]\d)er-(?=(?:tmt|tt|mt|tief|bass|mittel|chassis|koax)\S*)"), r"\1 cm "),
    ("er ", re.compile(r"(?<!\d)([123]\d)er (?=(?:tmt|tt|mt|tief|bass|mittel|chassis|koax)\S*)"), r"\1 cm "),
    ("er", re.compile(r"(?<!\d)([1-3]\d\d)er[ -](?=(?:tmt|tt|mt|tief|bass|mittel|chassis|koax)\S*)"), r"\1 mm "),
    (
        " ",
        re.compile(rf"\b{BETWEEN} (\d[\d.,]*(?: ?[a-zω]{{1,5}})?) (?:{AND}|a) (?=\d)"),
        r"\1 - ",
    ),
    ("~", re.compile(r"(?<=\d)~(?=\d)"), "-"),
    ("m", re.compile(r"(?<![\d.,])([0-2])m(\d\d)(?!\d)"), r"\1.\2 m"),
)
"""Habits of writing that would be read otherwise: `w/grille` names no width, 3k3 is 3.3 kHz, 2V83 is 2.83 V, and
'between 40 and 250 W' is one range; letters that a PDF lost, as in 'e ciency'; German '25er Kalotte' and '17er
Tieftöner', which are millimetres and centimetres. Before each stands what every text has that it changes: looking
for that takes far less time."""


_WRAPPED: Final = re.compile(
    r"^(?P<line>(?!.*\S {3,}\S.* {3,}\S).{60,}[\w,)])\n(?!\S{2,20}: )"
    r"(?=(?P<next>[a-zà-ÿąćęłńśźż(][^\s:]*)|\d+ (?!x )[a-z]|(?:[€£%Ω]|(?:kg|mm|cm|dB|k?Hz|W|V)\b))",
    re.MULTILINE,
)
"""A long line after which a sentence goes on; wide blanks in it part the cells of a row."""
_HANGING: Final = re.compile(
    r"^(?P<line>(?!.*\S {3,}\S.* {3,}\S)\S.{60,}(?<!zł)(?<!€)(?<!\d)\s"
    r"(?:at|of|for|with|the|an?|from|by|bei|mit|von|der|die|das|für|des?|du|pour|avec|con|para|di|"
    r"per|van|met|voor|op))\r?\n(?=\S)",
    re.MULTILINE,
)
"""A long line that ends with a word after which something must follow, and is no row of cells: 'para' is a pair too."""
_FULL: Final = 0.8
"""What share of the longest line one has that is broken for its length; common practice, no source."""
_MOSTLY: Final = 0.6
"""What share of the lines but the last is full where lines are broken for their length; common practice, no source."""


def half_width(text: str) -> str:
    """Return a text with the plain form of every full-width character, and a blank behind marks that have none.

    >>> half_width("８．２ ｋｇ（Ｗ）"), half_width("86 dB，8 Ω；12 kg")
    ('8.2 kg(W)', '86 dB, 8 Ω; 12 kg')
    """
    # letters whose accents stand apart are other words to every pattern
    return unicodedata.normalize("NFC", _CLOSE_UP.sub(" ", text).translate(_HALF))


def unwrapped(text: str) -> str:
    r"""Return a text with broken words and wrapped sentences made whole.

    >>> unwrapped("Ab-\nmessungen 480 x\n160 mm")
    'Abmessungen 480 x 160 mm'
    """
    whole = re.sub(r"(?<=[a-zà-ÿąćęłńśźż])-\r?\n(?=[a-zà-ÿąćęłńśźż])", "", text)
    whole = re.sub(r"(?<=\d[x×])\r?\n(?=\d)|(?<= [x×])\r?\n(?=\d)", " ", whole)
    # a label's bracket that closes on the next line: 'Dimensions (H x W x' and 'D) incl. grille'
    whole = re.sub(r"(\([^()\n]{1,20}?[x×.])[ \t]*\r?\n\s*((?:[x×] ?)?[^()\n\d]{1,8}\))", r"\1 \2", whole)
    whole = _gone_on(_HANGING.sub(r"\g<line> ", whole))
    return "\n\n".join(map(_rejoined, whole.split("\n\n")))


_TWO_CELLS: Final = re.compile(r"(?P<label>\S(?:\S| (?! ))*) {3,}(?=\S)(?!.* {3,}\S)")
_BROKEN: Final = re.compile(r"[^\W\d_]-$")
_SHIFT: Final = 2
"""How far a line that goes on with a value begins from where that began. [characters]."""


def _gone_on(text: str) -> str:
    """A text whose values that go on in their column below are whole: 'Tweeter   28 mm dome,' and 'waveguide' below."""
    lines = text.split("\n")
    made = lines[:1]
    column: int | None = None
    for before, line in pairwise(lines):
        told = _TWO_CELLS.match(before)
        column = told.end() if told and not re.search(r"\d", told["label"]) else column
        indent = len(line) - len(line.lstrip())
        goes_on = column is not None and column > 12 and abs(indent - column) <= _SHIFT and "  " not in line.strip()
        if goes_on and line.strip() and ":" not in line and not (re.search(r"\d", line) and _labels(line.split()[0])):
            whole, rest = made[-1].rstrip(), line.strip()
            broken = _BROKEN.search(whole) and rest[0].islower()
            made[-1] = f"{whole[:-1]}{rest}" if broken else f"{whole} {rest}"
        else:
            made.append(line)
            column = None
    return "\n".join(made)


def _rejoined(paragraph: str) -> str:
    """A paragraph with its sentences whole; lines of all lengths were broken where their writer meant it."""
    lengths = sorted(len(line) for line in paragraph.splitlines()[:-1])
    full = _FULL * lengths[-2 if len(lengths) > 1 else -1] if lengths else 0.0
    if sum(length >= full for length in lengths) < _MOSTLY * len(lengths):
        return paragraph
    return _WRAPPED.sub(
        lambda match: (
            match["line"] + (" " if len(match["line"]) >= full and not _labels(match["next"] or "") else "\n")
        ),
        paragraph,
    )


def _labels(word: str) -> bool:
    """Whether a word opens a statement of its own, so that no sentence goes on with it."""
    return topic_of(folded(word), anywhere=True) is not None


_CLAUSE: Final = re.compile(r"^(?P<lead>\s*(?P<major>\d{1,2})\.(?P<minor>\d{1,2}))(?=[ \t]+[A-Z])", re.MULTILINE)
_FEWEST_CLAUSES: Final = 3
"""So many numbers of one chapter in a row are a manual's; tried, no source."""


def clauses_marked(text: str) -> str:
    r"""Return a text in which the numbers of a manual's clauses show that they are no figures.

    >>> clauses_marked("6.1 Brand: Wren\n6.2 Weight: 8 kg\n6.3 Load: 8 ohm").splitlines()[1]
    '6.2) Weight: 8 kg'
    """
    chapters: dict[str, list[int]] = {}
    for match in _CLAUSE.finditer(text):
        chapters.setdefault(match["major"], []).append(int(match["minor"]))
    counted = {
        major
        for major, found in chapters.items()
        if len(found) >= _FEWEST_CLAUSES and found == list(range(1, len(found) + 1))
    }
    return _CLAUSE.sub(lambda match: f"{match['lead']})" if match["major"] in counted else match[0], text)


def printable(text: str) -> str:
    r"""Return a line without what does not print, and with single blanks.

    Examples
    --------
    >>> printable("Width:\u00a0 546\x07 mm")
    'Width: 546 mm'
    """
    if text.isprintable():
        return " ".join(text.split())
    shown = "".join(
        character if character.isprintable() else " "
        for character in text
        if unicodedata.category(character) not in ("Cc", "Cs", "Cn", "Co") or character.isspace()
    )
    return re.sub(r"\s+", " ", shown).strip()


@lru_cache(maxsize=4096)
def folded(text: str) -> str:
    """Return text for reading: small letters without accents, plain marks, `x` between numbers set apart.

    Examples
    --------
    >>> folded("Höhe × Breite: 7½″ × 546 mm"), folded("±3 dB, 8 Ω")
    ('hohe x breite: 7 1/2" x 546 mm', '±3 db, 8 ω')
    """
    if not text.isascii():
        # a raised digit behind a number is a footnote or a power, and no digit of it
        text = _RAISED.sub("^", _SMALL_FRACTION.sub(r" \1/\2 ", text))
        text = re.sub(r"[øØ⌀∅]\s*(?=\d)", "", text)
    marked = text.translate(_MARKS)
    if not marked.isascii():
        marked = "".join(c for c in unicodedata.normalize("NFKD", marked) if not unicodedata.combining(c))
    bare = _PLUS_MINUS.sub("±", marked.casefold()).replace("''", '"').replace("⁄", "/")
    if ".." in bare:
        bare = re.sub(r"(?<=\d)\s*\.{2,}\s*(?=\d)", " - ", bare)
    if "x" in bare or "*" in bare:
        bare = _BY.sub(" x ", bare)
    bare = re.sub(r"(?<=\d) -(?=[a-z])", "-", bare)
    plain = " ".join(re.sub(r'(?<=\d) (?=["°])', "", bare).split())
    for part, pattern, instead in SHORTHAND:
        if part in plain:
            plain = pattern.sub(instead, plain)
    return in_digits(plain)
