"""Layout notation: which drivers a baffle holds, and where they sit on it.

Read along the long side of the baffle, left to right when it lies, top to bottom when it stands. `/` separates rows
stacked across the long side, first one on top (on the right of an upright box, so that it comes on top when the box is
turned on its side to the left). Brackets hold a group; a group without `/` is coaxial: `W(T/M)W`, `W(TM)W`, `TMWW`.
T is a tweeter, M a midrange or mid-woofer, W a woofer, B a bass driver.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final, NamedTuple

import numpy as np

from triptych.recommender.physics.checks import FloatArray

__all__ = ["Layout", "LayoutError", "Places", "infer", "parse", "place"]

BAND_LETTERS: Final = "BWMT"
"""Driver letters from the lowest band to the highest."""

MOST_DRIVERS: Final = 24
"""More drivers than that are taken for a slip of the pen."""

SKIPPED: Final = str.maketrans({" ": None, "-": None, "–": None, "·": None, "\u00a0": None})
"""Marks that people put between the letters and that say nothing."""


class LayoutError(ValueError):
    """A text is no layout."""


@dataclass(frozen=True)
class Layout:
    """Rows of cells, first row on top; a cell is a driver's letter or a group in brackets."""

    rows: tuple[tuple[str | Layout, ...], ...]
    coaxial: bool = False

    @cached_property
    def drivers(self) -> str:
        """The letter of each driver, in reading order."""
        return "".join(cell if isinstance(cell, str) else cell.drivers for row in self.rows for cell in row)

    @cached_property
    def bands(self) -> str:
        """The letters that occur, lowest band first."""
        return "".join(letter for letter in BAND_LETTERS if letter in self.drivers)

    def __str__(self) -> str:
        return "/".join("".join(f"({cell})" if isinstance(cell, Layout) else cell for cell in row) for row in self.rows)


class Places(NamedTuple):
    """Where each driver sits re the middle of the layout, [loudspeaker, driver], and how large the whole is [m]."""

    along: FloatArray
    across: FloatArray
    length: FloatArray
    breadth: FloatArray


def _refuse(text: str, why: str) -> LayoutError:
    return LayoutError(f"layout {text!r}: {why}; write for instance MTM, W(T/M)W, W(TM)W or TMWW")


