"""Small tables below a drawing: a badge, a name that may be cut, and figures that may not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from triptych.recommender.drawing import text
from triptych.recommender.drawing.canvas import LINE_PITCH, TEXT, Box, Canvas, Point, around
from triptych.recommender.drawing.frame import PAPER_MARGIN
from triptych.recommender.drawing.pieces import kept

RADIUS: Final = 2.5
"""Of a seat's badge [mm]."""

ROW_PITCH: Final = 2 * RADIUS + 1.0
NUMERAL_SIZE: Final = 2.6
COLUMN_GAP: Final = 3.0


@dataclass(frozen=True, slots=True)
class Badge:
    """A seat's number in its circle."""

    number: int
    primary: bool
    regular: bool

    @property
    def style(self) -> str:
        """Full for the primary seat, broken for an occasional one."""
        return "seat-primary" if self.primary else "seat" if self.regular else "seat-occasional"


def badge(canvas: Canvas, middle: Point, shown: Badge, part: str | None = None) -> None:
    """Draw a seat's number in its circle."""
    canvas.circle(middle, RADIUS, shown.style, part)
    name = "on-primary" if shown.primary else "on-seat"
    canvas.text(middle.x, middle.y + 0.35 * NUMERAL_SIZE, str(shown.number), name, "middle", NUMERAL_SIZE)


def seat_badge(canvas: Canvas, here: Point, shown: Badge, bounds: Box) -> None:
    """Mark a seat with its number, moved aside with a leader where another stands there already."""
    part = f"seat-{shown.number}"
    middle = next((point for point in around(here, ROW_PITCH) if _open(canvas, point, bounds)), None)
    if middle is None or middle != here:
        canvas.line(here, middle or here, "seat-line")
        canvas.circle(here, 0.8, shown.style, part)
    if middle is not None:
        badge(canvas, middle, shown, part if middle == here else None)
        canvas.reserve(_square(middle))


def _square(middle: Point) -> Box:
    return Box(middle.x, middle.y, middle.x, middle.y).grown(RADIUS)


def _open(canvas: Canvas, middle: Point, bounds: Box) -> bool:
    return _square(middle).within(bounds) and canvas.free(_square(middle))


def table(canvas: Canvas, top: float, header: Sequence[str], rows: Sequence[tuple[Badge, str, Sequence[str]]]) -> float:
    """Write one row a seat: badge, name, figures aligned on the right; return how far down they reach. [mm]."""
    columns = [_column(header[i + 1], [figures[i] for _, _, figures in rows]) for i in range(len(header) - 1)]
    right = canvas.width - PAPER_MARGIN
    ends = [right - sum(columns[i + 1 :]) for i in range(len(columns))]
    left = PAPER_MARGIN + 2 * RADIUS + 2.0
    room = right - sum(columns) - left
    y = top + TEXT * LINE_PITCH
    _heading(canvas, y, left, room, tuple(header), tuple(ends))
    for shown, name, figures in rows:
        y += ROW_PITCH
        _called(canvas, y, left, room, shown, name)
        for end, figure in zip(ends, figures, strict=True):
            canvas.text(end, y, figure, anchor="end")
    return y + 3.0


def _column(heading: str, figures: Sequence[str]) -> float:
    return max(text.width(words, TEXT) for words in (heading, *figures)) + COLUMN_GAP


@kept
def _called(canvas: Canvas, y: float, left: float, room: float, shown: Badge, name: str) -> None:
    """Write whose row it is."""
    badge(canvas, Point(PAPER_MARGIN + RADIUS, y - 0.35 * TEXT), shown)
    cleaned = text.clean(name)
    canvas.text(left, y, text.fit(cleaned, TEXT, room), full=cleaned)


@kept
def _heading(
    canvas: Canvas, y: float, left: float, room: float, header: tuple[str, ...], ends: tuple[float, ...]
) -> None:
    canvas.text(left, y, text.fit(header[0], TEXT, room), "note")
    for end, words in zip(ends, header[1:], strict=True):
        canvas.text(end, y, words, "note", "end")
    canvas.line(Point(PAPER_MARGIN, y + 1.2), Point(canvas.width - PAPER_MARGIN, y + 1.2), "faint")
