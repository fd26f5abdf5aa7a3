"""Lines beside several loudspeakers: said of all, a value for each in their order, or of those that they name."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.mentions import calls_of, mentions
from triptych.catalog.datasheet.offered_lines import kinds
from triptych.catalog.datasheet.owner import RESPECTIVELY, about
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.price_rows import (
    CLAUSE_END,
    EVERY_PRICE,
    SENTENCE_END,
    for_shoppers,
)
from triptych.catalog.datasheet.price_tax import tax_span
from triptych.catalog.datasheet.said_of import OF_A_KIND, apart, is_warning, said_of
from triptych.catalog.datasheet.sections import is_shared
from triptych.catalog.datasheet.sheet_words import OTHER_GOODS, topics_in
from triptych.catalog.datasheet.sold_words import sold_by_kind, sold_words, tells_sold
from triptych.catalog.datasheet.text_cells import Cell, Line, label

_EXCEPT: Final = re.compile(
    r"\b(?:except|but for|außer|ausser|sauf(?! mention| indication)|excepto|salvo(?! nota| diversa| indica)|"
    r"tranne|behalve|oprócz|poza)\b",
    re.IGNORECASE,
)
_MORE: Final = re.compile(r"[.!?]\s+(?=[^\W_a-zß-ÿąćęłńśźż])")
_PARAGRAPH: Final = 2
"""How many sentences follow a first one at least in a paragraph; tried, no source."""
_VALUE: Final = r"\d+(?:[.,]\d+)?"
_DATE: Final = re.compile(r"\d{1,2}/\d{1,2}/(?:\d{2}|20\d{2})")
_UNIT: Final = r"(?P<unit>mm|cm|kg|lbs?|in|dB|k?Hz|W|Ω|ohms?)?"


def share(parts: Sequence[SheetPart], line: Line) -> bool:
    """Give a line to the loudspeakers that it is about; whether it was about any."""
    if opened := _opens_with_one(parts, line):
        opened[0].pieces.append(opened[1])
        return True
    for_all = is_shared(line.text) and not _EXCEPT.search(line.text)
    ordered = [] if for_all else [*_in_order(parts, line), *_respectively(parts, line)]
    named = [] if for_all or is_warning(line.text) else list(_by_name(parts, line))
    if len(named) == 1 and len(_MORE.findall(line.text)) >= _PARAGRAPH:
        # a paragraph about one goes on after the clause that names it
        named = said_of(parts, line) or named
    found = [*ordered, *named] if ordered else apart(parts, line) or named or ([] if for_all else said_of(parts, line))
    if for_all and not found and "price" in kinds(line.text):
        found = _priced_by_name(parts, line)
    for part, piece in found:
        part.pieces.append(piece)
    if found and "price" in topics_in(folded(line.text)):
        _price_terms(parts, found, line)
    if for_all and not found:
        _give(parts, line)
    return for_all or bool(found)


def _opens_with_one(parts: Sequence[SheetPart], line: Line) -> tuple[SheetPart, Piece] | None:
    """The loudspeaker by whose whole name a line of its figures opens, with them: 'Wren 2: 8.1 kg, 87 dB, 8 ohms'."""
    for part in parts:
        opening = re.match(rf"\W*{re.escape(part.name.text)}\s?:\s+(?=\S)", line.text) if part.name else None
        if opening and line.text.count(",") >= _PARAGRAPH and not mentions(line.text[opening.end() :], calls_of(parts)):
            return part, Piece(Cell(line.text[opening.end() :].strip(), line.start + opening.end(), opening.end()))
    return None


def _priced_by_name(parts: Sequence[SheetPart], line: Line) -> list[tuple[SheetPart, Piece]]:
    """The price of each by its name, and the terms of all beside them: 'Reed 2 £295, Reed C £240, plus VAT at 20%'."""
    named = list(_by_name(parts, line))
    if {id(part) for part, _ in named} != {id(part) for part in parts}:
        return []
    terms = [(at, said) for at, said in _cut(line.text, CLAUSE_END) if "price" not in kinds(said) and is_shared(said)]
    shared = [Piece(Cell(said.strip(" .;,"), line.start + at, at), shared=True) for at, said in terms]
    return [*named, *((part, piece) for part in parts for piece in shared)]


def _give(parts: Sequence[SheetPart], line: Line) -> None:
    """Give a line that is said of all to all, but for the stretches that open with one's name."""
    whole = line.whole
    by_kind = _give_by_kind(parts, whole)
    if by_kind:
        _give_tax(parts, whole)
    priced = any(_is_price(piece) or "price" in kinds(piece.body.text) for part in parts for piece in part.pieces)
    aside = by_kind or (priced and "price" in kinds(whole.text))
    clauses = list(_plain_terms(whole.text, by_kind=by_kind) if aside else for_shoppers(whole.text))
    sentences = [(at + left, said) for at, text in clauses for left, said in _cut(text, SENTENCE_END)]
    prices = ["price" in topics_in(folded(said)) for _, said in sentences]
    if any(OF_A_KIND.match(said) for _, said in sentences) or (not aside and any(prices) and not all(prices)):
        clauses = [(at, said) for at, said in sentences if not OF_A_KIND.match(said)]
    for at, text in clauses:
        for who, start, end in _each_its_own(parts, text):
            cell = Cell(text[start:end], whole.start + at + start, whole.column + at + start)
            for part in who:
                part.pieces.append(Piece(cell, shared=True))


