"""The box in its place once more, larger: what is left free around it, to the millimetre."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import LINE_PITCH, TEXT, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.drawing.frame import PAPER_MARGIN, Mark, Span, View
from triptych.recommender.drawing.section import Side, boards, box
from triptych.recommender.drawing.shapes import BOARD

DIMENSION_PITCH: Final = 3.6
"""Between upright dimension lines [mm]."""

ROOMY: Final = 130.0
"""A sheet at least so wide has room for longer words [mm]."""


@dataclass(frozen=True, slots=True)
class Upright:
    """A vertical dimension: from and up to which height above the floor, where the thing ends, and its words. [m]."""

    low: float
    high: float
    out: float
    words: str
    lane: int


def nook(canvas: Canvas, shown: Side, unit: Unit, top: float) -> float:
    """Draw the box in its place at a larger scale below `top`; return how far down it reaches. [mm]."""
    uprights = list(_uprights(shown, unit, canvas.width >= ROOMY))
    column = frame.marks_width([Mark(0, 0, item.words) for item in uprights], 0.5 * canvas.width)
    room = canvas.width - 2 * PAPER_MARGIN - column - 4 * DIMENSION_PITCH
    left, right = _ends(shown)
    low, high = _low(shown), _high(shown)
    scale = frame.scale_for(right - left, high - low, room, 0.6 * canvas.width)
    y = top + TEXT * LINE_PITCH
    canvas.text(PAPER_MARGIN, y, f"The place, scale 1:{scale}", "title")
    y += 3.0
    tall = max((high - low) * 1000 / scale, (len(uprights) + 1) * frame.ROW)
    k = 1000 / scale
    slack = room - (right - left) * k
    view = View(scale, Point(PAPER_MARGIN + slack / 2 - left * k, y + tall + low * k))
    _draw(canvas, shown, view, y, y + tall)
    edge = view.at(right, 0).x
    frame.side_marks(canvas, edge + 4 * DIMENSION_PITCH, y, y + tall, list(_dimensions(canvas, view, uprights, edge)))
    return frame.spans(canvas, y + tall + 1.0, list(_spans(shown, view, unit))) + 1.0


def _ends(shown: Side) -> tuple[float, float]:
    """What the view shows between, from the front wall [m]."""
    rear = shown.baffle - shown.tilted.depth - shown.rear_allowance
    stop = rear if shown.free_depth is None else min(rear, shown.edge - shown.free_depth)
    return stop - 2 * BOARD, max(shown.edge, shown.baffle) + 0.01


def _low(shown: Side) -> float:
    return shown.place.base - min(BOARD, shown.place.base) - 0.005


def _high(shown: Side) -> float:
    lid = (shown.place.height or 0.0) + BOARD
    return shown.place.base + max(shown.tilted.height, lid) + 0.01


def _draw(canvas: Canvas, shown: Side, view: View, top: float, bottom: float) -> None:
    if _ends(shown)[0] <= 0.0:
        frame.wall(canvas, view.at(0.0, 0.0).x, top, bottom)
    boards(canvas, shown, view)
    if shown.place.height is not None and not shown.place.framed:
        high = view.at(0.0, shown.place.base + shown.place.height).y
        canvas.line(Point(view.at(_ends(shown)[0], 0).x, high), Point(view.at(shown.edge, 0).x, high), "limit", "limit")
    rear, base, tall = shown.baffle - shown.tilted.depth, shown.place.base, shown.tilted.height
    if shown.rear_allowance > 0:
        plugs = view.box(rear - shown.rear_allowance, base + 0.3 * tall, rear, base + 0.7 * tall)
        canvas.rectangle(plugs, "plugs", "plugs")
    box(canvas, shown, view, "box-large")
    if shown.axis is not None:
        canvas.circle(view.at(*shown.axis), 0.9, "tweeter")


def _uprights(shown: Side, unit: Unit, roomy: bool) -> Iterator[Upright]:
    tilted, base = shown.tilted, shown.place.base
    top = base + tilted.height
    if tilted.lift > 0.0005:
        edge, out = ("front", shown.baffle) if tilted.tilt > 0 else ("rear", shown.baffle + tilted.corners[3][0])
        yield Upright(
            base,
            base + tilted.lift,
            out,
            frame.told(tilted.lift, f"{edge} edge lifted" if roomy else f"{edge} lift", unit),
            0,
        )
    yield Upright(base, top, shown.baffle, frame.told(tilted.height, "box as it stands" if roomy else "box", unit), 1)
    if shown.place.height is None:
        return
    lid = base + shown.place.height
    free = lid - top
    words = frame.told(abs(free), "too high" if free < 0 else "free above" if roomy else "free", unit)
    yield Upright(min(top, lid), max(top, lid), shown.baffle, words, 1)
    yield Upright(base, lid, shown.edge, frame.told(shown.place.height, "high inside" if roomy else "inside", unit), 2)


def _dimensions(canvas: Canvas, view: View, uprights: list[Upright], edge: float) -> Iterator[Mark]:
    for item in uprights:
        x = edge + DIMENSION_PITCH * (item.lane + 0.7)
        for up in (item.low, item.high):
            canvas.line(view.at(item.out, up), Point(x + 1, view.at(0, up).y), "faint")
    for item in uprights:
        x = edge + DIMENSION_PITCH * (item.lane + 0.7)
        low, high = view.at(0, item.low).y, view.at(0, item.high).y
        canvas.ticked(Point(x, low), Point(x, high), "upright")
        yield Mark(x, (low + high) / 2, item.words)


def _spans(shown: Side, view: View, unit: Unit) -> Iterator[Span]:
    base, baffle = shown.place.base, shown.baffle
    rear = baffle - shown.tilted.depth
    front_point = view.at(baffle, base)
    yield Span(view.at(rear, base), front_point, frame.told(shown.tilted.depth, "deep as it stands", unit))
    if shown.setback > 0:
        yield Span(front_point, view.at(shown.edge, base), frame.told(shown.setback, "set back", unit))
    if shown.setback < 0:
        yield Span(view.at(shown.edge, base), front_point, frame.told(-shown.setback, "proud of the edge", unit))
    if shown.free_depth is not None:
        stop = shown.edge - shown.free_depth
        words = "free behind" if stop <= rear else "too deep"
        left, right = sorted((stop, rear))
        yield Span(view.at(left, base), view.at(right, base), frame.told(right - left, words, unit))
    if shown.rear_allowance > 0:
        plugs = rear - shown.rear_allowance
        yield Span(view.at(plugs, base), view.at(rear, base), frame.told(shown.rear_allowance, "for plugs", unit))
