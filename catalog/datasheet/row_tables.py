"""Tables with a row a model: a head of labels, above or below it units and groups, and rows that open with a name."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.merged_tables import NAMING
from triptych.catalog.datasheet.parts import Piece, SheetPart, joined
from triptych.catalog.datasheet.price_rows import (
    describes,
    is_other_goods,
    legend,
    only_describes,
    per_in_name,
    price_heads,
    section,
    split_description,
    terms,
)
from triptych.catalog.datasheet.sheet_words import topics_in
from triptych.catalog.datasheet.sold_words import sold_words
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

_UNIT: Final = re.compile(
    r"(?:mm|cm|m|in|inch(?:es)?|\"|kgs?|lbs?|dbs?|ohms?|ω|w|watts?|k?hz|€|£|\$|eur|gbp|usd|chf|pln|zl)(?:[ /].{1,12})?"
)
_SALE: Final = re.compile(
    r"(?:1 ?|per |pro |je )?(?:paar|pairs?|pr|stuck|stk|st|each|ea|piece|pce|pz|coppia|cad|paire|unite|par|pareja|uds?|"
    r"unidad|para|szt|stuk|pcs?|single|cp|pezzo)\.?"
)
"""What one of is sold, in a cell of its own."""
_OF_TWO: Final = re.compile(r"(?:1 ?|per |pro |je |la )?(?:pa|pr\b|coppia|cp\b)")
_CODE: Final = re.compile(r"[A-Z]{1,6}[- ]?\w*\d\w*(?:-\w+)?")
"""An article number that can be a model's name: it opens with letters."""
_LETTER: Final = re.compile(r"(?P<side>[a-z])\.?(?: ?[(\[]?(?P<unit>mm|cm|in)[)\]]?)?")
_SIDES: Final = {
    **dict.fromkeys(("lap", "lhp", "bht", "whd", "bhd", "swg"), ("width", "height", "depth")),
    **dict.fromkeys(("alp", "hlp", "hbt", "hwd", "hbd", "wsg"), ("height", "width", "depth")),
}
"""Letters of sides in a row, in the languages that print them."""
_OF_UNIT: Final = {"kg": "weight", "db": "sensitivity", "ohm": "impedance", "ω": "impedance", "hz": "response"}
_NEAR: Final = 6
"""How far a cell is from its head at most where the head has an empty corner; tried, no source. [characters]."""
_SHARE_OF_NOTE: Final = 0.5
"""What share of the cells a row fills at most that is a remark; common practice, no source."""


@dataclass(slots=True)
class _Head:
    """The head of a table: a label a column, what groups labels above it, and the units below it."""

    cells: list[Cell]
    above: dict[int, Cell] = field(default_factory=dict)
    units: dict[int, Cell] = field(default_factory=dict)

    def topic(self, place: int) -> str | None:
        """What a column is about, by its own label or that of its group."""
        own = label(self.cells[place])
        return own or (label(self.above[place]) if place in self.above else None)

    def labels(self, place: int) -> tuple[Cell, ...]:
        """The label of a column with its group's, and its unit; of a group of sides only the unit."""
        own, above, unit = self.cells[place], self.above.get(place), self.units.get(place)
        behind = (unit,) if unit else ()
        if above is None or (label(above) is None and label(own) is not None):
            return (own, *behind)
        if label(own) not in AXES:
            return (above, own, *behind)
        bracket = re.search(r"\([^()]*\)|\[[^\[\]]*\]", above.text)
        named = (Cell(bracket[0], above.start + bracket.start(), above.column + bracket.start()),) if bracket else ()
        return (own, *(behind or named))


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a table: the cells by their place, and the series that it stands under."""

    placed: dict[int, Cell]
    series: Cell | None
    said: Cell | None = None
    """What its series' line says of all that stand under it."""


@dataclass(frozen=True, slots=True)
class _Terms:
    """What the prices of a table are for: a column that says so, lines around it, and signs that they explain."""

    column: int | None
    told: tuple[Cell, ...]
    signs: Mapping[str, str]

    def of(self, placed: Mapping[int, Cell], price: Cell, in_name: str | None) -> tuple[Cell, ...]:
        """The terms of one price: its own, or else those of all."""
        where = (self.column, placed[self.column]) if self.column is not None and self.column in placed else None
        signs = {sign for sign in self.signs if re.search(rf"(?<!\w){re.escape(sign)}(?!\w)", price.text)}
        if where and (sign := where[1].text.strip()) in self.signs:
            signs, where = {sign}, None
        if where and _SALE.fullmatch(folded(where[1].text)):
            # 'pr' or 'st' in a cell of its own
            return (*self.told, Cell("pair" if _OF_TWO.match(folded(where[1].text)) else "each", price.start, 0))
        own = in_name or (self.signs[signs.pop()] if len(signs) == 1 else None)
        if own:
            return (*(cell for cell in self.told if cell.text not in _PERS), Cell(own, price.start, price.column))
        return (*((where[1],) if where else ()), *self.told)


