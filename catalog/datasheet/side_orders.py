"""The words for the sides of a box in seven languages, in which order a sheet gives them and in which unit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.units import UNITS

AXIS_WORDS: Final[Mapping[str, str]] = {
    **dict.fromkeys(
        ("width", "breite", "breit", "largeur", "larghezza", "larg", "ancho", "anchura", "breedte"), "width"
    ),
    **dict.fromkeys(("wide", "across", "w", "b", "an", "larg.", "sz", "szer", "szerokosc", "largo"), "width"),
    **dict.fromkeys(
        ("height", "hohe", "hoehe", "hoch", "hauteur", "haut", "altezza", "alt", "alto", "altura"), "height"
    ),
    **dict.fromkeys(("hoogte", "high", "tall", "h", "al", "a", "ht", "wys", "wysokosc"), "height"),
    **dict.fromkeys(("depth", "tiefe", "tief", "profondeur", "prof", "profondita", "profundidad", "fondo"), "depth"),
    **dict.fromkeys(("diepte", "deep", "d", "t", "p", "pr", "f", "gl", "glebokosc", "g"), "depth"),
    **dict.fromkeys(("larga", "larghe", "larghi", "breed", "szeroka"), "width"),
    **dict.fromkeys(("alta", "alte", "alti", "hoog", "wysoka"), "height"),
    **dict.fromkeys(("profonda", "profonde", "profondi", "diep", "gleb", "gleboka"), "depth"),
    "s": "width",
    **dict.fromkeys(("length", "lange", "laenge", "longueur", "lunghezza", "lengte", "long", "l"), "length"),
}
_POLISH: Final = {"s": "width", "w": "height", "g": "depth"}
SIDE_WORD: Final = "|".join(sorted(map(re.escape, AXIS_WORDS), key=len, reverse=True))
_ORDER: Final = re.compile(
    rf"(?<![a-z0-9])({SIDE_WORD})\.?\s*(?:x|/|\*|by|,|-|\|)\s*({SIDE_WORD})\.?(?:\s*(?:x|/|\*|by|,|-|\||"
    rf" and )\s*({SIDE_WORD})\.?)?(?![a-z0-9])"
)
_RUN: Final = re.compile(r"(?<![a-z])([hwdbtlp])([hwdbtlp])([hwdbtlp])(?![a-z])")


_SIZES_IN: Final = re.compile(
    r"^\W*(?:all )?(?:sizes?|dimensions?|dims?|measurements?|masse|abmessungen|afmetingen|maten|dimensioni|"
    r"misure|medidas|dimensiones|wymiary)(?: (?:are|is|all|alle|tutte|toutes))*[ :]+(?:in |en |w )?"
    r"(?P<unit>mm|cm|inch(?:es)?|in)\W*$"
)
"""A line that says in which unit all sizes are: 'sizes inches'."""


def unit_of_all(entry: SheetEntry) -> str | None:
    """Return the unit in which an entry says that all sizes are; None where it says nothing of it."""
    told = _SIZES_IN.match(entry.text.replace(" : ", " "))
    return UNITS[told["unit"]] if told else None


def order_told(entries: Iterable[SheetEntry]) -> tuple[str | None, ...] | None:
    """Return the one order in which entries give three sides; None where they give none, or more than one."""
    found = {tuple(order) for entry in entries if entry.topic == "size" for order in (order_of(entry)[0],) if order}
    whole = {order for order in found if len(order) == len(AXES) and None not in order}
    return whole.pop() if len(whole) == 1 else None


def unit_in(key: str) -> str | None:
    """Return the unit that a key names: 'width (cm)', 'breite in mm'."""
    named = re.search(
        r"(?:[(\[,/]|\bin) ?(mm|cm|m|in|inch|inches|zoll|\")\.?(?:[)\],]|$)|[\s,](mm|cm|in)(?:$|[)\]])", key
    )
    word = (named[1] or named[2]) if named else None
    return UNITS[word] if word else None


def order_of(entry: SheetEntry) -> tuple[list[str | None] | None, str]:
    """Return the axes that key or value list, in order, and the value without that list."""
    for text in (entry.value, entry.key):
        match = _ORDER.search(text) or _RUN.search(text)
        if match:
            axes = known_axes([AXIS_WORDS[word] for word in match.groups() if word], match[0])
            rest = entry.value
            if text is entry.value:
                rest = f"{text[: match.start()]} {text[match.end() :]}"
            return axes, rest
    return None, entry.value


def known_axes(words: Sequence[str], text: str) -> list[str | None]:
    """Return the axes of listed words; a length is the width where the other two leave nothing else, else unknown."""
    if re.fullmatch(r"[swg\W]+|(?:[swg]|x|\W)+", text) and "g" in text and "s" in text:
        # Polish: szerokosc, wysokosc, glebokosc
        return [_POLISH[letter] for letter in re.findall("[swg]", text)]
    axes: list[str | None] = list(words)
    if "length" not in words:
        return axes if len(set(words)) == len(words) else [None] * len(words)
    if sorted(words) == ["depth", "height", "length"]:
        return ["width" if axis == "length" else axis for axis in axes]
    sure = "height" if words.count("height") == 1 else None
    return [axis if axis == sure else None for axis in axes]
