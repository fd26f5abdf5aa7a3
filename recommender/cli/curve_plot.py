"""Curves drawn with dots on a terminal, and as a picture in a file."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from triptych.catalog.errors import BadInput
from triptych.recommender.drawing.frame import FREQUENCY_TICKS

CURVE_STYLES: Final = ("bold", "cyan", "yellow", "magenta", "green")
"""What tells the curves apart where the terminal shows colours."""

MARKS: Final = ("A", "B", "C", "D", "E")
"""What tells them apart where it does not: a letter at the right end of each."""

AXIS_COLUMNS: Final = 7
"""Columns for the levels at the left."""

HEIGHT: Final = 13
"""About how many lines a plot takes; each level that is named falls on one."""

_DOTS: Final = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of a braille cell, by row and column."""


@dataclass(frozen=True, slots=True)
class DrawnCurve:
    """One curve to draw. [Hz, dB]."""

    name: str
    frequency: tuple[float, ...]
    level: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Scales:
    """Both axes: frequencies on a logarithmic one, levels in whole steps. [Hz, dB]."""

    lowest: float
    highest: float
    bottom: float
    top: float
    step: float

    def across(self, hertz: float) -> float:
        """Where a frequency lies, 0 to 1."""
        return math.log(hertz / self.lowest) / math.log(self.highest / self.lowest)

    def up(self, level: float) -> float:
        """Where a level lies, 0 to 1."""
        return min(max((level - self.bottom) / (self.top - self.bottom), 0.0), 1.0)


def scales(series: Sequence[DrawnCurve]) -> Scales:
    """Axes that hold all curves."""
    lowest = min(one.frequency[0] for one in series)
    highest = max(one.frequency[-1] for one in series)
    levels = [level for one in series for level in one.level]
    low, high = min(levels), max(levels)
    step = next((size for size in (1.0, 2.0, 5.0, 10.0, 20.0) if (high - low) / size <= 6), 50.0)
    bottom, top = math.floor(low / step) * step, math.ceil(high / step) * step
    middle = 1.0 if top - bottom < 2 * step else 0.0
    return Scales(lowest, highest, bottom - middle * step, top + middle * step, step)


def terminal(series: Sequence[DrawnCurve], width: int) -> list[list[tuple[str, str]]]:
    """Lines of (text, style) that draw curves with dots, `width` columns wide."""
    columns = max(width - AXIS_COLUMNS - 2, 20)
    axes = scales(series)
    steps = round((axes.top - axes.bottom) / axes.step)
    rows = steps * max(1, round(HEIGHT / steps)) + 1
    cells: dict[tuple[int, int], tuple[int, str]] = {}
    for position, one in enumerate(series):
        for column, row, bit in _dots(one, axes, columns, rows):
            before, style = cells.get((row, column), (0, CURVE_STYLES[position % len(CURVE_STYLES)]))
            cells[row, column] = (before | bit, style)
    labels = {round((1 - axes.up(level)) * (rows - 1)): level for level in _levels(axes)}
    ends = _ends(series, axes, rows)
    lines = []
    for row in range(rows):
        label = f"{labels[row]:>{AXIS_COLUMNS - 2}.0f} ┤" if row in labels else " " * (AXIS_COLUMNS - 1) + "│"
        body = [(chr(0x2800 + bits) if bits else " ", style) for bits, style in _row(cells, row, columns)]
        lines.append([(label, "dim"), *body, (ends.get(row, ""), "")])
    lines.append([(" " * (AXIS_COLUMNS - 2) + "dB└" + "─" * columns, "dim")])
    lines.append([(" " * AXIS_COLUMNS + _frequencies(axes, columns), "dim")])
    return lines


def _levels(axes: Scales) -> Iterator[float]:
    for index in range(round((axes.top - axes.bottom) / axes.step) + 1):
        yield axes.bottom + index * axes.step


def _row(cells: dict[tuple[int, int], tuple[int, str]], row: int, columns: int) -> Iterator[tuple[int, str]]:
    for column in range(columns):
        yield cells.get((row, column), (0, ""))


