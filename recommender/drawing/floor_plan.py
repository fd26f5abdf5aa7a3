"""Plan: the front three, the seats, who sits how far off which axis, and which loudspeaker is heard first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Final

from triptych.recommender.drawing import frame
from triptych.recommender.drawing.canvas import Box, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit, angle, length, signed
from triptych.recommender.drawing.frame import PAPER_MARGIN, KeyEntry, Span, View
from triptych.recommender.drawing.pieces import kept
from triptych.recommender.drawing.table import RADIUS, Badge, seat_badge, table
from triptych.recommender.physics.constants import SPEED_OF_SOUND

PLAN_HEIGHT: Final = 1.1
"""The plan is at most so high over the width of the sheet."""

LEAST_ANGLE: Final = 0.05
"""A smaller toe-in is not told [deg]."""


@dataclass(frozen=True, slots=True)
class DrawnSeat:
    """A listening position: the room's `Seat` by field. [m]."""

    name: str
    x: float
    distance: float
    primary: bool = False
    regular: bool = True


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """What a plan shows. Lengths in m, angles in deg; None where a figure is not known.

    Parameters
    ----------
    centre, mains : str
        `Standing.speaker` and `Advice.mains`.
    centre_size : tuple of float or None
        `Boxes.width` and `Boxes.depth` in the pose shown; None where no centre is chosen yet.
    baffle : float
        Front wall to the centre's baffle: `Aim.baffle`.
    spacing, from_wall, toe_in : float
        `Mains.spacing`, `.from_wall`, `.toe_in` (positive = turned in).
    seats : tuple of DrawnSeat
        `RoomRecord.seats` in order, exactly one of them primary. Their angles are computed as
        `hearing.seat_azimuth` does, and so equal `SeatAnswer.angle_deg`.
    mains_size : tuple of float or None
        `LoudspeakerRecord.width` and `.depth` of one main.
    picture_width : float or None
        `scene.Picture.width`.
    """

    centre: str
    mains: str
    centre_size: tuple[float, float] | None
    baffle: float
    spacing: float
    from_wall: float
    toe_in: float
    seats: tuple[DrawnSeat, ...]
    mains_size: tuple[float, float] | None = None
    picture_width: float | None = None

    @property
    def primary(self) -> DrawnSeat:
        """The primary seat."""
        return next(seat for seat in self.seats if seat.primary)

    def azimuth(self, seat: DrawnSeat) -> float:
        """The angle of a seat off the centre's axis, positive to the right [deg]."""
        return degrees(atan2(seat.x, seat.distance - self.baffle))

    def reach(self, seat: DrawnSeat) -> float:
        """From the centre to a seat [m]."""
        return hypot(seat.x, seat.distance - self.baffle)

    def mains_reach(self, seat: DrawnSeat) -> tuple[float, float]:
        """From the left and from the right main to a seat [m]."""
        along = seat.distance - self.from_wall
        return hypot(seat.x + self.spacing / 2, along), hypot(seat.x - self.spacing / 2, along)


