"""What floor and front wall make of loudspeakers at the regular seats, as ranges where the room doesn't say.

What a floor gives back is a range however well it is known: that of its kind, or from none to a rigid one where the
room doesn't say what covers it. Every figure in between is as likely, and is carried through as such.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.physics import boundary, reflection
from triptych.recommender.physics.floor import ABSORPTION, given_back
from triptych.recommender.physics.kernel import Single
from triptych.recommender.scene.aiming import LIKELY_HEIGHT, Aim
from triptych.recommender.scene.arrays import Boxes, FloatArray, InRoom, PlaceFigures, Seats, Stands

FLOORS: Final = (0.0, 0.5 - np.sqrt(1 / 12), 0.5 + np.sqrt(1 / 12), 1.0)
"""From the least to the most that the floor gives back [1]: both ends, and the two places of Gauss's rule.

The mean of any square of a straight line over all floors is that over the two places.
"""

EVERY_FLOOR: Final = (1, 2)
"""Those of them that stand for all floors alike."""

LAST_FLOORS: Final = (0, 3)
"""Those of them between which all floors are."""

MAINS_AXIS: Final = (0.75, 0.92, 1.10)
"""Low, likely and high axis of the mains above the floor where nobody stated it [m]. Common practice, no source."""

OFF_THE_WALL: Final = (0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0, 1.3, 1.7, 2.2, 100.0)
"""How far a box may stand off the wall where the room doesn't say [m]: from its back at it to where none matters."""

FRONT_WIDTHS: Final = (0.1, 0.15, 0.2, 0.3, 0.4)
"""What the narrower side of a box may be where nobody stated it [m]. Common practice, no source."""

WIDER: Final = (1.0, 1.25, 1.6, 2.0, 3.0, 5.0, 1e3)
"""How many times as wide as its bay the front of furniture may be where the room doesn't say [1]."""

SAME_FRONT: Final = 0.02
"""Two surfaces of one piece of furniture have their front edges this near to each other [m]."""

THICKEST_BOARD: Final = 0.12
"""From the top of a bay to the top of its furniture at most [m]: a board, or a drawer over it. Common practice."""


def floor_between(kind: str) -> FloatArray:
    """The least and the most of the pressure that a floor of a kind gives back, [2, B] [1]."""
    return given_back(ABSORPTION[kind])[::-1]


def _floors(kind: str) -> Single:
    """The part of the pressure that each of `FLOORS` gives back, [F, B] [1].

    Where nobody says what covers it anything between none and a rigid one may be, and a covered one is as likely as a
    hard one: what a rug, a table or feet may take besides must not make the likely figure better than both.
    """
    part = np.array(FLOORS)[:, None]
    least, most = floor_between(kind)
    given = least + part * (most - least)
    if kind == "unknown":
        given[list(EVERY_FLOOR)] = [floor_between(one).mean(axis=0) for one in ("carpet", "hard")]
    return np.asarray(given, np.float32)


MIRRORED_AT_ONCE: Final = 64
"""So many loudspeakers at all seats over all floors stay in a processor core's own cache."""


@dataclass(frozen=True, slots=True)
class Images:
    """What floor and wall add to N loudspeakers: to the direct sound at each seat, and to the sound power.

    `floors` is the part of the pressure that each floor gives back [F, B] [1]; `strength` is the pressure of a rigid
    one's image re the direct sound and `in_step` how far it is in step with it [N, S, B] [1]; `wall` is what the wall
    adds to the direct sound [N, B], `floor_power` and `wall_power` what both add to the sound power [N, F, B], [N, B]
    [dB]; `unknown` is as in `InRoom`.
    """

    floors: Single
    strength: Single
    in_step: Single
    wall: FloatArray
    floor_power: FloatArray
    wall_power: FloatArray
    unknown: FloatArray

    def around(self, free: InRoom) -> InRoom:
        """What is heard here of loudspeakers that are known in free air."""
        count, seats, bands = self.strength.shape
        heard = np.empty((count, len(FLOORS), seats, bands), np.float32)
        for start in range(0, count, MIRRORED_AT_ONCE):
            some = slice(start, start + MIRRORED_AT_ONCE)
            np.add(boundary.filled(self._power(some)), free.direct[some], out=heard[some])
        sent = free.power + (self.floor_power + self.wall_power[:, None]).astype(np.float32)
        return replace(free, direct=heard, power=sent, unknown=self.unknown)

    def _power(self, some: slice) -> Single:
        """Power of the direct sound of some with all its images, re the direct sound [n, F, S, B] [1]."""
        seats = self.strength.shape[1]
        # spelled out for each seat, so that the product runs over all of them at once
        part = self.floors[:, None].repeat(seats, axis=1) * self.strength[some, None]
        power = part + 2 * self.in_step[some, None]
        power *= part
        power += 1
        wall = 10 ** (self.wall[some, None] / 10).astype(np.float32)
        power *= wall.repeat(seats, axis=1)[:, None]
        return power


