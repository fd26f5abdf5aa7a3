"""What the words of a price list say that prices are for, each or a pair, and of which kinds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.sheet_words import EACH, PAIR

LEGEND: Final = re.compile(r"(?<!\w)(?P<sign>[^\W\d]{1,3}\.?) ?(?:=|:=) ?(?P<word>[^\W\d]{2,}(?: [^\W\d]{2,})?)")
"""A sign in a list and what it stands for."""
_ANY_KIND: Final = frozenset(
    (
        "lauts",
        "speak",
        "louds",
        "prijs",
        "preis",
        "price",
        "prezz",
        "preci",
        "model",
        "encei",
        "altav",
        "diffu",
        "luids",
        "stuck",
        "piece",
        "paire",
        "coppi",
        "cadau",
        "stuks",
        "sztuk",
        "einze",
        "unida",
        "parej",
        "serie",
        "brutt",
        "netto",
        "ceny",
        "alle",
        "tous",
        "tutti",
        "todos",
        "wszys",
        "cenni",
        "listi",
        "tarif",
        "retai",
        "linea",
        "reihe",
        "gamme",
        "range",
        "salvo",
        "para",
        "pare",
        "unit",
        "paar",
        "pair",
        "each",
        "cena",
        "prix",
        "paarp",
        "paren",
        "pairs",
        "coupl",
    )
)
"""How words begin that are said of any loudspeaker, or of what a price is for."""
_OTHERS: Final = re.compile(
    r"\b(?:others?|rest|ubrigen?|anderen?|autres?|altr[ie]|otr[oa]s|demas|resto|overige|pozostale|inne)\b"
)


def sold_words(text: str) -> str | None:
    """Return whether a clause says that prices are each or a pair's; None where it says neither or both."""
    small = re.sub(r"\bje (?=paar)", "", folded(text))
    pair, each = PAIR.search(small) is not None, EACH.search(small) is not None
    return None if pair == each else "pair" if pair else "each"


def tells_sold(text: str) -> bool:
    """Return whether a sentence has words for each or for a pair, be it for both."""
    return PAIR.search(folded(text)) is not None or EACH.search(folded(text)) is not None


def sold_by_kind(text: str, told: Sequence[str], names: Sequence[str] = ()) -> list[str | None]:
    """Return what the price of each loudspeaker is for, where a line says it by their kinds; else nothing.

    `told` is what is said of each, `names` how each is called; a kind that no word there names is left open.

    >>> sold_by_kind("Bookshelf models per pair, all others each.", ["Wren 2 bookshelf", "Wren C centre"])
    ['pair', 'each']
    """
    clauses: list[tuple[str, str | None]] = []
    text = LEGEND.sub(" ", text)
    for said in re.split(r"[,;.]\s+", text):
        lead = ""
        for clause in re.split(rf"\s+{AND}\s+", said):
            # 'bookshelf and surround models ship as a pair': what stands before the word is sold so too
            lead = f"{lead} {clause}".strip()
            if per := sold_words(clause):
                clauses.append((lead, per))
                lead = ""
    if len({per for _, per in clauses} - {None}) < 2:
        return []
    found: list[str | None] = [None] * len(told)
    rest: str | None = None
    for clause, per in clauses:
        called = [bool(name) and re.search(rf"\b{re.escape(folded(name))}\b", folded(clause)) for name in names]
        if per and any(called):
            found = [per if here else old for here, old in zip(called, found, strict=True)]
            continue
        words = {word[:5] for word in re.findall(r"[a-z]{4,}", folded(clause))} - _ANY_KIND
        if per and not words and rest is None:
            # 'pair prices, centres each': what no kind is named for holds of the others
            rest = per
        if per and _OTHERS.search(folded(clause)):
            rest = per
        elif per:
            found = [
                per if any(re.search(rf"\b{word}", folded(one)) for word in words) else old
                for old, one in zip(found, told, strict=True)
            ]
    return [one or rest for one in found]
