"""The words for the sides of a box in seven languages, in which order a sheet gives them and in which unit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.folding import folded
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
ASKS_ORDER: Final = "width, height, depth"
"""What a question is about that asks which side is which."""
_POLISH: Final = {"s": "width", "w": "height", "g": "depth"}
SIDE_WORD: Final = "|".join(sorted(map(re.escape, AXIS_WORDS), key=len, reverse=True))
_ORDER: Final = re.compile(
    rf"(?<![a-z0-9])({SIDE_WORD})\.?\s*(?:x|/|\*|by|,|-|\|)\s*({SIDE_WORD})\.?(?:\s*(?:x|/|\*|by|,|-|\||"
    rf" and )\s*({SIDE_WORD})\.?)?(?![a-z0-9])"
)
_RUN: Final = re.compile(r"(?<![a-z])([hwdbtlp])([hwdbtlp])([hwdbtlp])(?![a-z])")


_LENGTH: Final = r"\d[\d.,]*(?:(?: |-)\d+/\d+)?[ ]?[½¼¾⅛⅜⅝⅞]?"
_LENGTH_UNIT: Final = r"mm|cm|m\b|in(?:ch(?:es)?)?\b|[\"″]"
_THREE: Final = re.compile(
    rf"(?P<f1>{_LENGTH}) ?(?P<u1>{_LENGTH_UNIT})? ?[x×*/] ?(?P<f2>{_LENGTH}) ?(?P<u2>{_LENGTH_UNIT})? ?[x×*/] ?"
    rf"(?P<f3>{_LENGTH}) ?(?P<u3>{_LENGTH_UNIT})?",
    re.IGNORECASE,
)
"""Three sides of a box as they are written."""
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


def sides_in_order(order: str, raw: str) -> dict[str, str] | None:
    """Return the sides that a statement gives in an order that a person says, each as it is written with its unit.

    None where the order is none of three sides, or the statement has not three figures.

    >>> sides_in_order("whd", "Dimensions: 178 x 300 x 240 mm")
    {'width': '178 mm', 'height': '300 mm', 'depth': '240 mm'}
    >>> sides_in_order("H x B x T", "30 cm x 17,8 cm x 24 cm"), sides_in_order("yes", "178 x 300 x 240 mm")
    ({'height': '30 cm', 'width': '17,8 cm', 'depth': '24 cm'}, None)
    """
    small = folded(order).strip(" .")
    told = _ORDER.fullmatch(small) or _RUN.fullmatch(small)
    axes = known_axes([AXIS_WORDS[word] for word in told.groups() if word], told[0]) if told else []
    chain = _THREE.search(raw)
    if chain is None or sorted(map(str, axes)) != sorted(AXES):
        return None
    units = [chain[name] for name in ("u1", "u2", "u3")]
    figures = [
        f"{chain[figure].strip()} {unit or units[-1] or ''}".strip()
        for figure, unit in zip(("f1", "f2", "f3"), units, strict=True)
    ]
    return {str(axis): figure for axis, figure in zip(axes, figures, strict=True)}


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
