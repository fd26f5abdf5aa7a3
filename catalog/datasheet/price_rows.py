"""The columns of a price list: article numbers, what the trade pays, each or a pair, names within descriptions."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.price_tax import TRADE, tax_of
from triptych.catalog.datasheet.sheet_words import EACH, OTHER_GOODS, PAIR
from triptych.catalog.datasheet.sold_words import LEGEND, sold_words
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label
from triptych.catalog.records import Tax

_PER: Final = re.compile(
    r"^(?:per|unit|units|unite|unita|unidad|conf\.?|confezione|sold as|sold|einheit|je|each/pair|ea/pr|uom|eenheid|"
    r"jedn\.?|jednostka|vendu par|venta|verkauf)$"
)
_ARTICLE: Final = re.compile(
    r"^(?:(?:art|artikel|article|articolo|articulo|ref|item|part|order|stock|bestell|best|cod|kat)\W*"
    r"(?:nr|no|num\w*|code|codes?)?\W*|code|sku|codice|codigo|reference|referenz|ean\W?\w*|upc|gtin|barcode|jan|"
    r"ve|vpe|pack\w*|qty|colli|indeks|code-?barres?|jan(?: code)?|kod\w*|pic(?:ture)?|foto|min\.? ?order|moq|"
    r"nr\.?|no\.?|rabat\w*|discount|margin|artikelnr\.?)$"
)
_DESCRIPTION: Final = re.compile(
    r"^(?:descri\w+|designation|bezeichnung|denominac\w*|denominazione|omschrijving|produc?k?t\w*|prodotto|articolo|"
    r"articulo|artikel|article|item|nazwa|opis|modell? ?/ ?(?:typ|type)|type|typ)$"
)
_PAST: Final = re.compile(
    r"^(?:was|before|bisher\w*|vorher|avant|antes|prima|voorheen|poprzednio|dawniej)$|"
    r"\b(?:old|former|previous|alter?|ancien|anterior|vecchi[ao]|precedente|oude|vorige|star[ay])\b "
    r"?(?:price|preis|prix|precio|prezzo|listino|prijs|cena)?$|"
    r"\b(?:price|rrp|srp|uvp|preis|prix|precio|pvp|prezzo|listino|prijs|cena) "
    r"(?:old|alt|ancien|anterior|vecchio|precedente|oud|stara)\b"
)
"""A price of the past in the head of a column."""
_TERMS_LINE: Final = re.compile(r"pri[cjsx]|preis|prezz|precio|cen[ay]\b|tarif|listino|uvp|rrp|msrp")
_CODES: Final = {"yen": "jpy", "pounds": "gbp", "us dollars": "usd", "dollars": "usd", "zlotych": "pln"}
_CURRENCY: Final = re.compile(
    r"\b(?:in|en|w|,) (?P<code>eur|euros?|€|gbp|£|usd|us ?\$|chf|pln|zl|sek|nok|dkk|jpy|yen|pounds|us dollars|"
    r"zlotych)(?!\w)|"
    r"[:,] (?P<told>yen|jpy|usd|eur|gbp|pln|chf)(?!\w)|"
    r"^(?P<head>eur|gbp|usd|chf|pln)$"
)
_MONEY: Final = re.compile(r"[€£$¥] ?\d|\d(?:,-)? ?(?:[€£$¥]|eur|zl|usd|chf)|(?:usd|eur|gbp|chf) ?\d")
CLAUSE_END: Final = re.compile(
    r"(?<!incl)(?<!inkl)(?<!excl)(?<!exkl)(?<!inc)(?<!zzgl)(?<!mwst)[.;,·]\s+|\.$", re.IGNORECASE
)
"""Where a clause about prices ends."""
SENTENCE_END: Final = re.compile(
    r"(?:(?<!incl)(?<!inkl)(?<!excl)(?<!exkl)(?<!inc)(?<!zzgl)(?<!mwst)[.;]|(?<=mwst)\.(?=\s+(?-i:[A-ZÄÖÜ])))\s+|\.$",
    re.IGNORECASE,
)
"""Where a sentence about prices ends."""
EVERY_PRICE: Final = re.compile(
    r"\b(?:every price|each price|all prices|(?:alle|die) preise|jeder preis|tous les prix|"
    r"todos los precios|tutti i prezzi|alle prijzen|wszystkie ceny) "
    r"(?:is|are|sind|gelten|verstehen sich|sont|son|sono|zijn|sa)(?: [^\W\d]+){0,2} "
    r"(?:for|per|pro|par|por|je|za)\b[^.,;]*"
)
"""What a sentence says of every price, whatever another says of how each kind is sold."""
_UNLESS: Final = re.compile(
    r"\b(?:unless|except where|sauf|sofern|wenn nicht|soweit nicht|salvo|tranne|tenzij|o ile|chyba)\b"
)
"""Behind it stands what holds of some alone."""
_PLACE: Final = r"book-?shel\w*|(?:floor|vloer|stand)-?(?:stand|stander|staand|mount)\w*|regal\w*|kompakt\w*|tower\w*"
_DESCRIBES: Final = re.compile(
    rf"(?:{_PLACE}|standlautsprecher|standbox|cent(?:er|re|ro|ral|rale|raal)\w*|surrounds?|sub-?woofers?|"
    rf"colonn[ea]\w*|torre|zuil\w*|"
    r"biblio(?:theque)?|murale?s?|enceintes?|scaffale|pavimento|diffusor\w*|estanteria|columna|boekenplank\w*|"
    r"podlogow\w*|podstawkow\w*|"
    r"kolumn\w*|centraln\w*|stand|twin|dual|double|two|three|pair|speakers?|loudspeakers?|lautsprecher|monitor|"
    r"height|"
    r"on-?wall|in-?wall|\d[.,]?5?-?(?:way|wege|voies|vie|weg)|(?:two|three|zwei|drei)-\w+|woofers?|powered|active)"
)
_SIZED: Final = re.compile(r"\d+(?:[.,]\d+)?(?:\"|''|”|″|-?inch\w*|-?(?:mm|cm|in)\b)|\d+[x×]|[x×]\d")
_GOODS_LAST: Final = re.compile(
    r"\w (?:stands|brackets|mounts|spikes|grilles|cables|pieds|supporti|soportes|standaards|podstawki|(?:stand)?fusse|"
    r"staffe|(?:muur)?beugels|uchwyty|stojaki|griglie|rejillas|puntali|puntas)$"
)
"""A row's name that ends in goods of several pieces: 'Wren Stands'."""
_SECTION_WORD: Final = re.compile(
    r"\b(?:the|series|serie|série|seria|range|gamme|linea|línea|line|reihe|collection|collezione|lijn)\b", re.IGNORECASE
)

