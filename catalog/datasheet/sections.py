"""Several loudspeakers one after another: a line each, or a heading and what stands under it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.mentions import Calls, calls_of, mentions
from triptych.catalog.datasheet.offered_lines import kinds, offered, priced_heading
from triptych.catalog.datasheet.owner import IN_ORDER, stretches
from triptych.catalog.datasheet.parts import Piece, SheetPart, plain
from triptych.catalog.datasheet.price_rows import split_description
from triptych.catalog.datasheet.sheet_words import OPENS_PHRASE, RIVAL, SECTION
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name

_NAME_END: Final = re.compile(r"\s*(?:[,:;|·(→\t]|->|\s[–—-]\s)\s*|\s{2,}")
_NUMBERED: Final = re.compile(r"^\s*(?:\d{1,2}[.)]\s+|[•*►▪▸●–-]\s+|\d{1,5}[a-z]?\s{2,})")
_TELLING: Final = 3
_LONGEST_LEAD: Final = 40
"""So much stands before the first name where a line gives a value of each; tried, no source. [characters]."""
_CODE: Final = re.compile(r"[A-Z]{1,4}[- ]?(?=\d)")
"""What the codes of one maker open with: 'KB-25', 'TH 30'."""
NO_NAME: Final = re.compile(
    r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|okt|dez|mai|mon|tue|wed|thu|fri|sat|sun)\w*|"
    r"page|seite|figure?|fig|table|tab|unit|step|note|issue|nr|no|posts?|the|all|both|for|and|but|with|from|size|"
    r"der|die|das|les?|la|el|los|las|il|lo|een|het|two|one|model\w*|version|type|rev|vol|our|this|their|hi-?fi|room"
)
"""Words that open or end no loudspeaker's name."""
_CORE: Final = frozenset(
    ("size", "width", "height", "depth", "weight", "sensitivity", "impedance", "response", "low", "price")
)


def matters(pieces: Sequence[Piece]) -> set[str]:
    """Return what sentences tell with a figure."""
    found: set[str] = set()
    for piece in pieces:
        text = piece.body.text
        found |= {
            one.topic for one in stretches(text) if one.topic in _CORE and re.search(r"\d", text[one.start : one.end])
        }
    return found