def _dots(one: DrawnCurve, axes: Scales, columns: int, rows: int) -> Iterator[tuple[int, int, int]]:
    """Column, row and bit of every dot of a curve; steep parts are filled so that the line does not break."""
    before: int | None = None
    for x in range(2 * columns):
        hertz = axes.lowest * (axes.highest / axes.lowest) ** ((x + 0.5) / (2 * columns))
        if not one.frequency[0] <= hertz <= one.frequency[-1]:
            before = None
            continue
        y = round((1 - axes.up(level_at(one, hertz))) * (rows - 1) * 4) + 1
        start = y if before is None else before + (1 if y > before else -1 if y < before else 0)
        for dot in range(min(start, y), max(start, y) + 1):
            yield x // 2, dot // 4, _DOTS[dot % 4][x % 2]
        before = y


def level_at(one: DrawnCurve, hertz: float) -> float:
    """The level at a frequency within the curve [dB], straight over the logarithm of frequency."""
    after = min(max(bisect_left(one.frequency, hertz), 1), len(one.frequency) - 1)
    low, high = one.frequency[after - 1], one.frequency[after]
    share = math.log(hertz / low) / math.log(high / low)
    return one.level[after - 1] + share * (one.level[after] - one.level[after - 1])


def _ends(series: Sequence[DrawnCurve], axes: Scales, rows: int) -> dict[int, str]:
    """The letter of each curve by the row it ends in; none for a curve alone."""
    if len(series) < 2:
        return {}
    ends: dict[int, str] = {}
    for position, one in enumerate(series):
        row = round((1 - axes.up(one.level[-1])) * (rows - 1))
        ends[row] = ends.get(row, "") + MARKS[position % len(MARKS)]
    # more than two letters would leave the line
    return {row: letters if len(letters) <= 2 else letters[0] + "…" for row, letters in ends.items()}


def _frequencies(axes: Scales, columns: int) -> str:
    line = [" "] * (columns + 1)
    end = -1
    for hertz in FREQUENCY_TICKS:
        if not axes.lowest * 0.99 <= hertz <= axes.highest * 1.01:
            continue
        label = f"{hertz // 1000}k" if hertz >= 1000 else str(hertz)
        start = min(max(round(axes.across(hertz) * (columns - 1)) - len(label) // 2, 0), columns - len(label))
        if start > end:
            line[start : start + len(label)] = label
            end = start + len(label)
    return "".join(line)[: columns - 1].rstrip() + " Hz" if end < columns - 3 else "".join(line).rstrip()


def picture(path: Path, title: str, series: Sequence[DrawnCurve]) -> bytes:
    """The curves as PNG.

    Raises
    ------
    BadInput
        The package that draws it is not installed.
    """
    import io

    try:
        from matplotlib.figure import Figure
    except ModuleNotFoundError:
        hint = "pip install '.[plots]'"
        raise BadInput(
            f"{path}: a PNG needs the package matplotlib: {hint}, or give a name that ends in .svg"
        ) from None
    axes_of = scales(series)
    figure = Figure(figsize=(8, 4.5), layout="constrained")
    axes = figure.add_subplot()
    for one, dash in zip(series, ("-", "--", ":", "-.", (0, (5, 1, 1, 1, 1, 1))), strict=False):
        axes.semilogx(one.frequency, one.level, linestyle=dash, label=one.name)
    axes.set(title=title, xlabel="Frequency [Hz]", ylabel="Level [dB]")
    axes.set(xlim=(axes_of.lowest, axes_of.highest), ylim=(axes_of.bottom, axes_of.top))
    ticks = [hertz for hertz in FREQUENCY_TICKS if axes_of.lowest <= hertz <= axes_of.highest]
    axes.set_xticks(ticks, [f"{hertz // 1000}k" if hertz >= 1000 else str(hertz) for hertz in ticks])
    axes.grid(True, which="both", linewidth=0.3)
    axes.legend()
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=150)
    return stream.getvalue()
