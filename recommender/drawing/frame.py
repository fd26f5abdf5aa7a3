"""What every drawing to scale has: a head, a scale, dimension lines below, heights at the side, a key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from triptych.recommender.drawing import text
from triptych.recommender.drawing.canvas import LINE_PITCH, TEXT, TITLE, Box, Canvas, Point, text_box
from triptych.recommender.drawing.drawn_numbers import Unit, length
from triptych.recommender.drawing.pieces import kept

PAPER_MARGIN: Final = 4.0
"""Paper kept free at each edge [mm]."""

AXIS_ROOM: Final = 13.0
"""Room for the figures left of a panel [mm]."""

FREQUENCY_TICKS: Final = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
"""Frequencies that an axis names [Hz]."""

NARROWEST: Final = 90.0
"""A sheet is at least so wide [mm]."""

WIDTH: Final = 180.0
"""Width of a sheet unless asked otherwise: A4 less its margins [mm]."""

LANE: Final = 5.6
"""Pitch of dimension lines [mm]."""

LEADER: Final = 6.0
"""Room for the leaders between a drawing and the words at its side [mm]."""

ROW: Final = TEXT * LINE_PITCH

SCALES: Final = (1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 1000)
"""Millimetres of the room on one millimetre of paper."""

SWATCH: Final = 8.0


def scale_for(wide: float, high: float, room: float, room_high: float) -> int:
    """Return the largest usual scale at which so many metres find room on so many millimetres.

    Examples
    --------
    >>> scale_for(3.0, 1.7, 170.0, 110.0)
    20
    """
    needed = max(wide * 1000 / room, high * 1000 / room_high)
    return next((scale for scale in SCALES if scale >= needed), SCALES[-1])


@dataclass(frozen=True, slots=True)
class View:
    """Metres on paper at 1:`scale`, from an origin; `down` for a plan, where the second axis points down."""

    scale: int
    origin: Point
    down: bool = False

    def size(self, metres: float) -> float:
        """A length on paper [mm]."""
        return metres * 1000 / self.scale

    def at(self, x: float, other: float) -> Point:
        """A point on paper."""
        (left, top), scale = self.origin, self.scale
        low = other * 1000 / scale
        return Point(left + x * 1000 / scale, top + low if self.down else top - low)

    def box(self, left: float, low: float, right: float, high: float) -> Box:
        """An upright rectangle on paper from its edges in metres."""
        a, b = self.at(left, low), self.at(right, high)
        return Box(a.x, min(a.y, b.y), b.x, max(a.y, b.y))


def start(kind: str, width: float, title: str, description: str) -> Canvas:
    """Return an empty sheet, no narrower than the layouts can bear."""
    return Canvas(kind, max(width, NARROWEST), title, description)


@kept
def head(canvas: Canvas, title: str, under: str) -> float:
    """Write the title and a line below it; return how far down they reach."""
    room, y = canvas.width - 2 * PAPER_MARGIN, PAPER_MARGIN
    cleaned = text.clean(title)
    for line in text.wrap(cleaned, TITLE, room, 2, bold=True):
        y += TITLE * LINE_PITCH
        canvas.text(PAPER_MARGIN, y - 0.3 * TITLE, line, "title", size=TITLE, full=cleaned)
    for line in text.wrap(under, TEXT, room, 3):
        y += ROW
        canvas.text(PAPER_MARGIN, y - 0.3 * TEXT, line, "note")
    return y + 2.0


def scale_note(scale: int, unit: Unit) -> str:
    """Return the line that says how to read the lengths."""
    return f"Scale 1:{scale} · lengths in {unit.words}"


@dataclass(frozen=True, slots=True)
class Span:
    """A horizontal dimension: two places on paper, where the thing ends, and what to write. [mm]."""

    left: Point
    right: Point
    words: str


def spans(canvas: Canvas, top: float, dimensions: Sequence[Span]) -> float:
    """Draw dimension lines below a drawing, the short ones nearest, in as many lanes as they need.

    Returns
    -------
    float
        How far down they reach. [mm]
    """
    lanes: list[list[tuple[float, float]]] = []
    told: list[tuple[Span, float, float]] = []
    for span in sorted(dimensions, key=lambda item: (item.right.x - item.left.x, item.words)):
        middle, reach = _extent(canvas, span)
        lane = next((i for i, taken in enumerate(lanes) if _clear(taken, reach)), len(lanes))
        lanes.extend([[]] if lane == len(lanes) else [])
        lanes[lane].append(reach)
        told.append((span, top + (lane + 1) * LANE, middle))
    words = [text_box(middle, y - 1.0, text.width(span.words, TEXT), TEXT, "middle") for span, y, middle in told]
    for span, y, _ in told:
        for x, begun in (span.left, span.right):
            _leader(canvas, x, begun + 0.8, y + 0.8, words)
    for span, y, middle in told:
        _dimension(canvas, span.left.x, span.right.x, middle, y, span.words)
    return top + len(lanes) * LANE + 2.0


@kept
def _dimension(canvas: Canvas, left: float, right: float, middle: float, y: float, words: str) -> None:
    canvas.ticked(Point(left, y), Point(right, y))
    canvas.text(middle, y - 1.0, words, anchor="middle")


def _leader(canvas: Canvas, x: float, top: float, bottom: float, words: Sequence[Box]) -> None:
    """Draw the pieces of an upright line that cross no words."""
    crossed = [box for box in words if box.left - 0.4 < x < box.right + 0.4]
    for box in sorted(crossed, key=lambda box: box.top) if crossed else ():
        if top < box.top < bottom:
            canvas.line(Point(x, top), Point(x, box.top), "faint")
        top = max(top, box.bottom)
    if top < bottom:
        canvas.line(Point(x, top), Point(x, bottom), "faint")


def _extent(canvas: Canvas, span: Span) -> tuple[float, tuple[float, float]]:
    """The middle of the words, kept on the sheet, and what the line and they take."""
    half = text.width(span.words, TEXT) / 2
    middle = (span.left.x + span.right.x) / 2
    middle = min(max(middle, PAPER_MARGIN + half), canvas.width - PAPER_MARGIN - half)
    return middle, (min(span.left.x - 1, middle - half), max(span.right.x + 1, middle + half))


def _clear(taken: Sequence[tuple[float, float]], reach: tuple[float, float]) -> bool:
    return all(reach[1] + 1 < left or right + 1 < reach[0] for left, right in taken)


@dataclass(frozen=True, slots=True)
class Mark:
    """Words at the side that belong to a height on the paper; the leader starts at `x`. [mm]."""

    x: float
    y: float
    words: str
    style: str = "thin"


def spread(targets: Sequence[float], gap: float, top: float, bottom: float) -> list[float]:
    """Return places as near to the targets, given in order, as a gap between them allows; room enough is given.

    Examples
    --------
    >>> spread([5.0, 5.0, 20.0], 4.0, 0.0, 30.0)
    [3.0, 7.0, 20.0]
    """
    down, up = list(targets), list(targets)
    count = len(targets)
    for i in range(count):
        down[i] = max(down[i], down[i - 1] + gap if i else top)
        up[-1 - i] = min(up[-1 - i], up[-i] - gap if i else bottom)
    down = [min(y, bottom - gap * (count - 1 - i)) for i, y in enumerate(down)]
    up = [max(y, top + gap * i) for i, y in enumerate(up)]
    return [(a + b) / 2 for a, b in zip(down, up, strict=True)]


def marks_width(marks: Sequence[Mark], most: float) -> float:
    """Return how wide a column of marks is, leaders included, and at most. [mm]."""
    return min(max((text.width(mark.words, TEXT) for mark in marks), default=0.0) + LEADER + 1.0, most)


def side_marks(canvas: Canvas, x: float, top: float, bottom: float, marks: Sequence[Mark]) -> None:
    """Write marks in a column right of `x`, each with a leader to its height."""
    _marks(canvas, x, top, bottom, tuple(marks))


@kept
def _marks(canvas: Canvas, x: float, top: float, bottom: float, marks: tuple[Mark, ...]) -> None:
    ordered = sorted(marks, key=lambda mark: (mark.y, mark.words))
    places = spread([mark.y for mark in ordered], ROW, top + ROW / 2, bottom - ROW / 2)
    for mark, y in zip(ordered, places, strict=True):
        canvas.line(Point(mark.x, mark.y), Point(x, mark.y), mark.style)
        canvas.line(Point(x, mark.y), Point(x + LEADER - 1, y), "thin")
        shown = text.fit(mark.words, TEXT, canvas.width - PAPER_MARGIN - x - LEADER)
        canvas.text(x + LEADER, y + 0.35 * TEXT, shown, full=mark.words)


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """One line of the key: a hatched patch, a line or a mark, and what it stands for."""

    style: str
    words: str
    hatching: str | None = None
    shape: str = "line"


def key(canvas: Canvas, top: float, entries: Sequence[KeyEntry]) -> float:
    """Write the key in rows; return how far down it reaches."""
    y = top
    for entry in entries:
        y = _entry(canvas, y, entry)
    return y + 1.5


@kept
def _entry(canvas: Canvas, top: float, entry: KeyEntry) -> float:
    lines = text.wrap(entry.words, TEXT, canvas.width - 2 * PAPER_MARGIN - SWATCH - 2, 3)
    y = top + ROW
    _swatch(canvas, entry, y - 0.35 * TEXT)
    for line in lines:
        canvas.text(PAPER_MARGIN + SWATCH + 2, y, line, full=entry.words)
        y += ROW
    return y - (ROW - 0.6)


def _swatch(canvas: Canvas, entry: KeyEntry, y: float) -> None:
    left, right = PAPER_MARGIN, PAPER_MARGIN + SWATCH
    if entry.shape == "patch":
        canvas.rectangle(Box(left, y - 1.5, right, y + 1.5), entry.style, hatching=entry.hatching)
    elif entry.shape == "dot":
        canvas.circle(Point((left + right) / 2, y), 1.3, entry.style)
    elif entry.shape == "diamond":
        canvas.polygon(diamond(Point((left + right) / 2, y)), entry.style)
    else:
        canvas.line(Point(left, y), Point(right, y), entry.style)


def diamond(middle: Point) -> list[Point]:
    """Return the corners of a small mark that stands on its tip."""
    x, y = middle
    return [Point(x, y - 1.2), Point(x + 1.2, y), Point(x, y + 1.2), Point(x - 1.2, y)]


@kept
def ground(canvas: Canvas, left: float, right: float, y: float) -> None:
    """Draw a floor: a line with hatching below it."""
    canvas.rectangle(Box(left, y, right, y + 1.6), "hatched", hatching="wall")
    canvas.line(Point(left, y), Point(right, y), "ground", "floor")


@kept
def wall(canvas: Canvas, x: float, top: float, bottom: float) -> None:
    """Draw a wall that faces right: a line with hatching behind it."""
    canvas.rectangle(Box(x - 1.6, top, x, bottom), "hatched", hatching="wall")
    canvas.line(Point(x, top), Point(x, bottom), "ground", "wall")


def named(role: str, name: str) -> str:
    """Return a role and the name of what plays it."""
    cleaned = text.clean(name)
    return f"{role}: {cleaned}" if cleaned else role


def told(metres: float, words: str, unit: Unit) -> str:
    """Return a length and what it is; the length first, where nothing cuts it short."""
    return f"{length(metres, unit)} {words}"