def centre_images(
    boxes: Boxes,
    place: PlaceFigures,
    places: Sequence[PlaceFigures],
    aim: Aim,
    seats: Seats,
    sent: Single,
    floor: str = "unknown",
) -> Images:
    """What floor and wall add to centres in one place of a room.

    `sent` is what each sends down to the floor less what it sends to the primary ear [N, B], `floor` what covers it.
    """
    order = seats.judged
    along = np.maximum(seats.distance[order] - aim.tilted_front[:, None], 0.1)
    distance = np.hypot(along, seats.x[order])
    fronts = _fronts(boxes, place, places)
    walls = [_wall(width, off, distance[:, 0]) for off in _baffles(boxes, place, aim) for width in fronts]
    height = np.where(np.isnan(boxes.height), LIKELY_HEIGHT, boxes.height)
    ends = aim.floor + np.linspace(0.1, 1.0, 5)[:, None] * height
    heights = np.where(aim.axis_unknown, ends, aim.tilted_height)
    return _images(walls, aim.tilted_height, heights, seats.ear_height[order], distance, sent, _floors(floor))


def floor_elevation(aim: Aim) -> FloatArray:
    """The angle below each tilted box's own axis at which sound leaves for the floor, as an elevation [deg]."""
    below = reflection.bounce_angle(np.maximum(aim.tilted_height, 0.0), aim.ear_height, aim.tilted_distance)
    return np.asarray(-below - aim.tilt_used)


def mains_images(stands: Stands, seats: Seats, sent: Single) -> Images:
    """What floor and wall add to the mains, left and right alike; `sent` as for centres."""
    order = seats.judged
    along = seats.distance[order] - stands.from_wall[:, None]
    side = np.hypot(along[..., None], seats.x[order][:, None] + np.array([0.5, -0.5]) * stands.spacing)
    distance = side.mean(axis=-1)
    steps = (0.0,) if stands.wall_stated else OFF_THE_WALL
    walls = [_wall(width, stands.from_wall + step, distance[:, 0]) for step in steps for width in _sides(stands.front)]
    untold = np.isnan(stands.axis_height)
    ends = np.linspace(MAINS_AXIS[0], MAINS_AXIS[2], 5)[:, None]
    heights = np.where(untold, ends, stands.axis_height)
    likely = np.where(untold, MAINS_AXIS[1], stands.axis_height)
    return _images(walls, likely, heights, seats.ear_height[order], distance, sent, _floors(stands.floor))


def _images(
    walls: list[tuple[FloatArray, FloatArray]],
    axis: FloatArray,
    heights: FloatArray,
    ear: FloatArray,
    distance: FloatArray,
    sent: Single,
    floors: Single,
) -> Images:
    """Images off any of some walls, of which one is there, and off the floor under axes at one of some heights."""
    wall, wall_off = _middle(level for level, _ in walls)
    wall_power, power_off = _middle(level for _, level in walls)
    strength, difference = _floor(axis[:, None], ear, distance, sent[:, None])
    off = _axis_off(axis, heights, ear[:1], distance[:, 0], sent, floors[-1])
    return Images(
        floors=floors,
        strength=strength,
        in_step=boundary.in_step(difference),
        wall=wall,
        floor_power=boundary.power_in_bands(floors, axis[:, None]),
        wall_power=wall_power,
        unknown=np.sqrt((wall_off**2 + power_off**2) / 2) + off / np.sqrt(2.0),
    )


