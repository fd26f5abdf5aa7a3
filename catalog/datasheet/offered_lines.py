"""What a line of a list tells of what is offered: its kinds of figures, and the name and the price that head it."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.parts import Piece
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name

_KINDS: Final = (
    (
        "size",
        re.compile(
            r"\d\s*(?:mm|cm|\")?\s*[x×*]\s*\d+(?:[.,]\d+)?\s*(?:mm|cm|\")?\s*[x×*]\s*\d|\bL ?\d+ H ?\d+ P ?\d+",
            re.IGNORECASE,
        ),
    ),
    ("weight", re.compile(r"\d\s*(?:kg|lbs?)\b", re.IGNORECASE)),
    ("level", re.compile(r"\d\s*dB\b(?!\))", re.IGNORECASE)),
    ("load", re.compile(r"\d\s*(?:ohms?\b|Ω)", re.IGNORECASE)),
    ("band", re.compile(r"\d\s*k?(?:Hz)?\s*[-–]\s*\d+(?:[.,]\d+)?\s*k", re.IGNORECASE)),
    (
        "price",
        re.compile(r"(?:[€£$¥]|\b(?:usd|eur|gbp|chf|pln))\s*\d|\d\s*(?:€|£|\$|zł|eur|usd|gbp|chf|pln)", re.IGNORECASE),
    ),
)
_LEADING: Final = re.compile(
    r"\s*(?:(?:ref|art|cod|nr|no|nº|item|sku)\b\W*[\w./-]*\d[\w./-]*\s{2,})?(?P<name>\S.*?)\s*(?:\.{4,}|…{2,}|_{4,})\s*"
    r"(?P<price>(?:[€£$] ?)?\d[\d.,]*(?:,-)?(?: ?(?:€|£|\$|zł|eur|usd|gbp|chf|pln)\b)?)\s*",
    re.IGNORECASE,
)
"""A heading whose leaders run to a price."""
_OFFER: Final = re.compile(
    r"\s*(?:[\[(]?\d{1,2}[\]).]\s*)?(?:(?:usat[oaie]|used|gebraucht|occasion|tweedehands|usad[oa]s?|używan[eay]|neu|new|nuov[oaie]|"
    r"ex-?demo\w*|b-?ware|b-?stock): +)?"
    r"(?P<name>[^\W\d_](?:[^()\[\]€£$.,:|]|(?<=\d)[.,](?=\d))*?)\s*"
    r"(?P<terms>(?:\([^()]*\)\s*)?(?:\.{4,}|…{2,}|_{4,}|\s[–—-]\s|,\s|:\s).*\S)\s*",
    re.IGNORECASE,
)
"""A heading that goes on with the terms of an offer."""


def kinds(text: str) -> set[str]:
    """Return which kinds of figures a text holds.

    >>> sorted(kinds("Sorrel 5, floorstander, 8 ohm, 89dB, 910x185x290 (hxwxd), 15.5kg"))
    ['level', 'load', 'size', 'weight']
    """
    return {name for name, pattern in _KINDS if pattern.search(text)}


def priced_heading(line: Line) -> tuple[Cell, list[Piece]] | None:
    """Return the name and the price of a heading in a price list: 'Ref. 21  Reed 2 ........ 165,00'."""
    match = _LEADING.fullmatch(line.text)
    if match is None:
        return offered(line)
    name, price = (Cell(match[part], line.start + match.start(part), match.start(part)) for part in ("name", "price"))
    return (name, [_as_price(price)]) if is_name(name) else offered(line)


def _as_price(cell: Cell) -> Piece:
    return Piece(cell, (Cell("price", cell.start, cell.column),))


def offered(line: Line) -> tuple[Cell, list[Piece]] | None:
    """Return the name and the terms of a dealer's offer: '[2] Wren 4 (walnut, pair) ..... £425 was £875 new'."""
    match = _OFFER.fullmatch(line.text)
    if match is None or not {"price"} & kinds(match["terms"]):
        return None
    name, terms = (Cell(match[part], line.start + match.start(part), match.start(part)) for part in ("name", "terms"))
    if not is_name(name):
        return None
    led = re.fullmatch(r"[,:–—-]\s*(?P<what>.*?[^\W\d_]{3}.*?)\s*(?:\.{4,}|…{2,}|_{4,})\s*(?P<price>.*)", terms.text)
    if led is None:
        return name, [_as_price(terms)]
    # what it is stands between its name and the leaders that run to its price
    what, price = (
        Cell(led[part], terms.start + led.start(part), terms.column + led.start(part)) for part in ("what", "price")
    )
    return name, [_as_price(price), Piece(what)]
