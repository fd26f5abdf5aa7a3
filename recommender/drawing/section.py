"""The numbers of a side section, and what both its views show: the place cut through, and the box in it."""

from __future__ import annotations

from dataclasses import dataclass

from triptych.recommender.drawing.canvas import Canvas, Point
from triptych.recommender.drawing.frame import View
from triptych.recommender.drawing.shapes import BOARD, Cabinet, DrawnPicture, Opening, Tilted


@dataclass(frozen=True, slots=True)
class Side:
    """What a side section shows. Lengths in m, angles in deg; None where a figure is not known.

    Parameters
    ----------
    centre : str
        `Standing.speaker`.
    place : Opening
        The `scene.Place` named `Standing.place`.
    box : Cabinet
        The row of `Boxes` in the pose `Standing.pose`.
    baffle : float
        Front wall to baffle: `Aim.baffle` (= `scene.Place.front` - `scene.Place.setback`).
    tilt : float or None
        `quantities["tilt_used_deg"]` (= `Aim.tilt_used`), positive looking up.
    residual : float or None
        `quantities["residual_deg"]`.
    ear_distance : float
        `Seats.distance[primary]`, from the front wall.
    ear : float
        `Seats.ear_height[primary]`.
    free_depth : float or None
        `aiming.free_depth(place)`: front edge to what stops the plugs.
    rear_allowance : float
        `aiming.rear_allowance(boxes)`.
    setback : float
        `scene.Place.setback`.
    bounce : float or None
        `notch` of the criterion surroundings; the path is drawn where this is known. [Hz]
    picture : DrawnPicture or None
        The room's picture.
    """

    centre: str
    place: Opening
    box: Cabinet
    baffle: float
    tilt: float | None
    ear_distance: float
    ear: float
    residual: float | None = None
    free_depth: float | None = None
    rear_allowance: float = 0.04
    setback: float = 0.0
    bounce: float | None = None
    picture: DrawnPicture | None = None

    @property
    def tilted(self) -> Tilted:
        """The box as it stands; upright where its tilt is not known."""
        return Tilted(self.box, self.tilt or 0.0)

    @property
    def axis(self) -> tuple[float, float] | None:
        """Where the axis leaves the box: from the front wall, and above the floor [m]."""
        point = self.tilted.axis
        return None if point is None else (self.baffle + point[0], self.place.base + point[1])

    @property
    def edge(self) -> float:
        """The front edge of the place, from the front wall [m]."""
        return self.baffle + self.setback

    @property
    def bounce_point(self) -> float | None:
        """Where the bounce touches the surface, from the front wall; None where there is no bounce on it [m]."""
        if self.bounce is None or self.axis is None:
            return None
        out, height = self.axis[0], self.axis[1] - self.place.base
        rise = self.ear - self.place.base
        if height <= 0 or rise <= 0:
            return None
        point = out + (self.ear_distance - out) * height / (height + rise)
        return point if point <= self.edge else None

    @property
    def top(self) -> float:
        """The highest thing above the floor [m]."""
        heights = [self.ear + 0.15, self.place.base + self.tilted.height]
        heights.append(self.place.base + self.place.height + BOARD if self.place.height is not None else 0.0)
        heights.append(self.picture.bottom + self.picture.height if self.picture else 0.0)
        return max(heights) + 0.05


def boards(canvas: Canvas, shown: Side, view: View) -> None:
    """Draw the place in section: what the box stands on, what is above and behind it."""
    place, edge = shown.place, shown.edge
    depth = place.depth if place.depth is not None else edge
    rear, low = max(edge - depth, 0.0), place.base
    if place.kind == "wall":
        return
    thick = min(BOARD, low)
    if thick > 0:
        canvas.rectangle(view.box(rear, low - thick, edge, low), "place", "surface", "rising")
    if place.kind == "stand" and low > thick:
        middle = (rear + edge) / 2
        canvas.rectangle(view.box(middle - 0.03, 0.0, middle + 0.03, low - thick), "place", None, "rising")
    if place.framed and place.height is not None:
        high = low + place.height
        canvas.rectangle(view.box(rear, high, edge, high + BOARD), "place", "lid", "rising")
        if place.closed:
            canvas.rectangle(view.box(max(rear - BOARD, 0.0), low, rear, high), "place", "back", "rising")


def box(canvas: Canvas, shown: Side, view: View, part: str) -> None:
    """Draw the box as it is tilted, on its feet."""
    tilted, cabinet = shown.tilted, shown.box
    rims = [(0.0, cabinet.feet), (0.0, cabinet.stood), (cabinet.depth, cabinet.stood), (cabinet.depth, cabinet.feet)]
    canvas.polygon([_on(view, shown, tilted.point(*rim)) for rim in rims], "centre", part, "falling")
    for foot in (0.08, 0.82) if cabinet.feet else ():
        near, far = foot * cabinet.depth, (foot + 0.1) * cabinet.depth
        corners = [(near, 0.0), (near, cabinet.feet), (far, cabinet.feet), (far, 0.0)]
        canvas.polygon([_on(view, shown, tilted.point(*corner)) for corner in corners], "centre")


def _on(view: View, shown: Side, point: tuple[float, float]) -> Point:
    return view.at(shown.baffle + point[0], shown.place.base + point[1])
