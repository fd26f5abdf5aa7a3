"""A text to its loudspeakers: tables first, then a line each, then headings; what is left is shared or one."""

from __future__ import annotations

import re
from collections.abc import Sequence

from triptych.catalog.datasheet.folding import folded, printable
from triptych.catalog.datasheet.listed_values import listed_values
from triptych.catalog.datasheet.mentions import calls_of, mentions
from triptych.catalog.datasheet.more_tables import add_tables
from triptych.catalog.datasheet.notes import is_put
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.price_rows import only_describes
from triptych.catalog.datasheet.prose_names import in_prose
from triptych.catalog.datasheet.sections import a_line_each, headed, is_shared, siblings_in
from triptych.catalog.datasheet.shared import share
from triptych.catalog.datasheet.sheet_tables import by_names, find_table
from triptych.catalog.datasheet.sheet_words import IS_A_KIND
from triptych.catalog.datasheet.text_cells import Cell, Line, label, lines
from triptych.catalog.datasheet.two_figures import two_told
from triptych.catalog.datasheet.unowned import give_unowned
from triptych.catalog.errors import BadInput


def find_parts(text: str, models: Sequence[str] = ()) -> tuple[list[SheetPart], list[Cell]]:
    """Return the loudspeakers of a text that holds several, and the lines of nobody; none where it holds one or none.

    A line outside of them that says so, such as 'All models: 8 ohm', is given to each. With `models` only those are
    taken that are called so, by the heads that stand there or in the columns under these very words.

    Raises
    ------
    BadInput
        Nothing in the text is called so.
    """
    found = lines(text)
    if models:
        parts, rest = find_parts(text)
        named = [_called(name, parts) for name in models]
        known = list(dict.fromkeys(place for place in named if place is not None))
        if None not in named:
            return [parts[place] for place in known], rest
        made = by_names(found, models)
        if made is None:
            missing = ", ".join(repr(name) for name, place in zip(models, named, strict=True) if place is None)
            there = ", ".join(printable(part.name.text) for part in parts if part.name)
            raise BadInput(f"no column or heading is called {missing}; there are: {there or 'none that names a model'}")
        return _completed(*made, found)
    made = _first_found(found)
    return _completed(*made, found) if made else ([], [])


def _first_found(found: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """The loudspeakers of the first layout that shows some, unless it names kinds and another has names for more."""
    made: tuple[list[SheetPart], set[int]] | None = None
    for finder in (two_told, find_table, listed_values, _in_sections, in_prose):
        other = finder(found)
        if other is None:
            continue
        kinds = all(part.name is not None and _is_a_kind(part.name.text) for part in other[0])
        if made is None and not kinds:
            return other
        if made is not None and not kinds and len(other[0]) > len(made[0]):
            return other
        made = made or other
    return made


def _is_a_kind(name: str) -> bool:
    """Whether a name only says what a loudspeaker is: 'voie centrale', 'Zuilluidspreker'."""
    return only_describes(name) or IS_A_KIND.fullmatch(folded(name)) is not None


def _in_sections(found: Sequence[Line]) -> tuple[list[SheetPart], set[int]] | None:
    """Loudspeakers that have a line each, or a heading each: headings that open alike stand above lines below them."""
    in_lines, in_sections = a_line_each(found), headed(found)
    if in_lines is None or in_sections is None:
        return in_lines or in_sections
    named = {part.name.text for part in in_sections[0] if part.name}
    alike = named <= siblings_in(sorted(named)) or all(map(_is_offered, in_sections[0]))
    whole = alike and len(in_sections[0]) >= len(in_lines[0])
    return in_sections if whole else in_lines


def _is_offered(part: SheetPart) -> bool:
    """Whether the heading of a loudspeaker says what it costs."""
    return bool(part.pieces) and any(label(cell) == "price" for cell in part.pieces[0].heads)


def _named_again(parts: Sequence[SheetPart], line: Line) -> list[SheetPart]:
    """The loudspeakers whose names alone are the cells of a line, in its order: values may stand below them."""
    known = {" ".join(folded(part.name.text).split()): part for part in parts if part.name}
    named = [known.get(" ".join(folded(cell.text).split())) for cell in line.cells]
    return [part for part in named if part] if len(named) > 1 and None not in named else []


def _headed_one(parts: Sequence[SheetPart], line: Line) -> SheetPart | None:
    """The one loudspeaker whose name a line is, before a bracket and behind a word or two: '■ Wren W-3 (bookshelf)'."""
    bare = re.split(r"\s*[(（]|\s[–—-]\s|:$", line.text.strip(" ■●•*#"))[0].casefold().split()
    named = [
        part
        for part in parts
        if part.name and bare[-len(part.name.text.split()) :] == part.name.text.casefold().split()
    ]
    return named[0] if len(named) == 1 and named[0].name and len(bare) <= len(named[0].name.text.split()) + 2 else None


def _called(name: str, parts: Sequence[SheetPart]) -> int | None:
    """The loudspeaker that is called so, or the only one whose name holds it."""
    wanted = " ".join(folded(name).split())
    names = [" ".join(folded(part.name.text).split()) if part.name else "" for part in parts]
    held = [place for place, one in enumerate(names) if re.search(rf"(?<!\w){re.escape(wanted)}(?!\w)", one)]
    exact = [place for place in held if names[place] == wanted]
    return exact[0] if len(exact) == 1 else held[0] if len(held) == 1 else None


def _completed(parts: list[SheetPart], taken: set[int], found: Sequence[Line]) -> tuple[list[SheetPart], list[Cell]]:
    """The loudspeakers with their titles and what all of them share, and what is left over."""
    left: list[Line] = []
    put: list[Cell] = []
    add_tables(parts, taken, found)
    first = min(taken, default=0)
    under: list[SheetPart] = []
    owner: SheetPart | None = None
    for number, line in enumerate(found):
        under = _named_again(parts, line) or (under if len(line.cells) == len(under) else [])
        if number in taken or not line.cells:
            owner = None
            continue
        if is_put(line.text, (other.text for other in found if other is not line)):
            put.append(line.whole)
            continue
        if (one := _headed_one(parts, line)) and number + 1 < len(found) and found[number + 1].cells:
            owner = one
            one.pieces.append(Piece(line.whole))
        elif owner and not is_shared(line.text) and not mentions(line.text, calls_of(parts)):
            owner.pieces.append(Piece(line.whole))
        elif under and number and len(line.cells) == len(under) and not _named_again(parts, line):
            for part, cell in zip(under, line.cells, strict=True):
                part.pieces.append(Piece(cell))
        elif not share(parts, line):
            left.append(line)
    rest = [*put, *(line.whole for line in give_unowned(parts, left))]
    title = tuple(line.whole for number, line in enumerate(found) if line.cells and number < first)[:2]
    for part in parts:
        part.title = (*part.title, *title)
    return parts, rest
