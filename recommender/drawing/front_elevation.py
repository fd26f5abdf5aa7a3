"""Front elevation: what stands under and beside the picture, as the listeners see it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit, angle
from triptych.recommender.drawing.frame import PAPER_MARGIN, KeyEntry, Mark, Span, View
from triptych.recommender.drawing.pieces import kept
from triptych.recommender.drawing.shapes import BOARD, Cabinet, DrawnDriver, DrawnPicture, Opening, Tilted

ELEVATION_HEIGHT: Final = 0.85
"""The elevation is at most so high over the width of the sheet."""


@dataclass(frozen=True, slots=True)
class Front:
    """What a front elevation shows. Lengths in m, angles in deg; None where a figure is not known.

    Without a box it shows the room as surveyed, with every place in it.

    Parameters
    ----------
    centre, mains : str
        `Standing.speaker` and `Advice.mains`.
    place : Opening
        The `scene.Place` named `Standing.place`.
    box : Cabinet or None
        The row of `Boxes` in the pose `Standing.pose`; None where no centre is chosen yet.
    tilt : float or None
        `quantities["tilt_used_deg"]` (= `Aim.tilt_used`).
    drivers : tuple of DrawnDriver
        `physics.layout.place`, turned as the box is; empty where the layout is not known.
    spacing : float
        `Mains.spacing` (`RoomRecord.mains.spacing`).
    mains_axis : float or None
        `Mains.axis_height`, above the floor.
    mains_box : Cabinet or None
        `LoudspeakerRecord.width` ... of one main; None where a size is not stated.
    mains_base : float
        What a main stands on: `Mains.axis_height` less feet and `LoudspeakerRecord.axis_height`; 0 on the floor.
    ear : float
        `Seats.ear_height[primary]`.
    picture : DrawnPicture or None
        The room's picture.
    other_places : tuple of Opening
        Places beside the one that is spoken of.
    """

    centre: str
    mains: str
    place: Opening
    box: Cabinet | None
    tilt: float | None
    spacing: float
    ear: float
    mains_axis: float | None = None
    mains_box: Cabinet | None = None
    mains_base: float = 0.0
    picture: DrawnPicture | None = None
    drivers: tuple[DrawnDriver, ...] = ()
    other_places: tuple[Opening, ...] = ()

    @property
    def tilted(self) -> Tilted | None:
        """The box as it stands, upright where its tilt is not known; None where there is none."""
        return None if self.box is None else Tilted(self.box, self.tilt or 0.0)

    @property
    def places(self) -> tuple[Opening, ...]:
        """The place that is spoken of, and the others."""
        return (self.place, *self.other_places)

    @property
    def half_width(self) -> float:
        """From the middle to the outermost thing [m]."""
        main = self.mains_box.width if self.mains_box else 0.2
        others = [self.box.width if self.box else 0.0, self.picture.width if self.picture else 0.0]
        others += [place.width or 0.0 for place in self.places]
        return max(self.spacing / 2 + main / 2, *(other / 2 + BOARD for other in others)) + 0.08

    @property
    def top(self) -> float:
        """The highest thing above the floor [m]."""
        heights = [self.ear, self.mains_axis or 0.0, self.place.base + (self.tilted.height if self.tilted else 0.1)]
        heights += [place.base + (place.height or 0.0) + BOARD if place.framed else place.base for place in self.places]
        heights.append(self.picture.bottom + self.picture.height if self.picture else 0.0)
        heights.append(self.mains_base + self.mains_box.stood if self.mains_box else 0.0)
        return max(heights) + 0.08


def front(shown: Front, unit: Unit = Unit.MILLIMETRE, width: float = frame.WIDTH) -> str:
    """Return the front elevation as SVG.

    Parameters
    ----------
    shown : Front
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
    canvas = frame.start("front", width, "Front elevation", _description(shown, unit))
    heights = list(_heights(shown, unit))
    column = frame.marks_width([Mark(0, 0, words) for _, words, _ in heights], 0.5 * canvas.width)
    room = canvas.width - 2 * PAPER_MARGIN - column
    scale = frame.scale_for(2 * shown.half_width, shown.top, room, ELEVATION_HEIGHT * canvas.width)
    top = frame.head(canvas, "Front elevation", frame.scale_note(scale, unit))
    high = max(shown.top * 1000 / scale, (len(heights) + 1) * frame.ROW)
    view = View(scale, Point(PAPER_MARGIN + room / 2, top + high))
    _backdrop(canvas, shown, view, room)
    for metres, _, name in heights:
        canvas.line(
            Point(PAPER_MARGIN, view.at(0, metres).y), Point(PAPER_MARGIN + room, view.at(0, metres).y), name, "height"
        )
    _boxes(canvas, shown, view)
    marks = [Mark(PAPER_MARGIN + room, view.at(0, metres).y, words) for metres, words, _ in heights]
    frame.side_marks(canvas, PAPER_MARGIN + room, top, top + high, marks)
    low = frame.spans(canvas, view.origin.y + 2.0, list(_spans(shown, view, unit)))
    return canvas.svg(frame.key(canvas, low, list(_key(shown))) + PAPER_MARGIN)