def a_line_each(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return loudspeakers that have a line each, opening with a name and telling much; None where there are none."""
    opened = [_told_of(number, line) for number, line in enumerate(lines) if line.cells]
    able = [one for one in opened if one.part.name is not None]
    found = [one for one in able if len(one.told) >= _TELLING or (len(one.told) == 2 and "price" in one.told)]
    whole = [one for one in found if len(one.told) >= _TELLING]
    # two kinds of figures are little for two loudspeakers; a list of three and more says the same of each
    found = found if len(found) > 2 else whole
    if len(found) > 1:
        found = _with_neighbours(found, able)
    found = found if len(found) > 1 else [_Told(*one, {"price"}) for one in _price_list(lines)]
    made = _agreeing(found) or _agreeing(_alike(able)) or _agreeing(_side_by_side(able))
    return _with_hanging(*made, lines) if made else None


def _with_hanging(parts: list[SheetPart], taken: set[int], lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]]:
    """Loudspeakers of a line each, with the lines that hang below it, further in."""
    for part, number in zip(parts, sorted(taken), strict=True):
        for below in range(number + 1, len(lines)):
            if below in taken or not lines[below].cells or _indent(lines[below]) <= _indent(lines[number]) + 1:
                break
            part.pieces += _cells(lines[below].whole)
            taken.add(below)
    return parts, taken


@dataclass(frozen=True, slots=True)
class _Told:
    """A line as a loudspeaker's own, and what it tells."""

    number: int
    part: SheetPart
    told: set[str]


def _told_of(number: int, line: Line) -> _Told:
    name, rest = _opening(line.whole)
    return _Told(number, SheetPart(name, _cells(rest)), kinds(line.text))


def _with_neighbours(found: Sequence[_Told], able: Sequence[_Told]) -> list[_Told]:
    """The lines, and those right beside one of them that open with a name and tell less: nobody else's figures."""
    kept = {one.number for one in found}
    more = [one for one in able if one.number not in kept and len(one.told) > 1]
    beside = [one for one in more if {one.number - 1, one.number + 1} & kept and not one.told - found[0].told]
    return sorted((*found, *beside), key=lambda one: one.number)


def _agreeing(found: Sequence[_Told]) -> tuple[list[SheetPart], set[int]] | None:
    """Lines as loudspeakers where all tell the same kinds of figures, and no two have one name."""
    if len(found) < 2:
        return None
    common = set.intersection(*(one.told for one in found))
    names = {one.part.name.text for one in found if one.part.name}
    if not common or (len(common) < 2 and common != {"price"}) or len(names) < len(found):
        return None
    parts = [one.part for one in found]
    _describe(parts)
    return parts, {one.number for one in found}


def _describe(parts: Sequence[SheetPart]) -> None:
    """Part what each line calls its loudspeaker from what it is, where all say both: 'Reed 4 on-wall surround'."""
    names = [part.name for part in parts if part.name]
    texts = [name.text for name in names]
    split = [split_description(name, None, [text for text in texts if text != name.text]) for name in names]
    if len(split) < len(parts) or not all(rest and re.search(r"\d", name.text) for name, rest in split):
        return
    for part, (name, rest) in zip(parts, split, strict=True):
        part.name, part.described = name, rest
        part.pieces += [Piece(rest)] if rest else []


def _alike(able: Sequence[_Told]) -> list[_Told]:
    """Lines that open with names of one range, whose labels and sentences tell what their units do not."""
    known = siblings_in([one.part.name.text for one in able if one.part.name])
    own = [one for one in able if one.part.name and one.part.name.text in known]
    return [replace(one, told=one.told | matters(one.part.pieces)) for one in own]


def _side_by_side(found: Sequence[_Told]) -> list[_Told]:
    """Lines that tell much, right above or below another that does."""
    more = [replace(one, told=one.told | matters(one.part.pieces)) for one in found if one.told]
    rows = {one.number for one in more if len(one.told) >= _TELLING}
    return [one for one in more if one.number in rows and {one.number - 1, one.number + 1} & rows]


def _price_list(lines: Sequence[Line]) -> list[tuple[int, SheetPart]]:
    """Lines that open with the same word and end with a price: a price list of one range."""
    first = [line.text.split()[0] for line in lines if line.text.split()]
    found: list[tuple[int, SheetPart]] = []
    for number, line in enumerate(lines):
        words = line.text.split()
        ranged = bool(words) and first.count(words[0]) > 2 and words[0][0].isupper()
        name, rest = _opening(line.whole)
        if (
            ranged
            and name is not None
            and "price" in kinds(line.text)
            and not re.search(r"bundle|\bstands?\b", line.text)
        ):
            found.append((number, SheetPart(name, _cells(rest))))
    return found


def _cells(rest: Cell) -> list[Piece]:
    """The rest of a line, in pieces where wide blanks or pipes part it."""
    edges = [0, *(edge for gap in re.finditer(r"\s*[|\t]\s*|\s{2,}", rest.text) for edge in gap.span()), len(rest.text)]
    return [
        Piece(Cell(rest.text[left:right], rest.start + left, rest.column + left))
        for left, right in zip(edges[::2], edges[1::2], strict=True)
        if rest.text[left:right].strip()
    ]


def _opening(whole: Cell) -> tuple[Cell | None, Cell]:
    """The name that a line opens with, and the rest of it."""
    number = _NUMBERED.match(whole.text)
    start = number.end() if number else 0
    if RIVAL.search(folded(whole.text)) or OPENS_PHRASE.match(folded(whole.text[start:])):
        # a sentence about another one, or one that opens with 'With the ...', is no line of a list
        return None, whole
    mark = _NAME_END.search(whole.text, start)
    if mark is None:
        return None, whole
    name = Cell(whole.text[start : mark.start()].strip(), whole.start + start, whole.column + start)
    rest = Cell(whole.text[mark.end() :], whole.start + mark.end(), whole.column + mark.end())
    return (name if is_name(name) else None), rest


def headed(lines: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Return loudspeakers that have a heading each, and under it figures of the same kinds; None if there are none."""
    heads = _headings(lines)
    names = [_opening_name(lines[number]) for number in heads]
    known = siblings_in([name.text for name in names])
    calls = calls_of([SheetPart(name) for name in names if not known or name.text in known])
    found: list[tuple[SheetPart, range, set[str]]] = []
    for place, number in enumerate(heads):
        end = heads[place + 1] if place + 1 < len(heads) else len(lines)
        end = next((row for row in range(number + 1, end) if _closes(lines, row, calls)), end)
        priced = priced_heading(lines[number])
        pieces = [*(priced[1] if priced else []), *plain(lines[number + 1 : end])]
        told = {"price"} if priced else set[str]()
        told = told.union(*(kinds(piece.body.text) for piece in pieces))
        named = SheetPart(_opening_name(lines[number]), pieces, described=_tag(lines[number].whole))
        found.append((named, range(number, end), told))
    siblings = siblings_in([part.name.text for part, _, _ in found if part.name])
    for part, _, told in found:
        if part.name and part.name.text in siblings and len(told) < _TELLING:
            told |= matters(part.pieces)
    enough = _TELLING if not siblings else _TELLING - 1
    own = [
        (part, rows, told)
        for part, rows, told in found
        if not siblings or (part.name and part.name.text in siblings) or offered(lines[rows[0]])
    ]
    telling = [one for one in own if len(one[2]) >= enough]
    telling = telling if len(telling) > 1 else [one for one in found if len(one[2]) >= _TELLING]
    common = set.intersection(*(told for _, _, told in telling)) if len(telling) > 1 else set()
    if not common or (len(common) < 2 and not siblings):
        return None
    taken = {row for _, rows, _ in telling for row in rows}
    return [part for part, _, _ in telling], taken


def siblings_in(names: Sequence[str]) -> set[str]:
    """Return the names of most that open alike and go on differently, as those of one maker or one range do.

    >>> sorted(siblings_in(["Tarn Wren 2", "Tarn Wren 4", "Specifications"])), siblings_in(["Sound", "Build"])
    (['Tarn Wren 2', 'Tarn Wren 4'], set())
    """
    openings: dict[str, set[str]] = {}
    for name in names:
        code = _CODE.match(name)
        opening = (code[0] if code else name.split(" ")[0] if " " in name else "").casefold()
        if opening[:1].isalpha() and not NO_NAME.fullmatch(opening.strip(" .:")):
            openings.setdefault(opening, set()).add(name)
    if not any(len(alike) > 1 for alike in openings.values()):
        # 'Wren' and 'Wren Plus'; where more open so, the bare word is their series
        for name in names:
            if name.casefold() in openings:
                openings[name.casefold()].add(name)
    most = max(openings.values(), key=len, default=set[str]())
    return most if len(most) > 1 else set()


def _tag(whole: Cell) -> Cell | None:
    """What a heading says that it is, of a set or of a range: '[Front] RK-5', 'Firn C – Center'."""
    tag = re.match(r"\[(?P<what>[^\[\]\d]{2,16})\]\s+(?=\S)", whole.text)
    tag = tag or re.search(r"\s[–—-]\s+(?P<what>[^\d€£$]{3,40}?)\s*$", whole.text)
    return Cell(tag["what"], whole.start + tag.start("what"), whole.column + tag.start("what")) if tag else None


def _opening_name(line: Line) -> Cell:
    whole = line.whole
    if priced := priced_heading(line):
        return priced[0]
    mark = re.search(r"\s*\(|\s+[–—-]\s|:$", whole.text)
    start = whole.text.index("]") + 2 if _tag(whole) and whole.text.startswith("[") else 0
    end = mark.start() if mark and mark.start() > start else len(whole.text)
    return Cell(whole.text[start:end], whole.start + start, whole.column + start)


def _headings(lines: Sequence[Line]) -> list[int]:
    """The lines that may be headings: below an empty one, or opening as such headings do."""
    able = [number for number, line in enumerate(lines) if _can_head(line)]
    offers = [number for number in able if offered(lines[number])]
    apart = [number for number in offers if _stands_apart(lines, number)]
    # one line with a price is what goes with a loudspeaker; two and more are a dealer's list
    able = [number for number in able if number not in offers or (number in apart and len(apart) > 1)]
    below = [number for number in able if number == 0 or not lines[number - 1].cells]
    names = {number: _opening_name(lines[number]).text for number in able}
    known = siblings_in([names[number] for number in below])
    alike = siblings_in(list(names.values()))
    return below if not known <= alike else [n for n in able if n in below or (known and names[n] in alike)]


def _stands_apart(lines: Sequence[Line], number: int) -> bool:
    """Whether a line has an empty one above it and text below it, or hangs out over what stands below it."""
    below = number + 1 < len(lines) and bool(lines[number + 1].cells)
    hangs = below and _indent(lines[number + 1]) > _indent(lines[number])
    return below and (hangs or number == 0 or not lines[number - 1].cells)


def _indent(line: Line) -> int:
    return len(line.text) - len(line.text.lstrip())


def _can_head(line: Line) -> bool:
    if not line.cells or (len(line.cells) > 1 and priced_heading(line) is None):
        return False
    if SECTION.match(folded(line.text.strip(" *_#|:"))):
        return False
    return is_name(_opening_name(line)) and not line.text.rstrip().endswith((".", ","))


def _closes(lines: Sequence[Line], row: int, calls: Calls) -> bool:
    """Whether a line speaks of more than the loudspeaker above: below a blank one, or where it opens so."""
    if not lines[row].cells:
        return False
    if lines[row - 1].cells:
        return _OPENS.match(lines[row].text) is not None
    if _gives_each(lines[row].text, calls):
        return True
    return is_shared(lines[row].text) or IN_ORDER.search(lines[row].text) is not None


def _gives_each(text: str, calls: Calls) -> bool:
    """Whether a line gives figures of several by their names: 'Power: A1 from 20 to 80 W, A2 from 20 to 100 W'."""
    named = [one for one in mentions(text, calls) if one.who.bit_count() == 1]
    ends = [*(one.start for one in named[1:]), len(text)][: len(named)]
    told = {one.who for one, end in zip(named, ends, strict=True) if re.search(r"\d", text[one.end : end])}
    return len(told) > 1 and named[0].start <= _LONGEST_LEAD


_SHARED: Final = re.compile(
    r"\b(?:all (?:models?|three|two|both|sensitiv\w*|prices|sizes|\d)|both (?:models|speakers)?|"
    r"common to|für alle|fuer alle|"
    r"allen? modelle\w*|(?:whole|entire) (?:range|series)|(?:ganze|gesamte|komplette)n? (?:serie|reihe)|"
    r"hele (?:serie|lijn)|"
    r"toute la (?:gamme|série)|toda la (?:serie|gama)|intera (?:serie|linea)|(?:cała|całej) seri\w+|"
    r"beide modelle|tous les|les deux|todos los|los tres|los dos|tutti i|entrambi|beide|alle drie|"
    r"wszystki(?:e|ch)|oba modele|prices (?:include|ex)|precios|prijzen|preise|prix ttc|sensitivity at|vat at|"
    r"salvo (?:nota|diversa indic\w+|indicaci[oó]n)|unless (?:otherwise )?(?:noted|stated)|sauf (?:mention|indication)|"
    r"tenzij anders|(?:sofern|wenn) nicht anders|"
    r"prices? (?:(?:do|does|is|are) )?(?:not )?(?:incl|excl)\w*|"
    r"tax (?:\d+ ?% )?(?:extra|included|not included)|gevoeligheid bij|schalldruck in|sensibilidad a)\b",
    re.IGNORECASE,
)


_OPENS: Final = re.compile(
    r"\W*(?:all|alle|tous les|toutes les|todos los|todas las|tutti i|tutte le|wszystkie) "
    r"(?:models?|prices|modelle|preise|modèles|modelos|precios|prix|modelli|prezzi|modellen|prijzen|modele|ceny)\b",
    re.IGNORECASE,
)
_TERMS: Final = re.compile(r"\b(?:TTC|HT|VAT|IVA|MwSt|BTW|btw|GST|USt|sales tax|consumption tax|brutto|UVP)\b")


def is_shared(text: str) -> bool:
    """Return whether a line says that it is about several loudspeakers.

    >>> is_shared("All models: 25mm dome; 8 ohms"), is_shared("Chaff One")
    (True, False)
    """
    return _SHARED.search(text) is not None or (bool(_TERMS.search(text)) and not kinds(text))