def _price_terms(parts: Sequence[SheetPart], found: Sequence[tuple[SheetPart, Piece]], line: Line) -> None:
    """Tell the prices of each what a line says that they are for, unless they say so themselves."""
    names, told = _told_of(parts)
    by = sold_by_kind(line.text, told, names)
    if not by:
        said = {id(part): sold_words(one.body.text) for part, one in found if not re.search(r"\d", one.body.text)}
        by = [said.get(id(part)) for part in parts]
    for part, per in zip(parts, by, strict=True):
        if by and per:
            # what a price is for is told with it; the same words of others are not about this one
            part.pieces = [one for one in part.pieces if not (_is_in(one, line) and _says_other(one, per))]
        own = (cell.text for one in part.pieces if _is_price(one) for cell in (one.body, *one.heads))
        if not any(sold_words(text) for text in own if text not in ("pair", "each")):
            _head_prices([part], [per], line.whole)


def _is_in(piece: Piece, line: Line) -> bool:
    return line.start <= piece.body.start < line.start + len(line.text)


def _says_other(piece: Piece, per: str) -> bool:
    """Whether a piece says no more than what prices are for, and another than is known."""
    return not re.search(r"\d", piece.body.text) and sold_words(piece.body.text) not in (None, per)


def _told_of(parts: Sequence[SheetPart]) -> tuple[list[str], list[str]]:
    """How each is called, and all that is said of it."""
    names = [part.name.text if part.name else "" for part in parts]
    bodies = [" ".join(one.body.text for one in part.pieces) for part in parts]
    return names, [f"{name} {body}" for name, body in zip(names, bodies, strict=True)]


_UNLESS: Final = re.compile(
    r"\b(?:unless|except where|sofern nicht|wenn nicht|"
    r"sauf (?:mention|indication)|salvo (?:diversa|indic|nota)|tenzij)\b"
)


def _give_by_kind(parts: Sequence[SheetPart], whole: Cell) -> bool:
    """Give each what the price of its kind is for: 'bookshelf models per pair, all others each'."""
    names, told = _told_of(parts)
    small = folded(whole.text)
    every = EVERY_PRICE.search(small)
    if every or _UNLESS.search(small):
        # what is said of all prices may be told beside them already, by the table that they stand in
        known = any(
            sold_words(cell.text) for part in parts for piece in part.pieces if _is_price(piece) for cell in piece.heads
        )
        _head_prices(parts, [None if known else sold_words(every[0] if every else small)] * len(parts), whole)
        _sell(parts, sold_by_kind(small[every.end() :], told, names) if every else (), whole)
        return True
    per = sold_by_kind(whole.text, told, names)
    _head_prices(parts, per, whole)
    return bool(per)


def _give_tax(parts: Sequence[SheetPart], whole: Cell) -> None:
    """Give each what a line says of tax, beside its words for each and a pair."""
    small = folded(whole.text)
    span = tax_span(small)
    if span is None or len(small) != len(whole.text):
        return
    start, end = span
    cell = Cell(whole.text[start:end], whole.start + start, whole.column + start)
    for part in parts:
        part.pieces.append(Piece(cell, (Cell("price", whole.start, whole.column),), shared=True))


def _head_prices(parts: Sequence[SheetPart], per: Sequence[str | None], whole: Cell) -> None:
    """Put beside the prices of each what they are for."""
    for part, one in zip(parts, per, strict=False):
        if one is None:
            continue
        head = Cell(one, whole.start, whole.column)
        part.pieces = [
            replace(piece, heads=(*(cell for cell in piece.heads if cell.text not in ("pair", "each")), head))
            if _is_price(piece)
            else piece
            for piece in part.pieces
        ]


