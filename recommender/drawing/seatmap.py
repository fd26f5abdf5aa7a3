"""Seat map: what each seat hears of the centre, the deepest dip and at which frequency."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log10
from typing import Final

from triptych.recommender.drawing import frame, text
from triptych.recommender.drawing.canvas import LINE_PITCH, TEXT, Box, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit, angle, frequency, signed
from triptych.recommender.drawing.frame import PAPER_MARGIN, KeyEntry, View
from triptych.recommender.drawing.table import RADIUS, Badge, badge, seat_badge

DEEPEST_DRAWN: Final = 12.0
"""A deeper dip is drawn as one of this depth; its figure says how deep it is [dB]."""

LOWEST_DIP: Final = 200.0
HIGHEST_DIP: Final = 6000.0
"""The band in which dips are looked for [Hz]; `physics.coverage`."""

GRID: Final = (200.0, 500.0, 1000.0, 2000.0, 5000.0)
BAR_HEIGHT: Final = 12.0
"""Height of a bar of the deepest dip that is drawn [mm]."""


@dataclass(frozen=True, slots=True)
class SeatHearing:
    """What one seat hears of the centre.

    Parameters
    ----------
    name, x, distance, primary, regular
        The room's `Seat`. [m]
    angle, dip, dip_at, null
        `SeatAnswer.angle_deg` [deg], `.dip_db` [dB], `.dip_hz` and `.null_hz` [Hz]; None where not known.
    """

    name: str
    x: float
    distance: float
    angle: float
    dip: float | None
    dip_at: float | None
    null: float | None = None
    primary: bool = False
    regular: bool = True

    @property
    def depth(self) -> float:
        """How deep the dip is drawn, from 0 to 1."""
        return min(max(-(self.dip or 0.0), 0.0), DEEPEST_DRAWN) / DEEPEST_DRAWN


@dataclass(frozen=True, slots=True)
class SeatMap:
    """What a seat map shows.

    Parameters
    ----------
    centre : str
        `Standing.speaker`.
    baffle : float
        Front wall to the centre's baffle: `Aim.baffle`. [m]
    seats : tuple of SeatHearing
        `Standing.seats` joined with `RoomRecord.seats` by name, in the room's order.
    """

    centre: str
    baffle: float
    seats: tuple[SeatHearing, ...]


def seat_map(shown: SeatMap, unit: Unit = Unit.MILLIMETRE, width: float = frame.WIDTH) -> str:
    """Return the seat map as SVG: the seats from above, then one line a seat with its dip over frequency.

    Parameters
    ----------
    shown : SeatMap
        What to draw.
    unit : Unit
        What lengths are written in.
    width : float
        Width of the sheet; at least 90. [mm]

    Returns
    -------
    str
        A document of its own; the same for the same input.
    """
    canvas = frame.start("seatmap", width, "What each seat hears of the centre", _description(shown))
    scale = _map_scale(shown, canvas.width)
    under = f"Deepest dip, unsmoothed, against the centre’s own axis, 200 Hz to 6 kHz · map 1:{scale}"
    top = frame.head(canvas, "What each seat hears of the centre", under) + 3.0
    low = _map(canvas, shown, scale, top)
    low = _rows(canvas, shown, low + 3.0)
    return canvas.svg(frame.key(canvas, low, list(_key(shown))) + PAPER_MARGIN)


def _description(shown: SeatMap) -> str:
    return f"{shown.centre}: " + "; ".join(f"{seat.name} {_told(seat)}" for seat in shown.seats) + "."


def _told(seat: SeatHearing) -> str:
    if seat.dip is None:
        return "not known"
    where = f" at {frequency(seat.dip_at)}" if seat.dip_at is not None else ""
    return signed(seat.dip, 1, "dB") + where


def _badge(index: int, seat: SeatHearing) -> Badge:
    return Badge(index + 1, seat.primary, seat.regular)


def _extent(shown: SeatMap) -> tuple[float, float, float]:
    xs = [0.0, *(seat.x for seat in shown.seats)]
    return min(xs) - 0.3, max(xs) + 0.3, max(shown.baffle, *(seat.distance for seat in shown.seats))


def _map_scale(shown: SeatMap, width: float) -> int:
    left, right, far = _extent(shown)
    return frame.scale_for(right - left, far, width - 2 * PAPER_MARGIN - 6 * RADIUS, 0.6 * width)


def _map(canvas: Canvas, shown: SeatMap, scale: int, top: float) -> float:
    left, right, far = _extent(shown)
    k = 1000 / scale
    view = View(scale, Point(canvas.width / 2 - (left + right) / 2 * k, top), down=True)
    low = top + far * k + RADIUS + 1.0
    bounds = Box(PAPER_MARGIN, top, canvas.width - PAPER_MARGIN, low + 1.5 * RADIUS)
    edge = canvas.width - PAPER_MARGIN
    canvas.rectangle(Box(PAPER_MARGIN, top - 1.6, edge, top), "hatched", hatching="wall")
    canvas.line(Point(PAPER_MARGIN, top), Point(edge, top), "ground", "wall")
    source = view.at(0.0, shown.baffle)
    for index, seat in enumerate(shown.seats):
        canvas.line(source, view.at(seat.x, seat.distance), "ray", f"ray-{index + 1}")
    canvas.rectangle(Box(source.x - 4, source.y - 2.5, source.x + 4, source.y), "centre", "centre", "falling")
    for index, seat in enumerate(shown.seats):
        seat_badge(canvas, view.at(seat.x, seat.distance), _badge(index, seat), bounds)
    for index, seat in enumerate(shown.seats):
        _bar(canvas, view.at(seat.x, seat.distance), seat, index, bounds)
    return bounds.bottom


def _bar(canvas: Canvas, here: Point, seat: SeatHearing, index: int, bounds: Box) -> None:
    """A bar that hangs beside the seat: the frame is 12 dB, the filled part the dip."""
    for side in (1, -1):
        x, y = here.x + side * (RADIUS + 2.2), here.y - RADIUS - BAR_HEIGHT + 2 * RADIUS
        frame = Box(x - 1.1, y, x + 1.1, y + BAR_HEIGHT)
        if canvas.free(frame) and frame.within(bounds):
            break
    else:
        return
    canvas.reserve(frame)
    canvas.rectangle(frame, "outline" if seat.dip is not None else "plugs", f"frame-{index + 1}")
    if seat.depth > 0:
        filled = Box(frame.left, frame.top, frame.right, frame.top + BAR_HEIGHT * seat.depth)
        canvas.rectangle(filled, "dip", f"bar-{index + 1}")


def _rows(canvas: Canvas, shown: SeatMap, top: float) -> float:
    """One line a seat: badge, name and angle, figure, and below it the dip where it is on a log axis."""
    left, right = PAPER_MARGIN + 2 * RADIUS + 2, canvas.width - PAPER_MARGIN
    y = top
    for index, seat in enumerate(shown.seats):
        y = _row(canvas, seat, index, left, right, y)
    for hertz in GRID:
        canvas.text(_at(hertz, left, right), y + TEXT * LINE_PITCH - 0.5, frequency(hertz), "note", "middle", 2.6)
    return y + TEXT * LINE_PITCH + 3.0


def _row(canvas: Canvas, seat: SeatHearing, index: int, left: float, right: float, top: float) -> float:
    words = canvas.text(right, top + TEXT * LINE_PITCH, _told(seat), anchor="end")
    label = f"{text.clean(seat.name)}, {angle(seat.angle)}"
    shown = text.fit(label, TEXT, words.left - left - 2)
    canvas.text(left, top + TEXT * LINE_PITCH, shown, full=label)
    zero, tall = top + TEXT * LINE_PITCH + 2.0, 7.0
    badge(canvas, Point(PAPER_MARGIN + RADIUS, zero + 1.0), _badge(index, seat))
    for hertz in GRID:
        x = _at(hertz, left, right)
        canvas.line(Point(x, zero), Point(x, zero + tall), "grid")
    canvas.line(Point(left, zero), Point(right, zero), "thin", f"zero-{index + 1}")
    if seat.dip is not None and seat.dip_at is not None:
        x = _at(seat.dip_at, left, right)
        depth = tall * seat.depth
        notch = [Point(x - 1.6, zero), Point(x, zero + depth), Point(x + 1.6, zero)]
        canvas.polygon(notch, "dip", f"dip-{index + 1}")
    if seat.null is not None and LOWEST_DIP <= seat.null <= HIGHEST_DIP:
        x = _at(seat.null, left, right)
        canvas.polygon(frame.diamond(Point(x, zero)), "null", f"null-{index + 1}")
    return zero + tall + 1.0


def _at(hertz: float, left: float, right: float) -> float:
    """Where a frequency stands on the log axis, kept on it; the room at its ends is for the words under it."""
    inner, outer = left + 8.0, right - 8.0
    part = log10(min(max(hertz, LOWEST_DIP), HIGHEST_DIP) / LOWEST_DIP) / log10(HIGHEST_DIP / LOWEST_DIP)
    return inner + part * (outer - inner)


def _key(shown: SeatMap) -> Iterator[KeyEntry]:
    yield KeyEntry("centre", frame.named("Centre", shown.centre), "falling", "patch")
    yield KeyEntry("dip", "Deepest dip; a full bar, or a wedge down to the next row, is 12 dB or more", None, "patch")
    if any(seat.null is not None for seat in shown.seats):
        yield KeyEntry("null", "Where two drivers side by side cancel at that seat", None, "diamond")
    if any(seat.dip is None for seat in shown.seats):
        yield KeyEntry("plugs", "Not known: the datasheet says too little of the drivers", None, "patch")
    yield KeyEntry("seat-primary", "Primary seat", None, "dot")
    if not all(seat.regular for seat in shown.seats):
        yield KeyEntry("seat-occasional", "Occasional seat, not judged", None, "dot")