def _description(shown: Front, unit: Unit) -> str:
    words = [f"{text} above the floor" for _, text, _ in _heights(shown, unit)]
    what = f"{shown.centre} in {shown.place.name}" if shown.box else ", ".join(place.name for place in shown.places)
    return f"{what} between {shown.mains}: " + "; ".join(words) + "."


def _heights(shown: Front, unit: Unit) -> Iterator[tuple[float, str, str]]:
    if shown.picture:
        yield shown.picture.bottom, frame.told(shown.picture.bottom, "picture foot", unit), "faint"
        upper = shown.picture.bottom + shown.picture.height
        yield upper, frame.told(upper, "picture top", unit), "faint"
    if shown.mains_axis is not None:
        yield shown.mains_axis, frame.told(shown.mains_axis, "mains’ axis", unit), "mains-line"
    yield shown.ear, frame.told(shown.ear, "ear", unit), "seat-line"
    axis = shown.tilted.axis if shown.tilted else None
    if axis is not None:
        height = shown.place.base + axis[1]
        yield height, frame.told(height, "centre’s axis", unit), "centre-line"
    for place in shown.places:
        words = "place floor" if shown.box else place.name
        if place.base > 0:
            yield place.base, frame.told(place.base, words, unit), "faint"


def _backdrop(canvas: Canvas, shown: Front, view: View, room: float) -> None:
    frame.ground(canvas, PAPER_MARGIN, PAPER_MARGIN + room, view.origin.y)
    if shown.picture:
        half, low = shown.picture.width / 2, shown.picture.bottom
        canvas.rectangle(view.box(-half, low, half, low + shown.picture.height), "picture", "picture")
    # furniture first: its bays are seen in it
    for place in sorted(shown.places, key=lambda one: one.kind != "top"):
        _place(canvas, place, shown.box.width if shown.box else 0.4, view)


def _boxes(canvas: Canvas, shown: Front, view: View) -> None:
    for side, name in ((-1, "left"), (1, "right")):
        _main(canvas, shown, view, side * shown.spacing / 2, name)
    if shown.box and shown.tilted:
        _centre(canvas, shown, view, shown.box, shown.tilted)


@kept
def _place(canvas: Canvas, place: Opening, box_width: float, view: View) -> None:
    half = (place.width if place.width is not None else box_width + 0.1) / 2
    name = "place" if place.width is not None else "place-unknown"
    low = place.base
    if place.framed and place.height is not None:
        outer = view.box(-half - BOARD, low - BOARD, half + BOARD, low + place.height + BOARD)
        canvas.rectangle(outer, name, hatching="rising")
        canvas.rectangle(view.box(-half, low, half, low + place.height), "paper")
        canvas.rectangle(view.box(-half, low, half, low + place.height), name, "opening")
        return
    if place.kind == "stand":
        canvas.rectangle(view.box(-0.04, 0.0, 0.04, low), name, hatching="rising")
    if place.kind == "wall":
        canvas.rectangle(view.box(-half, low, half, low + (place.height or 0.1)), "place-unknown", "opening")
        return
    thick = low if place.kind == "top" else min(BOARD, low)
    if thick > 0:
        canvas.rectangle(view.box(-half, low - thick, half, low), name, "surface", hatching="rising")
    if place.height is not None and place.kind == "open_shelf":
        canvas.rectangle(view.box(-half, low, half, low + place.height), "place-unknown", "opening")