_SECTION_END: Final = re.compile(r"\s*[(:,;]\s*|\s+[–—-]\s+")
"""Where the name of a series ends and what is said of it begins."""


def price_heads(heads: Sequence[Cell]) -> tuple[set[int], int | None]:
    """Return which heads of a table's row are nothing for a shopper's record, and which says each or a pair.

    >>> heads = [Cell(text, 0, 0) for text in ("Code", "Model", "RRP", "Trade", "Per")]
    >>> price_heads(heads)
    ({0, 3}, 4)
    """
    small = [folded(cell.text).strip(" .:") for cell in heads]
    asked = [place for place, text in enumerate(small) if label(heads[place]) == "price" and not TRADE.search(text)]
    aside = {place for place, text in enumerate(small) if _ARTICLE.match(text)} | _former(small, asked)
    if asked:
        money = [place for place, head in enumerate(heads) if label(head) in (None, "price")]
        aside |= {place for place in money if TRADE.search(small[place])}
    aside |= _net_beside_gross(small, asked)
    per = next((place for place, text in enumerate(small) if asked and _PER.match(text)), None)
    return aside, per


def _net_beside_gross(small: Sequence[str], asked: Sequence[int]) -> set[int]:
    """The heads of prices without tax, where others are with it."""
    taxes = {place: tax_of(small[place]) for place in asked}
    return {place for place in asked if taxes[place] is Tax.EXCLUDED} if Tax.INCLUDED in taxes.values() else set()