def _sell(parts: Sequence[SheetPart], by: Sequence[str | None], whole: Cell) -> None:
    """Tell of each how it is sold, where that is said beside what every price is for."""
    for part, one in zip(parts, by, strict=False):
        if one:
            head = Cell("sold", whole.start, whole.column)
            part.pieces.append(Piece(Cell(one, whole.start, whole.column), (head,)))


def _is_price(piece: Piece) -> bool:
    return any(label(cell) == "price" for cell in piece.heads)


_COMMA: Final = re.compile(r"[.;,:]\s+")


def _plain_terms(text: str, *, by_kind: bool) -> Iterator[tuple[int, str]]:
    """What a line says of all prices, without the amounts, which beside prices of their own are what else costs."""
    for at, said in _cut(text, SENTENCE_END):
        if EVERY_PRICE.search(folded(said)):
            yield at, said
            continue
        if by_kind and tells_sold(said):
            clauses = _cut(said, _COMMA)
            yield from ((at + left, one) for left, one in clauses if not tells_sold(one) and about(folded(one)))
            continue
        if not _costs(said):
            # 'Supersedes 2025-B' is about no loudspeaker
            yield from ((at, said),) if topics_in(folded(said)) or is_shared(said) else ()
        elif is_shared(said):
            terms = (one for one in _cut(said, CLAUSE_END) if "price" in topics_in(folded(one[1])))
            yield from ((at + left, one) for left, one in terms if "price" not in kinds(one))


def _cut(text: str, ends: re.Pattern[str]) -> Iterator[tuple[int, str]]:
    edges = [0, *(mark.end() for mark in ends.finditer(text)), len(text)]
    yield from ((left, text[left:right]) for left, right in pairwise(edges))


def _costs(said: str) -> bool:
    """Whether a sentence is about what a stand or such costs: it gives an amount, and no figure of a loudspeaker."""
    small = folded(said)
    others = set(topics_in(small)) - {"price", "sold", "elsewhere"}
    return "price" in kinds(said) and (not others or re.search(rf"\b{OTHER_GOODS.pattern}", small) is not None)


def _each_its_own(parts: Sequence[SheetPart], text: str) -> Iterator[tuple[Sequence[SheetPart], int, int]]:
    """The stretches of a line said of all: those that open with one's name are of that one, the others of all."""
    known = _telling_words(parts)
    places = [match for match in re.finditer(r"\w+", text) if match[0] in known]
    ends = (one.end() for one in re.finditer(r"(?<!\b\w\w\w)(?<!\b\w\w\w\w)[.;]\s+(?=[^\W\da-zß-ÿąćęłńśźż])", text))
    edges = sorted({0, *(match.start() for match in places), *(ends if places else ())})
    owners = {match.start(): known[match[0]] for match in places}
    who: Sequence[SheetPart] = parts
    for start, end in zip(edges, [*edges[1:], len(text)], strict=True):
        opens = not start or text[:start].rstrip().endswith((".", ";"))
        who = [owners[start]] if start in owners else parts if opens else who
        if text[start:end].strip():
            yield who, start, end


def _telling_words(parts: Sequence[SheetPart]) -> dict[str, SheetPart]:
    """The words that stand in the name of one loudspeaker alone."""
    words = [set(re.findall(r"\w+", part.name.text)) if part.name else set() for part in parts]
    return {
        word: part
        for part, own in zip(parts, words, strict=True)
        for word in own
        if word[0].isupper() and len(word) > 2 and sum(word in other for other in words) == 1
    }


def _in_order(parts: Sequence[SheetPart], line: Line) -> Iterator[tuple[SheetPart, Piece]]:
    """A value for each: 'Weights 15.9/18.7/43/5.1 lb'."""
    if len(parts) < 3:
        return
    values = rf"(?P<values>{_VALUE}(?:\s?/\s?{_VALUE}){{{len(parts) - 1}}})(?!\s?/?\d)\s?{_UNIT}"
    for match in re.finditer(rf"(?<![\w/])(?P<label>[^\W\d_][^.;:/\d]{{2,30}}?)[ :]+{values}", line.text):
        if _DATE.fullmatch(match["values"]):
            continue
        head = Cell(match["label"].strip().rstrip("s"), line.start + match.start(), match.start())
        if label(head) is None or label(head) in ("size", "drivers"):
            # three sides of one box are no value for each of three
            continue
        unit = Cell(f"({match['unit']})", line.start + match.end(), match.end()) if match["unit"] else None
        found = re.finditer(_VALUE, match["values"])
        for part, one in zip(parts, found, strict=True):
            start = match.start("values") + one.start()
            yield part, Piece(Cell(one[0], line.start + start, start), (head, unit) if unit else (head,))