_PERS: Final = ("pair", "each")


def by_rows(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Return the loudspeakers of a table with a row each, and its lines; None where its head is none."""
    line = lines[number]
    own = [cell for place, cell in enumerate(line.cells) if cell.text or (not place and line.ruled)]
    head = _Head(_spelt([*_corner(own, lines[below[0]] if below else None), *own]))
    head.above = _groups(lines, number)
    topics = [head.topic(place) for place in range(len(head.cells))]
    makers = next((place for place, topic in enumerate(topics) if topic == "maker"), None)
    naming = _naming(head.cells, topics, makers)
    if naming is None:
        return None
    rows, taken = _rows(lines, number, below, head, naming)
    naming = _coded(rows, head, naming)
    aside, per = price_heads(head.cells)
    aside -= {naming}
    per = per if per is not None else _sale_column(rows, head)
    aside -= {per}
    around = _around(lines, number, below, taken)
    title = lines[number - 1] if number and len(lines[number - 1].cells) == 1 else None
    beside = _Terms(per, terms(around, head.cells, per, title), legend(around))
    labelled = NAMING.search(folded(head.cells[naming].text)) is not None or makers is not None
    parts: list[SheetPart] = []
    for row in rows:
        placed = dict(row.placed)
        maker = placed.pop(makers, None) if makers is not None else None
        parts.append(_part(placed, head, naming, aside, beside, row))
        parts[-1].pieces += _of_series(row, parts[-1])
        parts[-1].labelled = labelled
        if maker is not None and maker.text:
            parts[-1].maker, parts[-1].name = maker, joined([maker, placed[naming]])
    parts = _without_repeats(parts, head)
    if describes(head.cells[naming]):
        _split_names(parts)
        parts = _without_repeats(parts, head)
    return parts, taken


def _corner(heads: Sequence[Cell], below: Line | None) -> list[Cell]:
    """The empty corner of a head whose rows open with a name, left of all that it labels."""
    if below is None or below.ruled or len(below.cells) != len(heads) + 1 or not is_name(below.cells[0]):
        return []
    first = below.cells[0]
    under = [abs(cell.column - head.column) <= _NEAR for cell, head in zip(below.cells[1:], heads, strict=True)]
    return [Cell("", first.start, first.column)] if all(under) and first.end + 1 < below.cells[1].start else []


def _spelt(heads: Sequence[Cell]) -> list[Cell]:
    """Heads with three letters in a row for the sides spelt out: 'L mm', 'A mm' and 'P mm' of an Italian list."""
    found = list(heads)
    letters = [_LETTER.fullmatch(cell.text.casefold()) for cell in heads]
    for place in range(len(heads) - 2):
        three = letters[place : place + 3]
        sides = _SIDES.get("".join(match["side"] for match in three if match))
        for nth, side in enumerate(sides or ()):
            own, match = heads[place + nth], three[nth]
            unit = f" ({match['unit']})" if match and match["unit"] else ""
            found[place + nth] = Cell(f"{side}{unit}", own.start, own.column)
    return [_of_unit(cell) for cell in found]


def _of_unit(head: Cell) -> Cell:
    """A head that opens with a unit and has no label, with what the unit is of: 'kg netto/Stück', 'Hz (-6 dB)'."""
    unit = re.match(r"(?P<unit>kg|db|ohms?|ω|hz)(?: |$)", folded(head.text))
    if unit is None or label(head) is not None:
        return head
    return Cell(f"{_OF_UNIT[unit['unit'].rstrip('s')]} {head.text}", head.start, head.column)


def _naming(heads: Sequence[Cell], topics: Sequence[str | None], makers: int | None) -> int | None:
    """The column that names the loudspeakers; None where too little tells that a line is a head."""
    named = [place for place, cell in enumerate(heads) if place != makers and NAMING.search(folded(cell.text))]
    if makers is not None:
        # whose head says who makes it leaves the next one for what it is called, such as 'Type'
        following = [makers + 1] if makers + 1 < len(heads) else []
        named = [place for place in named if label(heads[place]) == "model"] or following
    told = sum(topic not in (None, "maker", "model") for topic in topics)
    if len(heads) < 3 or told < (1 if named and "price" in topics else 2 if named else 3):
        return None
    return next((place for place in named if not describes(heads[place])), named[0]) if named else 0


def _coded(rows: Sequence[_Row], head: _Head, naming: int) -> int:
    """The column of article numbers instead of that of descriptions, where these only tell what each is."""
    names = [row.placed[naming].text for row in rows]
    if not describes(head.cells[naming]) or not all(map(only_describes, names)):
        return naming
    for place in price_heads(head.cells)[0]:
        codes = [row.placed[place].text for row in rows if place is not None and place in row.placed]
        if len(set(codes)) == len(names) and all(map(_CODE.fullmatch, codes)):
            return place if place is not None else naming
    return naming


def _groups(lines: Sequence[Line], number: int) -> dict[int, Cell]:
    """The labels in the line above a head, by the columns that they group; an empty cell there goes on with a group."""
    own, above = lines[number].cells, lines[number - 1].cells if number else ()
    if not lines[number].ruled or len(above) != len(own) or not all(cell.text for cell in own):
        return {}
    if sum(label(cell) is not None for cell in above) < 2:
        return {}
    found: dict[int, Cell] = {}
    last: Cell | None = None
    for place, cell in enumerate(above):
        last = cell if cell.text else last if label(own[place]) in AXES else None
        if last is not None:
            found[place] = last
    return found


def _rows(
    lines: Sequence[Line], number: int, below: Sequence[int], head: _Head, naming: int
) -> tuple[list[_Row], set[int]]:
    """The rows under a head, and the lines that the table takes."""
    rows: list[_Row] = []
    taken, waiting = {number}, set[int]()
    series: Cell | None = None
    said: Cell | None = None
    for row in below:
        if parts_name := section(lines[row]):
            (series, said), waiting = parts_name, {row}
            continue
        cells = [cell for cell in lines[row].cells if cell.text or lines[row].ruled]
        if [cell.text for cell in cells] == [cell.text for cell in lines[number].cells]:
            waiting |= {row}
            continue
        placed = _under(head.cells, cells, lines[row].ruled)
        filled = [place for place, cell in placed.items() if cell.text]
        if not rows and not head.units and _are_units(placed):
            goes_on = naming not in filled and not any(re.search(r"\d", placed[place].text) for place in filled)
            units = (place for place in filled if goes_on or _UNIT.fullmatch(_bare_unit(placed[place])))
            head.units = {place: placed[place] for place in units}
            taken.add(row)
            continue
        if lines[row].ruled and placed and len(filled) < _SHARE_OF_NOTE * len(placed) and len(placed) > 4:
            # a remark, or nothing
            continue
        name = placed.get(naming)
        if (
            abs(len(cells) - len(head.cells)) > 1
            or not any(re.search(r"\d", one.text) for one in cells[1:])
            or not name
        ):
            break
        if is_other_goods(name, placed, head.cells):
            continue
        rows.append(_Row(placed, series, said))
        taken |= {row, *waiting}
        waiting = set()
    return rows, taken


def _of_series(row: _Row, part: SheetPart) -> Iterator[Piece]:
    """What the line of its series says of a row, but for what the row says itself."""
    if row.said is None:
        return
    own = {topic for piece in part.pieces for topic in topics_in(folded(piece.body.text))}
    told = [cell.text for piece in part.pieces if _is_price(piece) for cell in (piece.body, *piece.heads)]
    own |= {"sold"} if any(map(sold_words, told)) else set()
    for clause in re.finditer(r"(?:[^,;(]|,(?=\d)|\([^()]*\)?)+", row.said.text):
        if not set(topics_in(folded(clause[0]))) & own & _OF_ALL_IN_IT:
            text = clause[0].strip()
            at = clause.start() + len(clause[0]) - len(clause[0].lstrip())
            yield Piece(Cell(text, row.said.start + at, row.said.column + at), shared=True)


_OF_ALL_IN_IT: Final = frozenset(("enclosure", "tweeter", "drivers", "sold"))
"""What a series' line tells of all in it unless one tells it otherwise."""


def _are_units(placed: Mapping[int, Cell]) -> bool:
    """Whether the cells below a head are the units of its columns."""
    filled = [_bare_unit(cell) for cell in placed.values() if cell.text]
    units = sum(_UNIT.fullmatch(text) is not None for text in filled)
    return units > 2 and units * 4 >= len(filled) * 3


def _bare_unit(cell: Cell) -> str:
    """What a cell below a head says, without the brackets of a unit: '(mm)', 'recom. (W)'."""
    small = folded(cell.text)
    bracket = re.fullmatch(r"(?:[a-z.]+ )?[(\[]([^()\[\]]+)[)\]]", small)
    return bracket[1] if bracket else small


def _sale_column(rows: Sequence[_Row], head: _Head) -> int | None:
    """The column whose cells say nothing but each or a pair."""
    for place in range(len(head.cells)):
        texts = [folded(row.placed[place].text) for row in rows if place in row.placed and row.placed[place].text]
        if len(texts) > 1 and all(map(_SALE.fullmatch, texts)):
            return place
    return None


def _without_repeats(parts: Sequence[SheetPart], head: _Head) -> list[SheetPart]:
    """The loudspeakers, those of one name and the same figures once: a list has a row for each finish."""
    kept: dict[tuple[object, ...], SheetPart] = {}
    for part in parts:
        priced = [piece for piece in part.pieces if _is_price(piece)]
        told = [piece for piece in part.pieces if piece not in priced and any(map(label, piece.heads))]
        name = part.name.text if part.name else ""
        figures = tuple((piece.heads[0].text, piece.body.text) for piece in told if re.search(r"\d", piece.body.text))
        same = kept.setdefault((name, figures) if len(figures) > 1 else (name, figures, len(kept)), part)
        if same is not part:
            known = {piece.body.text for piece in same.pieces}
            same.pieces += [piece for piece in priced if piece.body.text not in known]
    return list(kept.values())


def _is_price(piece: Piece) -> bool:
    return any(label(cell) == "price" for cell in piece.heads)


def _split_names(parts: Sequence[SheetPart]) -> None:
    """Part what each loudspeaker is called from what its row says of it."""
    texts = [part.name.text for part in parts if part.name]
    for part in parts:
        if part.name is not None:
            others = [text for text in texts if text != part.name.text]
            part.name, part.described = split_description(part.name, part.series, others)
            part.pieces += [Piece(part.described)] if part.described else []


def _around(lines: Sequence[Line], number: int, below: Sequence[int], taken: Collection[int]) -> list[Line]:
    """The lines above a table, and those below it that are no rows of it."""
    return [*lines[:number], *(lines[row] for row in below if row not in taken)]


def _part(
    placed: Mapping[int, Cell],
    head: _Head,
    naming: int,
    aside: Collection[int | None],
    beside: _Terms,
    row: _Row,
) -> SheetPart:
    """One row of a table as a loudspeaker, its prices with what they are for."""
    name, in_name = per_in_name(placed[naming])
    in_name = in_name or (sold_words(row.said.text) if row.said and label(row.said) == "price" else None)
    part = SheetPart(name, series=row.series)
    for place, cell in placed.items():
        if place in (naming, beside.column) or place in aside or not cell.text:
            continue
        topic = head.topic(place)
        if topic in (None, "enclosure") and describes(head.cells[place]):
            part.described = cell
            part.pieces.append(Piece(cell))
            continue
        if topic == "role" and re.search(r",.*\d|\d.*,", cell.text):
            # what a list says of the kind may go on with drivers
            part.pieces.append(Piece(cell))
        more = beside.of(placed, cell, in_name) if topic == "price" else ()
        part.pieces.append(Piece(cell, (*head.labels(place), *more)))
    return part


def _under(heads: Sequence[Cell], cells: Sequence[Cell], ruled: bool) -> dict[int, Cell]:
    """The cells of a row by the head that each stands under."""
    if len(cells) == len(heads):
        return dict(enumerate(cells))
    if len(cells) == len(heads) + 1 and re.fullmatch(r"\d{1,3}\.?", cells[0].text):
        return dict(enumerate(cells[1:]))
    if ruled:
        return {}
    placed: dict[int, Cell] = {}
    for cell in cells:
        place = min(range(len(heads)), key=lambda one: abs(heads[one].column - cell.column))
        if place in placed:
            return {}
        placed[place] = cell
    return placed