def _former(small: Sequence[str], asked: Sequence[int]) -> set[int]:
    """The heads of prices that are asked no more: 'Was', or the earlier of 'Prijs 2024' and 'Prijs 2025'."""
    found = {place for place, text in enumerate(small) if _PAST.search(re.sub(r"\s*\([^()]*\)", "", text))}
    years = {place: int(year[0]) for place in asked if (year := re.search(r"\b20\d\d\b", small[place]))}
    found |= {place for place, year in years.items() if year < max(years.values())}
    return found if set(asked) - found else set()


def section(line: Line) -> tuple[Cell, Cell | None] | None:
    """Return the series that a line between the rows of a table heads, and what it says of all in it.

    >>> line = Line("SERIE ONDINE (dôme 25 mm)", 0, (Cell("SERIE ONDINE (dôme 25 mm)", 0, 0),), False)
    >>> name, said = section(line) or (None, None)
    >>> name and name.text, said and said.text
    ('ONDINE', 'dôme 25 mm')
    """
    if len([cell for cell in line.cells if cell.text]) != 1:
        return None
    whole = line.whole
    mark = _SECTION_END.search(whole.text)
    head = whole.text[: mark.start()] if mark else whole.text
    bare = " ".join(_SECTION_WORD.sub(" ", head).split()).strip(" -–—:■●•*#")
    told = _SECTION_WORD.search(head) is not None or head.isupper()
    if not told or not bare or len(bare.split()) > 3 or not is_name(Cell(bare, 0, 0)):
        return None
    at = max(head.find(bare), 0)
    rest = whole.text[mark.end() :].rstrip(" )") if mark else ""
    said = Cell(rest, whole.start + mark.end(), whole.column + mark.end()) if mark and rest else None
    return Cell(bare, whole.start + at, whole.column + at), said


def is_other_goods(name: Cell, placed: Mapping[int, Cell], heads: Sequence[Cell]) -> bool:
    """Return whether a row is about a stand or a cable: it opens with one, or holds one and none of a box's figures."""
    small = folded(name.text)
    described = [folded(cell.text) for place, cell in placed.items() if place < len(heads) and describes(heads[place])]
    # 'Stand, Bassreflex' is a loudspeaker that stands
    goods = [OTHER_GOODS.match(small), *(OTHER_GOODS.match(re.sub(r"^stand\b", "", text)) for text in described)]
    if any(goods) or _GOODS_LAST.search(small):
        return True
    figures = {place for place, head in enumerate(heads) if label(head) in ("impedance", "sensitivity", "role")}
    filled = {place for place, cell in placed.items() if cell.text}
    return bool(figures) and not figures & filled and bool(re.search(rf"\b{OTHER_GOODS.pattern}", small))


def describes(head: Cell) -> bool:
    """Return whether a column holds what a product is, and not only what it is called."""
    return _DESCRIPTION.match(folded(head.text).strip(" .:")) is not None


def only_describes(text: str) -> bool:
    """Return whether a description opens with what a product is, so that it holds no name.

    >>> only_describes("Floor standing, 3 way"), only_describes("Wren 2 bookshelf")
    (True, False)
    """
    words = re.findall(r"[\w.½-]+", folded(text))[:2]
    return any(_DESCRIBES.fullmatch("-".join(words[:count])) is not None for count in (1, 2) if words)


def split_description(cell: Cell, series: Cell | None, others: Collection[str]) -> tuple[Cell, Cell | None]:
    """Return the name that a description opens with, and the rest of it; no other row is called so.

    >>> name, rest = split_description(Cell('Bracken 2 bookshelf 5" 2-way', 0, 0), None, ())
    >>> name.text, rest and rest.text
    ('Bracken 2', 'bookshelf 5" 2-way')
    """
    mark = re.search(r"\s*[,;(]\s*|\s+[–—-]\s+", cell.text)
    words = list(re.finditer(r"\S+", cell.text[: mark.start()] if mark else cell.text))
    ends = [
        place
        for place, word in enumerate(words)
        if place and (_DESCRIBES.fullmatch(folded(word[0]).strip(" ,.")) or _SIZED.search(word[0]))
    ]
    kept = ends[0] if ends else len(words)
    # what is left of 'Heather Centre' without the centre is only the series
    while kept < len(words) and _is_no_name(cell.text[: words[kept - 1].end()], series, others):
        kept += 1
    if not words or (kept == len(words) and mark is None):
        return cell, None
    end = words[kept - 1].end()
    rest = cell.text[end:]
    start = end + len(rest) - len(rest.lstrip(" ,;-–—"))
    return (
        Cell(cell.text[:end], cell.start, cell.column),
        Cell(cell.text[start:].strip(), cell.start + start, cell.column + start) if cell.text[start:].strip() else None,
    )