_JOINED: Final = rf"(?:\s*,\s*|\s*,?\s+(?:{AND}|bzw\.)\s+|\s*/\s*)"


def _respectively(parts: Sequence[SheetPart], line: Line) -> Iterator[tuple[SheetPart, Piece]]:
    """A value for each in the order of their names: 'Sensitivity is 87, 89 and 88 dB respectively'."""
    unit = _UNIT.replace("?P<unit>", "?:")
    values = rf"{_VALUE}\s?{unit}(?:{_JOINED}{_VALUE}\s?{unit}){{{len(parts) - 1}}}(?![\w/]|[.,]\d)"
    for sentence in re.finditer(r"(?:[^.;]|[.;](?=\S)|(?<=bzw)\.)+", line.text):
        if not RESPECTIVELY.search(folded(sentence[0])):
            continue
        order = _named_order(parts, sentence[0])
        for match in re.finditer(
            rf"(?<![\w/])(?P<label>[^\W\d_][^,;:/\d()]{{2,40}}?)(?P<under> ?\([^()]*\))?[ :]+(?P<values>{values})",
            sentence[0],
        ):
            start = sentence.start() + match.start()
            head = Cell(match["label"].strip(), line.start + start, start)
            if (found := _label_within(head)) is None:
                continue
            under = match["under"]
            how = (Cell(under.strip(), line.start + sentence.start() + match.start("under"), 0),) if under else ()
            units = re.findall(rf"{_VALUE}\s?({unit})", match["values"])
            last = next((one for one in reversed(units) if one), "")
            at = sentence.start() + match.start("values")
            for part, one in zip(order, re.finditer(_VALUE, match["values"]), strict=True):
                cell = Cell(one[0], line.start + at + one.start(), at + one.start())
                behind = (Cell(f"({last})", line.start + at + one.end(), at + one.end()),) if last else ()
                yield part, Piece(cell, (found, *how, *behind))


def _label_within(head: Cell) -> Cell | None:
    """The label that the words before values hold: 'sensitivity' of 'their sensitivity is'."""
    words = list(re.finditer(r"\S+", head.text))
    for first in range(len(words)):
        for last in range(len(words), first, -1):
            text = head.text[words[first].start() : words[last - 1].end()]
            cell = Cell(text, head.start + words[first].start(), head.column + words[first].start())
            if label(cell) is not None:
                return cell
    return None


def _named_order(parts: Sequence[SheetPart], sentence: str) -> list[SheetPart]:
    """The loudspeakers in the order in which a sentence names them, or else as they stand in the text."""
    known = _telling_words(parts)
    places = {
        id(known[match[0]]): match.start()
        for match in reversed(list(re.finditer(r"\w+", sentence)))
        if match[0] in known
    }
    return sorted(parts, key=lambda part: places[id(part)]) if len(places) == len(parts) else list(parts)


_LISTED: Final = rf"(?:/|, |,? (?:{AND}|&) )"
"""Between names that one value is of."""


def _by_name(parts: Sequence[SheetPart], line: Line) -> Iterator[tuple[SheetPart, Piece]]:
    """What a line says of each by its name: 'Sizes H x W x D: B6 14.2x8.3x10.6; C525 7.1x18.4x9.8'."""
    lasts = Counter(part.name.text.split()[-1] for part in parts if part.name)
    known = {word: part for part in parts if part.name for word in _short(part.name.text, lasts)}
    if len(known) < len(parts):
        return
    word = "|".join(map(re.escape, sorted(known, key=len, reverse=True)))
    head, mark, _ = line.text.partition(":")
    lead = (Cell(head.strip(), line.start, 0),) if mark and label(Cell(head.strip(), 0, 0)) else ()
    pattern = (
        rf"(?<![\w/])(?P<who>(?:{word})(?:{_LISTED}(?:{word}))*):? (?P<what>\S.*?)(?=[;,.] |\.?$|[;,] (?:{word})\b)"
    )
    for match in re.finditer(pattern, line.text):
        if not lead and not re.search(r"\d", match["what"]):
            continue
        cell = Cell(match["what"], line.start + match.start("what"), match.start("what"))
        for who in re.split(_LISTED, match["who"]):
            yield known[who], Piece(cell, lead)


def _short(name: str, lasts: Mapping[str, int]) -> Iterator[str]:
    """The last word of a name, where no other name has it and it can be no ordinary word."""
    last = name.split()[-1]
    code = re.search(r"\d", last) or (last.isupper() and len(last) <= 3)
    if code and lasts[last] == 1:
        yield last
        if "-" in last:
            yield last.rpartition("-")[2]
