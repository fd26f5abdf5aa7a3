"""Lines beside several loudspeakers that name none: what only can be of all, such as 'Nominal impedance 8 ohms'."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.owner import HOLDS, stretches
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.said_of import is_warning
from triptych.catalog.datasheet.sheet_words import ACCESSORY, OTHER_GOODS, topics_in
from triptych.catalog.datasheet.text_cells import Cell, Line, label
from triptych.catalog.quantities import Kind

OF_ALL: Final = "of all loudspeakers here, as its line names none"
"""The flag of a figure that stands beside several loudspeakers."""
_CONDITION_ONLY: Final = frozenset(("response", "low", "sensitivity"))
"""Matters of which a line for all tells only how they were measured: the figures are each one's own."""
_OF_A_RANGE: Final = _CONDITION_ONLY | frozenset(
    ("impedance", "tweeter", "midrange", "woofer", "amplifier", "enclosure", "bung", "slope", "crossover")
)
"""What a maker says once for a whole range; sizes and weights are each one's own."""
_OTHERS: Final = re.compile(r"\b(?:sub-?woofer|soundbar|receiver|turntable|headphone)", re.IGNORECASE)
_LEAST_LEVEL: Final = 60
"""A smaller level is a drop or a tolerance; common practice, no source. [dB]."""


def give_unowned(parts: Sequence[SheetPart], lines: Sequence[Line]) -> list[Line]:
    """Give what lines that name nobody say under a label to all, where none has it of its own; return the others.

    A matter that two lines tell of is no matter of all.
    """
    found = [(line, _of_a_range(parts, line)) for line in lines]
    told = [topic for _, pieces in found for topic in {topic for topic, _ in pieces}]
    left: list[Line] = []
    for line, pieces in found:
        kept = [piece for topic, piece in pieces if told.count(topic) == 1 or topic in _CONDITION_ONLY]
        for part in parts:
            part.pieces += kept
        if not kept:
            left.append(line)
    return left


def _of_a_range(parts: Sequence[SheetPart], line: Line) -> list[tuple[str, Piece]]:
    """What a line says of a whole range, each with its topic."""
    if is_warning(line.text) or OTHER_GOODS.match(folded(line.text)) or _OTHERS.search(line.text):
        return []
    found: list[tuple[str, Piece]] = []
    own: set[str] | None = None
    for one in stretches(line.text):
        said = folded(line.text[one.start : one.end])
        if one.topic not in _OF_A_RANGE or one.topic not in topics_in(said):
            continue
        if one.topic not in _CONDITION_ONLY and ACCESSORY.search(said):
            # a condition may be told of a room
            continue
        own = _topics(parts) if own is None else own
        figures = _figures(one.topic, said)
        if figures > 1 or (figures and (one.topic in own or one.topic in _CONDITION_ONLY)):
            # several figures may be one for each
            continue
        if one.topic in ("enclosure", "bung") and one.topic in own:
            continue
        whole = line.text[one.start : one.end].rstrip(" ,;.")
        cell = Cell(whole, line.start + one.start, one.start)
        found.append((one.topic, Piece(cell, shared=True, unowned=True)))
    return found


def _figures(topic: str, said: str) -> int:
    """How many figures of what their label is about words give, but for conditions, brackets and the ends of ranges."""
    kinds: set[Kind] = HOLDS.get(topic, set())
    bare = re.sub(rf"\([^()]*\)|(?<=\d)(?: ?[a-z]{{1,3}})? ?{RANGED} ?(?=\d)", " ", said)
    return sum(
        amount.kind in kinds
        and amount.unit is not None
        and (amount.kind is not Kind.LEVEL or amount.bare >= _LEAST_LEVEL)
        for amount in amounts(bare)
    )


def _topics(parts: Sequence[SheetPart]) -> set[str]:
    """What the loudspeakers say of themselves."""
    found: set[str] = set()
    for part in parts:
        for piece in part.pieces:
            found |= {told for cell in piece.heads if (told := label(cell))}
            found |= {one.topic for one in stretches(piece.body.text) if one.topic}
    return found