def _is_no_name(text: str, series: Cell | None, others: Collection[str]) -> bool:
    # behind the same name and what it is there is only another finish
    known = any(
        other == text or (other.startswith(f"{text} ") and not only_describes(other[len(text) :])) for other in others
    )
    return known or (series is not None and text.casefold() == series.text.casefold())


def terms(lines: Sequence[Line], heads: Sequence[Cell], per: int | None, title: Line | None = None) -> tuple[Cell, ...]:
    """Return what the lines around a price list say of all its prices: in which currency, each or a pair.

    `title` stands right above the list, and is about it alone.
    """
    around = [(line, folded(LEGEND.sub(" ", line.text))) for line in lines if line.cells]
    told = [(line, text) for line, text in around if _TERMS_LINE.search(text)]
    codes = {
        _CODES.get(match["code"] or match["told"], match["code"] or match["told"]): line
        for line, text in told
        if (match := _CURRENCY.search(text)) and (match["code"] or match["told"])
    }
    found: list[Cell] = []
    if len(codes) == 1 and not any(_CURRENCY.search(folded(head.text)) for head in heads):
        [(code, line)] = codes.items()
        found.append(Cell(code.upper(), line.start, 0))
    if per is None:
        own = [(line, text) for line, text in told if line is title]
        for some in (own, told):
            if (said := _sold_in(some)) is not None:
                return (*found, said)
    return tuple(found)


def _sold_in(told: Sequence[tuple[Line, str]]) -> Cell | None:
    """Whether lines say that all prices are a pair's, or of each; None where they say neither or both."""
    # an amount there is what something else costs, such as a grille
    free = [
        (line, _UNLESS.split(said)[0])
        for line, text in told
        for said in SENTENCE_END.split(text)
        if said and not _MONEY.search(said)
    ]
    pair, each = (any(words.search(text) for _, text in free) for words in (PAIR, EACH))
    if pair == each:
        return None
    line = next(line for line, text in free if (PAIR if pair else EACH).search(text))
    return Cell("pair" if pair else "each", line.start, 0)


def legend(lines: Iterable[Line]) -> dict[str, str]:
    """Return which signs in cells of prices mean a pair or each, as a line explains: 'C = coppia, P = pezzo'."""
    found = {match["sign"]: sold_words(match["word"]) for line in lines for match in LEGEND.finditer(line.text)}
    return {sign: per for sign, per in found.items() if per}


def per_in_name(name: Cell) -> tuple[Cell, str | None]:
    """Return a name without the bracket that says what its price is for, and what that says.

    >>> name, per = per_in_name(Cell("Encina 1 (pareja)", 0, 0))
    >>> name.text, per
    ('Encina 1', 'pair')
    """
    match = re.search(
        r"\s*[(\[](?P<per>[^()\[\]\d]{1,16})[)\]]$|,?\s+(?P<bare>la paire|the pair|per paar|la coppia)$", name.text
    )
    per = sold_words(match["per"] or match["bare"]) if match else None
    return (Cell(name.text[: match.start()], name.start, name.column), per) if match and per else (name, None)


def for_shoppers(text: str) -> list[tuple[int, str]]:
    """Return the clauses of a line about prices that aren't about what the trade pays, and where each begins.

    >>> for_shoppers("RRP includes VAT. Trade prices exclude VAT.")
    [(0, 'RRP includes VAT')]
    """
    edges = [
        0,
        *(edge for mark in CLAUSE_END.finditer(text) for edge in mark.span()),
        len(text),
    ]
    clauses = [(left, text[left:right]) for left, right in zip(edges[::2], edges[1::2], strict=True)]
    trade = [(at, clause) for at, clause in clauses if TRADE.search(folded(clause))]
    others = [(at, clause) for at, clause in clauses if clause.strip() and (at, clause) not in trade]
    if trade and any(re.search(r"\b(?:rrp|uvp|srp|msrp|pvp)\b", folded(clause)) for _, clause in others):
        return others
    return [(0, text)]