class _Reader:
    """Recursive descent over one text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.rest = list(text.translate(SKIPPED).upper())

    def rows(self) -> tuple[tuple[str | Layout, ...], ...]:
        rows = [self.row()]
        while self.rest and self.rest[0] == "/":
            self.rest.pop(0)
            rows.append(self.row())
        return tuple(rows)

    def row(self) -> tuple[str | Layout, ...]:
        cells: list[str | Layout] = []
        while self.rest and self.rest[0] not in "/)":
            cells.append(self.cell())
        if not cells:
            raise _refuse(self.text, "a row or a group is empty")
        return tuple(cells)

    def cell(self) -> str | Layout:
        mark = self.rest.pop(0)
        if mark in BAND_LETTERS:
            return mark
        if mark != "(":
            raise _refuse(self.text, f"{mark!r} is none of T, M, W, B, '/', '(' and ')'")
        rows = self.rows()
        if not self.rest or self.rest.pop(0) != ")":
            raise _refuse(self.text, "a bracket is not closed")
        return self.group(rows)

    def group(self, rows: tuple[tuple[str | Layout, ...], ...]) -> Layout:
        coaxial = len(rows) == 1
        if coaxial and (not all(isinstance(cell, str) for cell in rows[0]) or len(set(rows[0])) < len(rows[0])):
            raise _refuse(self.text, "brackets without '/' mean coaxial drivers, each of another kind")
        return Layout(rows, coaxial)


@lru_cache(maxsize=1024)
def parse(text: str) -> Layout:
    """Return the layout that a text describes; case, blanks and hyphens are ignored.

    Raises `LayoutError` where the text is no layout, saying why.

    >>> parse("w-(t/m)-w").drivers
    'WTMW'
    >>> str(parse("W (TM) W"))
    'W(TM)W'
    """
    reader = _Reader(text)
    layout = Layout(reader.rows())
    if reader.rest:
        raise _refuse(text, "a bracket closes that was never opened")
    if len(layout.drivers) > MOST_DRIVERS:
        raise _refuse(text, f"{len(layout.drivers)} drivers are more than {MOST_DRIVERS}")
    return layout


def infer(lying: bool, midrange_count: int | None, woofer_count: int | None, crossovers: int = 0) -> str | None:
    """Return the usual layout for these counts of drivers and stated crossovers, or None where there is no usual one.

    A loudspeaker with midranges alone has mid-woofers. Common practice, no source.
    """
    middles, woofers = midrange_count or 0, woofer_count or 0
    if not woofers:
        middles, woofers = 0, middles
    if not middles:
        return _two_way(lying, woofers, crossovers)
    if lying:
        return {(1, 2): "W(T/M)W", (2, 2): "WMTMW", (1, 4): "WW(T/M)WW", (2, 4): "WWMTMWW"}.get((middles, woofers))
    head = {1: "TM", 2: "MTM"}.get(middles)
    return head + "W" * woofers if head and woofers <= 8 else None


def _two_way(lying: bool, woofers: int, crossovers: int) -> str | None:
    """Return the usual layout of a tweeter and mid-woofers; an upright pair with two crossovers is a 2.5-way."""
    if woofers == 2:
        return "MTM" if lying or crossovers == 1 else "TMM"
    return {1: "TM", 4: "MMTMM"}.get(woofers)


def place(layout: Layout, along: Mapping[str, FloatArray], across: Mapping[str, FloatArray], gap: float) -> Places:
    """Return where the drivers of many loudspeakers of one layout sit when packed side by side, re the middle [m].

    along, across: frame of each kind of driver along and across the long side, [loudspeaker] [m]
    gap: baffle left between two frames [m]

    Along the long side in reading direction, across it with the first row highest.
    """
    rows = [_place_row(row, along, across, gap) for row in layout.rows]
    if layout.coaxial:
        return _place_coaxial(layout, along, across)
    breadth = np.asarray(sum(row.breadth for row in rows) + gap * (len(rows) - 1))
    edge, shifted = breadth / 2, []
    for row in rows:
        shifted.append(row.across + (edge - row.breadth / 2)[:, None])
        edge = edge - row.breadth - gap
    length = np.max([row.length for row in rows], axis=0)
    return Places(np.hstack([row.along for row in rows]), np.hstack(shifted), length, breadth)


def _place_coaxial(layout: Layout, along: Mapping[str, FloatArray], across: Mapping[str, FloatArray]) -> Places:
    letters = layout.drivers
    middle = np.zeros((along[letters[0]].size, len(letters)))
    length = np.max([along[letter] for letter in letters], axis=0)
    return Places(middle, middle, length, np.max([across[letter] for letter in letters], axis=0))


def _place_row(
    row: tuple[str | Layout, ...], along: Mapping[str, FloatArray], across: Mapping[str, FloatArray], gap: float
) -> Places:
    cells = [_place_cell(cell, along, across, gap) for cell in row]
    length = np.asarray(sum(cell.length for cell in cells) + gap * (len(cells) - 1))
    edge, shifted = -length / 2, []
    for cell in cells:
        shifted.append(cell.along + (edge + cell.length / 2)[:, None])
        edge = edge + cell.length + gap
    breadth = np.max([cell.breadth for cell in cells], axis=0)
    return Places(np.hstack(shifted), np.hstack([cell.across for cell in cells]), length, breadth)


def _place_cell(
    cell: str | Layout, along: Mapping[str, FloatArray], across: Mapping[str, FloatArray], gap: float
) -> Places:
    if isinstance(cell, Layout):
        return place(cell, along, across, gap)
    middle = np.zeros((along[cell].size, 1))
    return Places(middle, middle, along[cell], across[cell])
