"""Measured response curves of one loudspeaker over a logarithmic axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log
from typing import Final

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import Box, Point
from triptych.recommender.drawing.drawn_numbers import frequency, signed
from triptych.recommender.drawing.frame import AXIS_ROOM, FREQUENCY_TICKS, PAPER_MARGIN, KeyEntry

LINES: Final = ("centre-curve", "mains-curve", "seat-line", "bounce", "place-unknown")
"""A stroke of its own for each curve."""


@dataclass(frozen=True, slots=True)
class CurveLine:
    """One curve: what it is, frequencies rising [Hz], levels [dB], and its stroke where it has one everywhere."""

    name: str
    frequency: tuple[float, ...]
    level: tuple[float, ...]
    stroke: str | None = None


def curves(speaker: str, lines: Sequence[CurveLine], note: str, width: float = frame.WIDTH) -> str:
    """Return measured curves as SVG.

    Parameters
    ----------
    speaker : str
        Name of the loudspeaker.
    lines : sequence of CurveLine
        One to five curves.
    note : str
        A line below the title: how they were smoothed.
    width : float
        Width of the sheet; at least 90. [mm]

    Returns
    -------
    str
        A document of its own; the same for the same input.
    """
    names = ", ".join(line.name for line in lines)
    canvas = frame.start("curves", width, f"Measured curves of {speaker}", f"Level over frequency: {names}. {note}")
    top = frame.head(canvas, f"Measured: {speaker}", note) + 2.0
    box = Box(PAPER_MARGIN + AXIS_ROOM, top, canvas.width - PAPER_MARGIN - 3.0, top + 0.45 * canvas.width)
    low, high = min(line.frequency[0] for line in lines), max(line.frequency[-1] for line in lines)
    bottom, above, step = _levels([level for line in lines for level in line.level])

    def at(hertz: float, level: float) -> Point:
        across = log(hertz / low) / log(high / low)
        up = (level - bottom) / (above - bottom)
        return Point(box.left + across * (box.right - box.left), box.bottom - up * (box.bottom - box.top))

    for index in range(round((above - bottom) / step) + 1):
        y = at(low, bottom + index * step).y
        canvas.line(Point(box.left, y), Point(box.right, y), "grid")
        canvas.text(box.left - 1.5, y + 1.0, signed(bottom + index * step, 0, "dB"), "note", "end", 2.6)
    for hertz in FREQUENCY_TICKS:
        if low <= hertz <= high:
            x = at(hertz, bottom).x
            canvas.line(Point(x, box.top), Point(x, box.bottom), "grid", "tick")
            words = canvas.text_box(x, box.bottom + 3.6, frequency(hertz), "note", "middle", 2.6)
            if words.right < canvas.width - PAPER_MARGIN and canvas.free(words.grown(0.5)):
                canvas.text(x, box.bottom + 3.6, frequency(hertz), "note", "middle", 2.6)
    strokes = [line.stroke or style for line, style in zip(lines, LINES, strict=False)]
    for line, style in zip(lines, strokes, strict=True):
        canvas.polyline([at(*point) for point in zip(line.frequency, line.level, strict=True)], style, "curve")
    canvas.rectangle(box, "outline", "panel")
    entries = [KeyEntry(style, line.name) for line, style in zip(lines, strokes, strict=True)]
    return canvas.svg(frame.key(canvas, box.bottom + 7.0, entries) + PAPER_MARGIN)


def _levels(levels: Sequence[float]) -> tuple[float, float, float]:
    """Lower end, upper end and step of the axis [dB]."""
    least, most = min(levels), max(levels)
    step = next((float(size) for size in (1, 2, 5, 10, 20, 50) if (most - least) / size <= 8), 100.0)
    low, high = floor(least / step) * step, ceil(most / step) * step
    return (low, high, step) if high - low >= 2 * step else (low - step, high + step, step)
