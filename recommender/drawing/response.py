"""Response of centre and mains at the primary seat, and their difference with what it may be wrong by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil, floor, isfinite, log10

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import Box, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import frequency, signed
from triptych.recommender.drawing.frame import AXIS_ROOM, FREQUENCY_TICKS, PAPER_MARGIN, KeyEntry


@dataclass(frozen=True, slots=True)
class Response:
    """What a response plot shows; B frequencies, NaN where a value is not known.

    Parameters
    ----------
    centre, mains : str
        `Standing.speaker` and `Advice.mains`.
    seat : str
        Name of the primary seat.
    frequency : tuple of float, [B]
        Ascending: the bands of `physics.erb` that the voices are held in. [Hz]
    centre_level, mains_level : tuple of float, [B]
        `Heard.levels[box, primary]` and `hearing.mains_at_primary`, each less its own mean over the judged band. [dB]
    low, high : tuple of float, [B]
        The difference centre less mains at its lowest and highest: the difference with the voicing term of
        `physics.timbre` (and, where inputs are assumed, their range) taken off and added. [dB]
    judged : tuple of float
        The band in which timbre is judged. [Hz]
    evidence : str
        `CriterionAnswer.evidence` of timbre.
    """

    centre: str
    mains: str
    seat: str
    frequency: tuple[float, ...]
    centre_level: tuple[float, ...]
    mains_level: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    judged: tuple[float, float] = (200.0, 8000.0)
    evidence: str = "modelled"

    @property
    def difference(self) -> tuple[float, ...]:
        """Centre less mains [dB]."""
        return tuple(a - b for a, b in zip(self.centre_level, self.mains_level, strict=True))


@dataclass(frozen=True, slots=True)
class Panel:
    """Axes of one plot: a box on paper, frequencies across on a log axis, levels up."""

    box: Box
    lowest: float
    highest: float
    floor: float
    ceiling: float

    def at(self, hertz: float, level: float) -> Point:
        """A point of the plot on paper, levels kept inside the box."""
        part = log10(hertz / self.lowest) / log10(self.highest / self.lowest)
        level = min(max(level, self.floor), self.ceiling)
        up = (level - self.floor) / (self.ceiling - self.floor)
        high = self.box.bottom - self.box.top
        return Point(self.box.left + part * (self.box.right - self.box.left), self.box.bottom - up * high)


def response(shown: Response, width: float = frame.WIDTH) -> str:
    """Return the responses and their difference as SVG.

    Parameters
    ----------
    shown : Response
        What to draw.
    width : float
        Width of the sheet; at least 90. [mm]

    Returns
    -------
    str
        A document of its own; the same for the same input.
    """
    title = "Centre and mains at the primary seat"
    canvas = frame.start("response", width, title, _description(shown))
    under = f"Level over frequency, {shown.evidence}, each against its own mean in the judged band"
    top = frame.head(canvas, title, under) + 2.0
    left, right = PAPER_MARGIN + AXIS_ROOM, canvas.width - PAPER_MARGIN - 3.0
    levels = (*shown.centre_level, *shown.mains_level)
    upper = _panel(shown, Box(left, top, right, top + 0.3 * canvas.width), levels)
    _frame(canvas, upper, shown, named=False)
    _curve(canvas, upper, shown.frequency, shown.mains_level, "mains-curve", "mains")
    _curve(canvas, upper, shown.frequency, shown.centre_level, "centre-curve", "centre")
    top = upper.box.bottom + 8.0
    canvas.text(PAPER_MARGIN, top, "Difference: centre less mains", "title")
    top += 4.0
    ends = (*shown.low, *shown.high, *shown.difference, 0.0)
    lower = _panel(shown, Box(left, top, right, top + 0.22 * canvas.width), ends)
    _frame(canvas, lower, shown, named=True)
    _spread(canvas, lower, shown)
    _curve(canvas, lower, shown.frequency, shown.difference, "centre-curve", "difference")
    return canvas.svg(frame.key(canvas, lower.box.bottom + 8.0, list(_key(shown))) + PAPER_MARGIN)


def _description(shown: Response) -> str:
    inside = [
        (abs(level), level, hertz)
        for hertz, level in zip(shown.frequency, shown.difference, strict=True)
        if isfinite(level) and shown.judged[0] <= hertz <= shown.judged[1]
    ]
    if not inside:
        return f"{shown.centre} and {shown.mains} at {shown.seat}: the difference is not known."
    _, level, hertz = max(inside)
    most = f"{signed(level, 1, 'dB')} at {frequency(hertz)}"
    return f"{shown.centre} and {shown.mains} at {shown.seat}: the largest difference in the judged band is {most}."


def _panel(shown: Response, box: Box, levels: Sequence[float]) -> Panel:
    known = [level for level in levels if isfinite(level)] or [0.0]
    step = _step(max(known) - min(known))
    low, high = step * floor(min(known) / step), step * ceil(max(known) / step)
    if high - low < 2 * step:
        low, high = low - step, high + step
    return Panel(box, shown.frequency[0], shown.frequency[-1], low, high)


def _step(reach: float) -> float:
    return next((float(step) for step in (1, 2, 5, 10, 20, 50) if reach / step <= 6), 100.0)


def _frame(canvas: Canvas, panel: Panel, shown: Response, named: bool) -> None:
    box = panel.box
    step = _step(panel.ceiling - panel.floor)
    for i in range(ceil(panel.floor / step), floor(panel.ceiling / step) + 1):
        y = panel.at(panel.lowest, i * step).y
        canvas.line(Point(box.left, y), Point(box.right, y), "thin" if i == 0 else "grid")
        canvas.text(box.left - 1.5, y + 1.0, signed(i * step, 0, "dB"), "note", "end", 2.6)
    last = -1e9
    for hertz in FREQUENCY_TICKS:
        if not panel.lowest <= hertz <= panel.highest:
            continue
        x = panel.at(hertz, 0.0).x
        canvas.line(Point(x, box.top), Point(x, box.bottom), "grid", "tick")
        half = Canvas.text_box(0, 0, frequency(hertz), "note", "middle", 2.6).right
        if named and x - half > last + 1 and x + half < canvas.width - PAPER_MARGIN:
            last = canvas.text(x, box.bottom + 4.6, frequency(hertz), "note", "middle", 2.6).right
    for limit in shown.judged:
        if panel.lowest <= limit <= panel.highest:
            x = panel.at(limit, 0.0).x
            canvas.line(Point(x, box.top), Point(x, box.bottom), "limit", "judged")
    canvas.rectangle(box, "outline", "panel")


def _runs(*series: Sequence[float]) -> Iterator[list[tuple[float, ...]]]:
    """Stretches in which every series is known."""
    rows = zip(*series, strict=True)
    for known, run in groupby(rows, key=lambda row: all(map(isfinite, row))):
        if known:
            yield list(run)


def _curve(canvas: Canvas, panel: Panel, hertz: Sequence[float], levels: Sequence[float], name: str, part: str) -> None:
    for run in _runs(hertz, levels):
        canvas.polyline([panel.at(*row) for row in run], name, part)


def _spread(canvas: Canvas, panel: Panel, shown: Response) -> None:
    for run in _runs(shown.frequency, shown.low, shown.high):
        upper = [panel.at(hertz, high) for hertz, _, high in run]
        lower = [panel.at(hertz, low) for hertz, low, _ in reversed(run)]
        canvas.polygon([*upper, *lower], "spread", "spread")


def _key(shown: Response) -> Iterator[KeyEntry]:
    yield KeyEntry("centre-curve", frame.named("Centre", shown.centre) + " (below: less the mains)")
    yield KeyEntry("mains-curve", frame.named("Mains, mean of the two", shown.mains))
    yield KeyEntry("spread", "What the difference may be, given what the datasheets leave open", None, "patch")
    low, high = (frequency(hertz) for hertz in shown.judged)
    yield KeyEntry("limit", f"Ends of the band in which timbre is judged, {low} and {high}")
