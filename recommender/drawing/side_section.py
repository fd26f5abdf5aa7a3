"""Side section: the box in its place, its tilt and lift, its axis to the ear, the bounce, and what is left free."""

from __future__ import annotations

from collections.abc import Iterator
from math import radians, tan
from typing import Final

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import Box, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit, angle, frequency
from triptych.recommender.drawing.frame import PAPER_MARGIN, KeyEntry, Mark, Span, View
from triptych.recommender.drawing.nook import nook
from triptych.recommender.drawing.section import Side, boards, box

TILT_SHOWN: Final = 0.05
"""A smaller angle is not told [deg]."""


def side(shown: Side, unit: Unit = Unit.MILLIMETRE, width: float = frame.WIDTH) -> str:
    """Return the side section as SVG: the whole of it, and the box in its place once more and larger.

    Parameters
    ----------
    shown : Side
        What to draw. [m, deg]
    unit : Unit
        What lengths are written in.
    width : float
        Width of the sheet; at least 90. [mm]

    Returns
    -------
    str
        A document of its own; the same for the same input.
    """
    canvas = frame.start("side", width, "Side section", _description(shown, unit))
    heights = list(_heights(shown, unit))
    column = frame.marks_width([Mark(0, 0, words) for _, words, _ in heights], 0.5 * canvas.width)
    room = canvas.width - 2 * PAPER_MARGIN - column
    reach = max(shown.ear_distance, shown.baffle + 0.1) + 0.25
    scale = frame.scale_for(reach, shown.top, room - 3, 0.7 * canvas.width)
    top = frame.head(canvas, "Side section", frame.scale_note(scale, unit))
    high = max(shown.top * 1000 / scale, (len(heights) + 1) * frame.ROW)
    view = View(scale, Point(PAPER_MARGIN + 3, top + high))
    _room(canvas, shown, view, top, room)
    _lines(canvas, shown, view, top)
    marks = [Mark(view.at(metres, 0).x, view.at(0, up).y, words) for up, words, metres in heights]
    frame.side_marks(canvas, PAPER_MARGIN + room, top, top + high, marks)
    low = frame.spans(canvas, view.origin.y + 2.0, list(_spans(shown, view, unit)))
    low = nook(canvas, shown, unit, low + 2.0)
    return canvas.svg(frame.key(canvas, low, list(_key(shown))) + PAPER_MARGIN)


def _description(shown: Side, unit: Unit) -> str:
    words = [f"{text} above the floor" for _, text, _ in _heights(shown, unit)]
    return f"{shown.centre} in {shown.place.name}, {_aimed(shown)}: " + "; ".join(words) + "."


def _aimed(shown: Side) -> str:
    if shown.tilt is None:
        return "its tilt not known"
    if abs(shown.tilt) < TILT_SHOWN:
        return "not tilted"
    return f"tilted {angle(abs(shown.tilt))} {'up' if shown.tilt > 0 else 'down'}"


def _heights(shown: Side, unit: Unit) -> Iterator[tuple[float, str, float]]:
    """Heights with their words, and from where the leader starts. [m]."""
    yield shown.ear, frame.told(shown.ear, "ear", unit), shown.ear_distance
    if shown.axis:
        yield shown.axis[1], frame.told(shown.axis[1], "centre’s axis", unit), shown.axis[0]
    if shown.place.base > 0:
        yield shown.place.base, frame.told(shown.place.base, "place floor", unit), shown.baffle + shown.setback
    if shown.picture:
        yield shown.picture.bottom, frame.told(shown.picture.bottom, "picture foot", unit), 0.0


def _room(canvas: Canvas, shown: Side, view: View, top: float, room: float) -> None:
    frame.ground(canvas, PAPER_MARGIN, PAPER_MARGIN + room, view.origin.y)
    frame.wall(canvas, view.origin.x, top, view.origin.y)
    if shown.picture:
        low, high = shown.picture.bottom, shown.picture.bottom + shown.picture.height
        canvas.rectangle(view.box(0.0, low, 0.04, high), "picture", "picture")
    boards(canvas, shown, view)
    box(canvas, shown, view, "box")
    ear = view.at(shown.ear_distance, shown.ear)
    canvas.circle(Point(ear.x, ear.y), max(view.size(0.09), 1.2), "seat", "head")
    canvas.circle(ear, 0.6, "seat-primary", "ear")


def _lines(canvas: Canvas, shown: Side, view: View, top: float) -> None:
    """The axis of the box, level, ear and bounce, and the angle of the tilt."""
    if shown.axis is None:
        return
    out, up = shown.axis
    start, ear = view.at(out, up), view.at(shown.ear_distance, shown.ear)
    canvas.line(start, ear, "ray", "sight")
    touch = shown.bounce_point
    if touch is not None:
        canvas.polyline([start, view.at(touch, shown.place.base), ear], "bounce", "bounce")
    if shown.tilt is not None:
        reach = shown.ear_distance - out
        high = up + reach * tan(radians(shown.tilt))
        canvas.line(start, view.at(shown.ear_distance, high), "centre-line", "axis")
        _angle(canvas, shown.tilt, start, view.size(reach), top, view.origin.y)
    canvas.circle(start, 0.7, "tweeter", "tweeter")


def _angle(canvas: Canvas, tilt: float, start: Point, reach: float, top: float, floor: float) -> None:
    if abs(tilt) < TILT_SHOWN:
        return
    radius = 0.5 * reach
    canvas.line(start, Point(start.x + radius + 3, start.y), "thin", "level")
    canvas.arc(start, radius, 0.0, -tilt, "angle", "tilt")
    words = f"tilt {angle(abs(tilt))} {'up' if tilt > 0 else 'down'}"
    bounds = Box(start.x, top, start.x + reach, floor)
    # on the far side of the level line, where no other line runs
    canvas.place(Point(start.x + radius - 2, start.y + (2.6 if tilt > 0 else -2.6)), words, bounds, away=1.0)


def _spans(shown: Side, view: View, unit: Unit) -> Iterator[Span]:
    wall = view.at(0.0, 0.0)
    low = shown.place.base
    yield Span(wall, view.at(shown.baffle, low), frame.told(shown.baffle, "wall to baffle", unit))
    yield Span(wall, view.at(shown.ear_distance, 0), frame.told(shown.ear_distance, "wall to ear", unit))


def _key(shown: Side) -> Iterator[KeyEntry]:
    yield KeyEntry("centre", frame.named("Centre", shown.centre) + ", " + _aimed(shown), "falling", "patch")
    yield KeyEntry("place", frame.named("Place", shown.place.name), "rising", "patch")
    if shown.axis is not None and shown.tilt is not None:
        left = (
            ""
            if not shown.residual or abs(shown.residual) < TILT_SHOWN
            else (f"; it misses the ear by {angle(abs(shown.residual))}, no more tilt fits")
        )
        yield KeyEntry("centre-line", "Axis of the centre" + left)
        yield KeyEntry("ray", "Straight way to the ear")
    if shown.axis is None:
        yield KeyEntry("ray", "Where the axis leaves the centre is not known, so its aim is not drawn")
    if shown.bounce_point is not None and shown.bounce is not None:
        from_here = f"first notch at {frequency(shown.bounce)}"
        yield KeyEntry("bounce", f"Bounce off the surface in front of the baffle, {from_here}")
    yield KeyEntry("plugs", "Room for plugs and the bend of the cable")