def plan(shown: FloorPlan, unit: Unit = Unit.MILLIMETRE, width: float = frame.WIDTH) -> str:
    """Return the plan as SVG.

    Parameters
    ----------
    shown : FloorPlan
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
    canvas = frame.start("plan", width, "Plan", _description(shown))
    left, right, far = _extent(shown)
    room = canvas.width - 2 * PAPER_MARGIN
    scale = frame.scale_for(right - left, far, room - 2 * RADIUS, PLAN_HEIGHT * canvas.width - RADIUS)
    top = frame.head(canvas, "Plan", frame.scale_note(scale, unit)) + 2.0
    k = 1000 / scale
    view = View(scale, Point(PAPER_MARGIN + room / 2 - (left + right) / 2 * k, top), down=True)
    low = top + far * k + RADIUS + 1.0
    _wall(canvas, shown.picture_width, view)
    _rays(canvas, shown, view, Box(PAPER_MARGIN, top, canvas.width - PAPER_MARGIN, low))
    _loudspeakers(canvas, shown, view)
    bounds = Box(PAPER_MARGIN, top, canvas.width - PAPER_MARGIN, low)
    low = frame.spans(canvas, low, list(_spans(shown, view, unit)))
    for index, seat in enumerate(shown.seats):
        seat_badge(canvas, view.at(seat.x, seat.distance), _badge(index, seat), bounds)
    _angles(canvas, shown, view, bounds)
    low = table(canvas, low, ("seat", "off axis", "to centre", "to nearer main"), list(_rows(shown, unit)))
    return canvas.svg(frame.key(canvas, low, list(_key(shown, unit))) + PAPER_MARGIN)


def _description(shown: FloorPlan) -> str:
    words = [f"{seat.name} {angle(shown.azimuth(seat))} off the centre’s axis" for seat in shown.seats]
    return f"{shown.centre} between {shown.mains}, from above: " + "; ".join(words) + "."


def _badge(index: int, seat: DrawnSeat) -> Badge:
    return Badge(index + 1, seat.primary, seat.regular)


def _extent(shown: FloorPlan) -> tuple[float, float, float]:
    """Leftmost, rightmost and farthest thing [m]."""
    main = (shown.mains_size or (0.2, 0.2))[0]
    half = max(shown.spacing / 2 + main, (shown.centre_size or (0.0, 0.0))[0] / 2, (shown.picture_width or 0.0) / 2)
    xs = [seat.x for seat in shown.seats]
    far = max(*(seat.distance for seat in shown.seats), shown.baffle, shown.from_wall)
    return min(-half, *xs) - 0.05, max(half, *xs) + 0.05, far


@kept
def _wall(canvas: Canvas, picture_width: float | None, view: View) -> None:
    y, left, right = view.origin.y, PAPER_MARGIN, canvas.width - PAPER_MARGIN
    canvas.rectangle(Box(left, y - 1.6, right, y), "hatched", hatching="wall")
    canvas.line(Point(left, y), Point(right, y), "ground", "wall")
    if picture_width is not None:
        half = picture_width / 2
        canvas.rectangle(view.box(-half, 0.0, half, 0.04), "picture", "picture")


def _toward(shown: FloorPlan, side: int) -> tuple[float, float]:
    """Where the axis of a main points: across and along the room."""
    turn = radians(shown.toe_in)
    return -side * sin(turn), cos(turn)


def _rays(canvas: Canvas, shown: FloorPlan, view: View, bounds: Box) -> None:
    """From the centre to every seat, the axes of the mains as far as the primary seat's row, the arc."""
    primary = shown.primary
    here = view.at(primary.x, primary.distance)
    _ways_from_centre(canvas, shown.baffle, shown.seats, view)
    for side, reach in zip((-1, 1), shown.mains_reach(primary), strict=True):
        across, ahead = _toward(shown, side)
        start = (side * shown.spacing / 2, shown.from_wall)
        end = view.at(start[0] + across * reach, start[1] + ahead * reach)
        canvas.line(view.at(*start), _cut(view.at(*start), end, bounds), "mains-line", f"axis-{_name(side)}")
        canvas.line(view.at(*start), here, "thin", f"way-{_name(side)}")
    _arc(canvas, shown, view, bounds.top)


@kept
def _ways_from_centre(canvas: Canvas, baffle: float, seats: tuple[DrawnSeat, ...], view: View) -> None:
    source = view.at(0.0, baffle)
    for index, seat in enumerate(seats):
        canvas.line(source, view.at(seat.x, seat.distance), "ray", f"ray-{index + 1}")


def _cut(start: Point, end: Point, bounds: Box) -> Point:
    """The end of a line, or where it leaves the drawing."""
    part = 1.0
    for a, b, low, high in ((start.x, end.x, bounds.left, bounds.right), (start.y, end.y, bounds.top, bounds.bottom)):
        limit = high if b > a else low
        if b != a and not low <= b <= high:
            part = min(part, max((limit - a) / (b - a), 0.0))
    return Point(start.x + part * (end.x - start.x), start.y + part * (end.y - start.y))


def _arc(canvas: Canvas, shown: FloorPlan, view: View, top: float) -> None:
    """What is as far from the primary seat as the nearer main."""
    here, radius = view.at(shown.primary.x, shown.primary.distance), view.size(min(shown.mains_reach(shown.primary)))
    ends = _ways(shown, view)
    if here.y - radius > top - 1.0 and max(ends) < 0.0:
        canvas.arc(here, radius, ends[0], ends[1], "arc", "equal-distance")


def _ways(shown: FloorPlan, view: View) -> list[float]:
    """The directions from the primary seat to the mains, on paper [deg]."""
    here = view.at(shown.primary.x, shown.primary.distance)
    ways = [view.at(side * shown.spacing / 2, shown.from_wall) for side in (-1, 1)]
    return [degrees(atan2(way.y - here.y, way.x - here.x)) for way in ways]