def _wall(front: FloatArray | float, off: FloatArray, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What the front wall adds to direct sound and sound power, for fronts of a width, so far off it [dB, dB]."""
    difference = 2.0 * off
    strength = boundary.wall_image(front, difference, distance)
    back = boundary.wall_image(front, np.zeros_like(difference), distance)
    return boundary.image_in_bands(strength, difference), boundary.power_in_bands(back, off)


def _middle(levels: Iterable[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """The middle of several shapes of a response [N, B], and by how much any of them is off it [dB rms]."""
    stacked = np.stack(list(levels))
    if len(stacked) == 1:
        return stacked[0], np.zeros(stacked.shape[1])
    stacked -= stacked.mean(axis=-1, keepdims=True)
    middle = (stacked.max(axis=0) + stacked.min(axis=0)) / 2
    return middle, np.sqrt(np.square(stacked - middle).mean(axis=-1)).max(axis=0)


def _floor(height: FloatArray, ear: FloatArray, distance: FloatArray, sent: Single) -> tuple[Single, FloatArray]:
    """The pressure of a rigid floor's image re the direct sound [..., B] [1], and how much longer its way is [m]."""
    nearer = reflection.reflected_level(height, ear, distance).astype(np.float32)
    strength = np.asarray(10 ** ((nearer[..., None] + sent) / 20), np.float32)
    return strength, reflection.path_difference(height, ear, distance)


def _axis_off(
    axis: FloatArray, heights: FloatArray, ear: FloatArray, distance: FloatArray, sent: Single, floor: Single
) -> FloatArray:
    """By how much the direct sound may be off at the primary seat where the height of an axis isn't known [dB rms]."""
    found = np.zeros(len(axis))
    rows = np.flatnonzero((heights != axis).any(axis=0))
    if len(rows):
        images = [_floor(height, ear, distance[rows], sent[rows]) for height in (axis[rows], *heights[:, rows])]
        here, *others = (_with_image(floor * strength, difference) for strength, difference in images)
        for other in others:
            found[rows] = np.maximum(found[rows], np.std(other - here, axis=-1))
    return found


def _with_image(strength: Single, difference: FloatArray) -> Single:
    """The level of a direct sound with one image, filled as every seat's is [..., B] [dB]."""
    return boundary.filled(1.0 + 2.0 * strength * boundary.in_step(difference) + strength**2)


def _baffles(boxes: Boxes, place: PlaceFigures, aim: Aim) -> list[FloatArray]:
    """How far the baffles in a place may be from the wall [m]."""
    if np.isfinite(place.front) or place.kind == "wall":
        return [aim.baffle]
    depth = np.where(np.isnan(boxes.depth), 0.3, boxes.depth)
    return [depth + step for step in OFF_THE_WALL]


def _fronts(boxes: Boxes, place: PlaceFigures, places: Sequence[PlaceFigures]) -> list[FloatArray]:
    """How wide what the drivers of each box sit in may be, box or furniture [m]."""
    own = _sides(boxes.narrower)
    if place.kind != "cavity":
        return own
    return [np.full(len(boxes), width) for width in furniture_fronts(place, places)]


def _sides(narrower: FloatArray) -> list[FloatArray]:
    known = ~np.isnan(narrower)
    return [narrower] if known.all() else [np.where(known, narrower, width) for width in FRONT_WIDTHS]


def furniture_fronts(bay: PlaceFigures, places: Sequence[PlaceFigures]) -> tuple[float, ...]:
    """How wide the front of the furniture around a bay may be, one width where the room says it [m].

    It does where the top of the same piece is a place too. Standing on the floor, which mirrors it, it counts as wide
    as it is or as twice its height, whichever is less, and never less than its bay.
    """
    width = bay.width if np.isfinite(bay.width) else FRONT_WIDTHS[-1]
    tops = [other for other in places if _tops(other, bay)]
    if tops:
        return (max(width, min(tops[0].width, 2.0 * tops[0].base)),)
    return tuple(width * factor for factor in WIDER)


def _tops(top: PlaceFigures, bay: PlaceFigures) -> bool:
    """Whether a place is the top of the furniture that a bay is in."""
    over = top.base - (bay.base + bay.height)
    same = abs(top.front - bay.front) <= SAME_FRONT
    return top.kind == "top" and same and -1e-6 <= over <= THICKEST_BOARD and top.width >= bay.width