def _main(canvas: Canvas, shown: Front, view: View, x: float, name: str) -> None:
    box = shown.mains_box
    if box is not None:
        edges = view.box(
            x - box.width / 2, shown.mains_base + box.feet, x + box.width / 2, shown.mains_base + box.stood
        )
        if shown.mains_base > 0:
            canvas.rectangle(view.box(x - 0.03, 0.0, x + 0.03, shown.mains_base), "place", hatching="rising")
        for foot in (-0.38, 0.26) if box.feet else ():
            left = x + foot * box.width
            feet = view.box(left, shown.mains_base, left + 0.12 * box.width, shown.mains_base + box.feet)
            canvas.rectangle(feet, "mains")
        canvas.rectangle(edges, "mains", f"main-{name}", "upright")
    if shown.mains_axis is not None:
        canvas.circle(view.at(x, shown.mains_axis), 1.1, "mains-tweeter", f"tweeter-{name}")


def _centre(canvas: Canvas, shown: Front, view: View, box: Cabinet, tilted: Tilted) -> None:
    """The envelope of the box; the edge between its front and what else of it is seen when it is tilted."""
    half, base = box.width / 2, shown.place.base
    canvas.rectangle(view.box(-half, base, half, base + tilted.height), "centre", "centre", "falling")
    corners = tilted.corners
    seen = (corners[0][1], corners[1][1])
    for edge in seen:
        if 0.001 < edge < tilted.height - 0.001:
            canvas.line(view.at(-half, base + edge), view.at(half, base + edge), "ray", "edge")
    for driver in sorted(shown.drivers, key=lambda item: item.tweeter):
        up = box.feet + box.height / 2 + driver.up
        middle = view.at(driver.x, base + tilted.point(0, up)[1])
        canvas.circle(middle, max(view.size(driver.size / 2), 0.5), "tweeter" if driver.tweeter else "driver", "driver")


def _spans(shown: Front, view: View, unit: Unit) -> Iterator[Span]:
    base = shown.place.base
    if shown.box is not None:
        half = shown.box.width / 2
        yield Span(view.at(-half, base), view.at(half, base), frame.told(shown.box.width, "centre", unit))
    for place in shown.places:
        if place.width is None:
            continue
        edge = place.width / 2
        words = "place" if shown.box else place.name
        yield Span(view.at(-edge, place.base), view.at(edge, place.base), frame.told(place.width, words, unit))
        if place.framed and shown.box is not None:
            half = shown.box.width / 2
            yield Span(view.at(half, base), view.at(edge, base), frame.told(edge - half, "each side", unit))
    if shown.picture:
        wide, low = shown.picture.width / 2, shown.picture.bottom
        yield Span(view.at(-wide, low), view.at(wide, low), frame.told(shown.picture.width, "picture", unit))
    ends = [view.at(side * shown.spacing / 2, shown.mains_base) for side in (-1, 1)]
    yield Span(ends[0], ends[1], frame.told(shown.spacing, "mains, tweeter to tweeter", unit))


def _key(shown: Front) -> Iterator[KeyEntry]:
    tilt = shown.tilt
    aimed = "" if not tilt else f", tilted {angle(abs(tilt))} {'up' if tilt > 0 else 'down'}"
    if shown.box is not None:
        yield KeyEntry("centre", frame.named("Centre", shown.centre) + aimed, "falling", "patch")
    if shown.mains_box is not None:
        yield KeyEntry("mains", frame.named("Mains", shown.mains), "upright", "patch")
    else:
        yield KeyEntry("mains-tweeter", frame.named("Mains, of a size not stated", shown.mains), None, "dot")
    for place in shown.places:
        yield KeyEntry("place", frame.named("Place", place.name), "rising", "patch")
    if shown.picture:
        through = ", sound passes through" if shown.picture.transparent else ""
        yield KeyEntry("picture", "Picture" + through, None, "patch")
    if shown.mains_axis is not None:
        yield KeyEntry("mains-line", "Tweeter line of the mains")
    yield KeyEntry("seat-line", "Ear line at the primary seat")
    if shown.tilted is not None and shown.tilted.axis is not None:
        yield KeyEntry("centre-line", "Axis of the centre where it leaves the box")