def _angles(canvas: Canvas, shown: FloorPlan, view: View, bounds: Box) -> None:
    """The angle between the mains at the primary seat, and their toe-in."""
    if shown.primary.distance <= shown.from_wall:
        return
    here, ends = view.at(shown.primary.x, shown.primary.distance), _ways(shown, view)
    near = 0.3 * view.size(min(shown.mains_reach(shown.primary)))
    canvas.arc(here, near, ends[0], ends[1], "angle", "between")
    canvas.place(Point(here.x, here.y - near - 2.6), f"{angle(ends[1] - ends[0])} between the mains", bounds, away=1.0)
    radius = 0.25 * view.size(shown.primary.distance - shown.from_wall)
    for side in (-1, 1) if abs(shown.toe_in) >= LEAST_ANGLE else ():
        start = view.at(side * shown.spacing / 2, shown.from_wall)
        canvas.line(start, Point(start.x, start.y + radius + 2), "thin", "ahead")
        canvas.arc(start, radius, 90.0, 90.0 + side * shown.toe_in, "angle", f"toe-in-{_name(side)}")
        words = angle(shown.toe_in)
        canvas.place(Point(start.x + side * 6.5, start.y + radius), words, bounds, away=4.0)


def _name(side: int) -> str:
    return "left" if side < 0 else "right"


def _loudspeakers(canvas: Canvas, shown: FloorPlan, view: View) -> None:
    if shown.centre_size is not None:
        wide, deep = shown.centre_size
        box = view.box(-wide / 2, shown.baffle - deep, wide / 2, shown.baffle)
        canvas.rectangle(box, "centre", "centre", "falling")
    canvas.circle(view.at(0.0, shown.baffle), 0.7, "tweeter", "tweeter-centre")
    for side in (-1, 1):
        x, y = side * shown.spacing / 2, shown.from_wall
        if shown.mains_size is not None:
            canvas.polygon(_main(shown, view, side), "mains", f"main-{_name(side)}", "upright")
        canvas.circle(view.at(x, y), 0.7, "mains-tweeter", f"tweeter-{_name(side)}")


def _main(shown: FloorPlan, view: View, side: int) -> list[Point]:
    """The corners of a main turned about its tweeter, which sits in the middle of its front."""
    wide, deep = shown.mains_size or (0.0, 0.0)
    (sx, sy), x0 = _toward(shown, side), side * shown.spacing / 2
    rims = ((-wide / 2, 0.0), (wide / 2, 0.0), (wide / 2, -deep), (-wide / 2, -deep))
    return [
        view.at(x0 + across * sy + ahead * sx, shown.from_wall - across * sx + ahead * sy) for across, ahead in rims
    ]


def _spans(shown: FloorPlan, view: View, unit: Unit) -> Iterator[Span]:
    half = shown.spacing / 2
    words = frame.told(shown.spacing, "mains, tweeter to tweeter", unit)
    yield Span(view.at(-half, shown.from_wall), view.at(half, shown.from_wall), words)


def _rows(shown: FloorPlan, unit: Unit) -> Iterator[tuple[Badge, str, tuple[str, ...]]]:
    for index, seat in enumerate(shown.seats):
        ways = (length(shown.reach(seat), unit), length(min(shown.mains_reach(seat)), unit))
        yield _badge(index, seat), seat.name, (angle(shown.azimuth(seat)), *ways)


def _key(shown: FloorPlan, unit: Unit) -> Iterator[KeyEntry]:
    ahead = min(shown.mains_reach(shown.primary)) - shown.reach(shown.primary)
    gap = length(abs(ahead), unit)
    late = signed(abs(ahead) / SPEED_OF_SOUND * 1000, 2, "ms")
    off = "nearer than" if ahead > 0 else "farther than"
    if shown.centre_size is not None:
        yield KeyEntry("centre", frame.named("Centre", shown.centre), "falling", "patch")
    else:
        yield KeyEntry("tweeter", "Where a centre would be", None, "dot")
    sized = "" if shown.mains_size else ", of a size not stated"
    turned = f"toe-in {angle(shown.toe_in)}, {length(shown.from_wall, unit)} from the wall"
    mark = ("mains", "upright", "patch") if shown.mains_size else ("mains-tweeter", None, "dot")
    yield KeyEntry(mark[0], f"{frame.named('Mains' + sized, shown.mains)}; {turned}", mark[1], mark[2])
    yield KeyEntry("mains-line", "Axes of the mains")
    yield KeyEntry("ray", "From the centre to each seat")
    yield KeyEntry("arc", f"As far from the primary seat as the nearer main; the centre is {gap} ({late}) {off} it")
    yield KeyEntry("seat-primary", "Primary seat", None, "dot")
    if not all(seat.regular for seat in shown.seats):
        yield KeyEntry("seat-occasional", "Occasional seat, not judged", None, "dot")
