"""A loudspeaker of a text before it is read: what names it, and the pieces of text that are about it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from triptych.catalog.datasheet.text_cells import Cell, Line


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of text under the heads of its row and column, which may be none."""

    body: Cell
    heads: tuple[Cell, ...] = ()
    shared: bool = False
    """Whether it is said of several loudspeakers."""
    unowned: bool = False
    """Whether the line names none of them, nor says that it is of all."""
    followed: bool = False
    """Whether a sentence names nobody, and only goes on from one that does."""
    apart: bool = False
    """Whether it is one's part of a sentence about several, with blanks where others are told of."""

    @property
    def spans(self) -> list[tuple[int, int]]:
        """Where what it says stands: wide blanks part what is of others."""
        runs = re.finditer(r"\S+(?: \S+)*", self.body.text) if self.apart else ()
        found = [(self.body.start + run.start(), self.body.start + run.end()) for run in runs]
        return [*((cell.start, cell.end) for cell in self.heads), *(found or [(self.body.start, self.body.end)])]


@dataclass(slots=True)
class SheetPart:
    """One loudspeaker: its name as the text has it, and what is said of it."""

    name: Cell | None = None
    pieces: list[Piece] = field(default_factory=list)
    maker: Cell | None = None
    series: Cell | None = None
    described: Cell | None = None
    """What a list says that it is."""
    labelled: bool = False
    """Whether a label says that its name is one."""
    title: tuple[Cell, ...] = ()
    """What stands above it and names maker or series."""

    @property
    def region(self) -> list[tuple[int, int]]:
        """Where its text lies."""
        named = [(self.name.start, self.name.start + len(self.name.text))] if self.name else []
        return [*named, *(span for piece in self.pieces for span in piece.spans)]


def joined(cells: Iterable[Cell]) -> Cell:
    """Return pieces of a name as one, in their order."""
    ordered = sorted(cells, key=lambda cell: cell.start)
    return Cell(" ".join(cell.text for cell in ordered), ordered[0].start, ordered[0].column)


def plain(lines: Iterable[Line]) -> list[Piece]:
    """Return lines as pieces without a head."""
    return [Piece(line.whole) for line in lines if line.cells]
