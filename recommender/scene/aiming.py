"""Where a box ends up in a place, how far it can be tilted at the ears, and what is left over."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.physics import geometry
from triptych.recommender.physics.direction import point_in_box
from triptych.recommender.scene.arrays import BoolArray, Boxes, FloatArray, IndexArray, Picture, PlaceFigures, Seats
from triptych.recommender.scene.structures import Arrays

TOP_CLEARANCE: Final = 0.010
"""Free height above a box in an opening [m]. Common practice, no source."""

SIDE_CLEARANCE: Final = 0.005
"""Free width at each side of a box in an opening [m]. Common practice, no source."""

REAR_ALLOWANCE: Final = 0.040
"""Terminals, plug and cable bend where the datasheet is silent [m]. Common practice, no source."""

FEET_AT_MOST: Final = 0.015
"""Feet that a datasheet doesn't mention [m]: 8 to 15 mm. Common practice, no source."""

AXIS_SHARE: Final = 0.8
"""Where the axis of an upright box is taken to be, as a share of its height, until somebody says. Common practice."""

LIKELY_BASE: Final = {"cavity": 0.3, "open_shelf": 0.25, "stand": 0.25, "wall": 0.3, "behind_screen": 0.4}
"""Floor of a place until somebody measures it, by kind, 0.5 for others [m]. Assumed; what rests on it is marked."""

LIKELY_HEIGHT: Final = 0.2
"""Height of a box until somebody states it [m]. Assumed; what rests on it is marked unknown."""

LIKELY_DEPTH: Final = 0.3
"""Depth of a box until somebody states it [m]. Assumed; what rests on it is marked unknown."""

PLAUSIBLE_DEPTH: Final = (0.2, 0.34)
"""The least and the most depth of a box of which nobody stated it [m]: centres of the usual volume. Common practice, no
source."""

EARS: Final = (0.85, 1.2)
"""Between which heights an ear is that nobody measured: reclined to upright [m]. Common practice, no source."""

CLEAR_BEHIND: Final = {"stand": (0.05, 0.65), "behind_screen": (0.1, 0.7)}
"""Between how much is free behind a box, or behind the furniture that it is on, of which nobody said how far from the
wall it is, by kind, 0 to 0.2 for furniture [m]. Assumed."""

NEAREST: Final = 0.1
"""No ear is nearer to a baffle than this [m]; a room that says so is refused when it is read."""

LARGEST_TILT: Final = 30.0
"""No cradle or wedge tilts a centre further [deg]. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Aim(Arrays):
    """N boxes as they stand in one place. [m, deg]; elevation and tilts are signed, tilts positive looking up.

    Every number is finite: what isn't known is put at a likely value, and marked. `axis_unknown` says that only the
    height of the box's own axis was guessed, `unknown` that the height of the place was, `assumed` that of the ear or
    the distance: `missing` names which, and `ends` are the aims at the ends of what those may plausibly be. `untried`
    says that nobody knows how far a box may tilt, as the opening, the picture over it or the box isn't measured: it is
    taken to tilt by half of what it needs, or by the mean of what fits at the depths it may have, and `tilt_fits` is
    NaN.
    `residual` is what the tilt that is used leaves between where the box points and the ear, positive below the ear.
    `residual_on_feet` is what is left of the tilt where feet that nobody stated are as high as they may be.
    `axis_height`, `ear_distance` and `elevation` are those of the box before it is tilted; `tilted_height`,
    `tilted_front` and `tilted_distance` say where its axis is then: above the floor, from the front wall, and from the
    ear in plan. The ear is `aside` of the middle.
    """

    axis_unknown: BoolArray
    unknown: BoolArray
    baffle: FloatArray
    floor: FloatArray
    ear_height: float
    axis_height: FloatArray
    ear_distance: FloatArray
    elevation: FloatArray
    tilt_needed: FloatArray
    tilt_fits: FloatArray
    tilt_allowed: float
    tilt_used: FloatArray
    residual: FloatArray
    residual_on_feet: FloatArray
    envelope_height: FloatArray
    envelope_depth: FloatArray
    rear_clearance: FloatArray
    lift: FloatArray
    tilted_height: FloatArray
    tilted_front: FloatArray
    untried: BoolArray
    tilted_distance: FloatArray
    aside: float
    assumed: BoolArray
    missing: tuple[str, ...] = ()
    ends: tuple[Aim, ...] = ()

    @property
    def guessed(self) -> BoolArray:
        """Whether anything of where a box stands and where the ear is was guessed."""
        return self.unknown | self.assumed

    @property
    def likely_residual(self) -> FloatArray:
        """What is left of the tilt, in the middle of what feet that nobody stated leave [deg]."""
        return np.asarray((np.abs(self.residual) + np.abs(self.residual_on_feet)) / 2)


def aim_question(aim: Aim) -> str:
    """What to ask of a place and the ear so that a box can be aimed; nothing that is known."""
    high = [name for name in ("the place", "the ear") if name in aim.missing]
    far = "how far is the place's front edge from the front wall" if "the front" in aim.missing else ""
    above = f"how high above the floor {'is' if len(high) == 1 else 'are'} {' and '.join(high)}" if high else ""
    asked = ", and ".join(part for part in (above, far) if part)
    return f"{asked[:1].upper()}{asked[1:]}?"


def free_depth(place: PlaceFigures) -> float:
    """The depth behind the place's front edge up to what stops plugs: its back panel or the front wall [m]."""
    if place.kind == "cavity" and place.back != "open":
        return place.depth
    if place.kind == "open_shelf" and place.back == "closed":
        return place.depth
    if place.kind in ("cavity", "open_shelf", "top", "stand"):
        return place.depth if np.isnan(place.front) else place.front
    return float(np.fmin(place.front, place.depth))


def opening_height(place: PlaceFigures) -> float:
    """The height a box may take in the place, its clearance taken off; inf where nothing is above it [m]."""
    return np.inf if np.isnan(place.height) else place.height - TOP_CLEARANCE


def rear_allowance(boxes: Boxes) -> FloatArray:
    """The depth that plugs and cables need behind each box [m]."""
    return np.where(np.isnan(boxes.rear_allowance), REAR_ALLOWANCE, boxes.rear_allowance)


def stood_height(boxes: Boxes) -> FloatArray:
    """The height of each box on its feet; feet that nobody stated count as none here [m]."""
    return boxes.height + np.nan_to_num(boxes.feet)


def baffle_distance(boxes: Boxes, place: PlaceFigures) -> FloatArray:
    """Front wall to baffle [m]; a box on a wall stands off by its own depth and plugs, NaN where that isn't known."""
    if np.isnan(place.front):
        against_wall = boxes.depth + rear_allowance(boxes)
        return against_wall if place.kind == "wall" else np.full(len(boxes), np.nan)
    return np.full(len(boxes), place.front - place.setback)


def aim(
    boxes: Boxes, place: PlaceFigures, seats: Seats, base: FloatArray | None = None, picture: Picture | None = None
) -> Aim:
    """PlaceFigures each box with its baffle where the place has it and tilt it at the primary ear as far as it fits.

    Its foremost point is where the baffle was. Tilt and lift are found together: the front edge that is raised raises
    the axis. `base` is how high each box stands where each has a surface of its own. Nothing that clears a picture
    while it stands flat is tilted into it.
    """
    measured, ear = baffle_distance(boxes, place), float(seats.ear_height[seats.primary])
    nearest, farthest = _baffles(boxes, place)
    likely = (nearest + farthest) / 2 if np.isnan(measured).any() else measured

    def aimed(height: float, baffle: FloatArray) -> Aim:
        return _aimed(boxes, place, seats, picture, base, height, np.where(np.isnan(measured), baffle, measured))

    found = aimed(ear, likely)
    heard, stated = not np.isnan(measured).any(), bool(seats.ear_stated[seats.primary])
    told = {"the place": not found.unknown.any(), "the ear": stated, "the front": heard}
    return replace(
        found,
        assumed=np.isnan(measured) | (not stated),
        missing=tuple(name for name, there in told.items() if not there),
        ends=tuple(
            aimed(height, baffle)
            for height in ((ear,) if stated else EARS)
            for baffle in ((measured,) if heard else (nearest, farthest))
            if not (stated and heard)
        ),
    )


def _baffles(boxes: Boxes, place: PlaceFigures) -> tuple[FloatArray, FloatArray]:
    """The nearest to the wall and the farthest from it that a baffle of which nobody said so plausibly is [m]."""
    depth = np.where(np.isnan(boxes.depth), LIKELY_DEPTH, boxes.depth)
    back, (low, most) = np.fmax(depth, place.depth), clear_behind(place.kind)
    return back + low - place.setback, back + most - place.setback


def clear_behind(kind: str) -> tuple[float, float]:
    """The least and the most free depth behind a place of which nobody said how far off the wall it is [m]."""
    return CLEAR_BEHIND.get(kind, (0.0, 0.2))


def _aimed(
    boxes: Boxes,
    place: PlaceFigures,
    seats: Seats,
    picture: Picture | None,
    base: FloatArray | None,
    ear: float,
    baffle: FloatArray,
) -> Aim:
    """Each box as it is aimed at an ear of a height, with its baffle at a distance from the wall. [m]."""
    depth = np.where(np.isnan(boxes.depth), LIKELY_DEPTH, boxes.depth)
    aside = float(seats.x[seats.primary])
    surveyed = np.full(len(boxes), place.base) if base is None else base
    floor = np.where(np.isnan(surveyed), LIKELY_BASE.get(place.kind, 0.5), surveyed)
    along = np.maximum(seats.distance[seats.primary] - baffle, NEAREST)
    height = np.where(np.isnan(boxes.height), LIKELY_HEIGHT, boxes.height)
    axis_unknown = np.isnan(boxes.axis)
    axis = np.nan_to_num(boxes.feet) + np.where(axis_unknown, AXIS_SHARE * height, boxes.axis)
    tall = height + np.nan_to_num(boxes.feet)
    needed = geometry.aimed_tilt(tall, depth, axis, ear - floor, along, aside)
    allowed, below = allowed_tilt(place), np.full(len(boxes), np.nan) if picture is None else picture.bottom - floor

    def fitting(stood: Boxes) -> FloatArray:
        found = _tilt_that_fits(stood, place)
        if picture is None or place.kind == "behind_screen":
            return found
        return _clear_of_picture(stood, below, np.minimum(np.abs(needed), allowed), found)

    def reached(stood: Boxes) -> FloatArray:
        if not deep.any():
            return np.asarray(np.fmin(used, fitting(stood)))
        ways = [fitting(replace(stood, depth=np.where(deep, far, stood.depth))) for far in PLAUSIBLE_DEPTH]
        tried = np.mean([np.minimum(np.abs(needed), np.fmin(way, allowed)) for way in ways], axis=0)
        return np.where(deep, tried, np.fmin(used, ways[0]))

    fits = fitting(boxes)
    sign = np.where(needed < 0, -1.0, 1.0)
    limited = place.kind == "cavity" or not np.isnan(place.height)
    free = place.kind in ("cavity", "behind_screen")
    unhung = picture is not None and picture.stated and bool(np.isnan(picture.bottom)) and not free
    untried = unhung | (limited & (np.isnan(fits) | np.isnan(place.height)))
    wanted = np.where(untried, np.abs(needed) / 2, np.abs(needed))
    used = np.minimum(wanted, np.where(np.isnan(fits), allowed, fits))
    deep = np.isnan(boxes.depth) & ~np.isnan(boxes.height) & ~(unhung | (limited & bool(np.isnan(place.height))))
    used = reached(boxes) if deep.any() else used
    unstated = np.isnan(boxes.feet)
    most_feet = np.clip(opening_height(place) - height, 0.0, FEET_AT_MOST)
    on_feet = replace(boxes, feet=np.where(unstated, most_feet, boxes.feet)) if unstated.any() else None
    tilted = geometry.tilted_axis(tall, depth, axis, sign * used)

    def left(tilt: FloatArray) -> FloatArray:
        found = geometry.left_to_ear(tall, depth, axis, sign * tilt, ear - floor, along, aside)
        return np.where(tilt >= np.abs(needed), 0.0, sign * np.maximum(sign * found, 0.0))

    ear_distance = np.hypot(along, aside)
    stood = stood_height(boxes)
    envelope_depth = geometry.tilted_depth(stood, boxes.depth, used)
    return Aim(
        axis_unknown=axis_unknown,
        unknown=np.isnan(surveyed),
        baffle=baffle,
        floor=floor,
        ear_height=ear,
        axis_height=floor + axis,
        ear_distance=ear_distance,
        elevation=geometry.elevation(floor + axis, ear, ear_distance),
        tilt_needed=needed,
        tilt_fits=np.where(untried, np.nan, sign * fits),
        tilt_allowed=allowed,
        tilt_used=sign * used,
        residual=left(used),
        residual_on_feet=left(used if on_feet is None else reached(on_feet)),
        envelope_height=geometry.tilted_height(stood, boxes.depth, used),
        envelope_depth=envelope_depth,
        rear_clearance=depth_behind(boxes, place) - place.setback - envelope_depth,
        lift=geometry.lift(boxes.depth, used),
        tilted_height=floor + tilted.height,
        tilted_front=baffle - tilted.behind,
        untried=untried,
        tilted_distance=np.hypot(along + tilted.behind, aside),
        aside=aside,
        assumed=np.zeros(len(boxes), dtype=np.bool_),
    )


def depth_behind(boxes: Boxes, place: PlaceFigures) -> FloatArray:
    """From the place's front edge to what is behind it [m]; a bracket holds a box off a wall by its plugs."""
    if place.kind == "wall" and np.isnan(free_depth(place)):
        return boxes.depth + rear_allowance(boxes)
    return np.full(len(boxes), free_depth(place))


def allowed_tilt(place: PlaceFigures) -> float:
    """The most that somebody allows, or that a wedge gives [deg]."""
    return float(np.fmin(place.tilt_limit, LARGEST_TILT))


def _tilt_that_fits(boxes: Boxes, place: PlaceFigures) -> FloatArray:
    """The largest tilt that fits and is allowed, either way; NaN where a needed size is unknown, 0 where none fits."""
    depth = free_depth(place) - place.setback
    opening_depth = np.inf if np.isnan(depth) else depth - rear_allowance(boxes)
    limit = geometry.largest_tilt(
        stood_height(boxes), boxes.depth, opening_height(place), np.maximum(opening_depth, 1e-3)
    )
    known = ~np.isnan(boxes.height) & ~np.isnan(boxes.depth)
    return np.where(known, np.minimum(np.nan_to_num(limit), allowed_tilt(place)), np.nan)


UNDER_THE_PICTURE: Final = 1e-6
"""So far below its lower edge a box stays that may tilt up to it, for sums of floats [m]."""


def _clear_of_picture(boxes: Boxes, free: FloatArray, needed: FloatArray, fits: FloatArray) -> FloatArray:
    """The tilts that fit, less where a box that clears the picture while it stands flat would tilt into it [deg].

    `free` is from the floor of the place to the lower edge of the picture [m].
    """
    stood = stood_height(boxes)
    hides = geometry.tilted_height(stood, boxes.depth, np.minimum(needed, np.nan_to_num(fits, nan=LARGEST_TILT))) > free
    clears = np.flatnonzero((stood <= free) & hides)
    limit = geometry.largest_tilt(stood[clears], boxes.depth[clears], free[clears] - UNDER_THE_PICTURE, np.inf)
    found = fits.copy()
    found[clears] = np.fmin(np.nan_to_num(limit), fits[clears])
    return found


def elevation_range(boxes: Boxes, aim: Aim) -> tuple[FloatArray, FloatArray]:
    """The least and the largest elevation [deg] that an axis anywhere on the front of each box could have."""
    height = np.where(np.isnan(boxes.height), LIKELY_HEIGHT, stood_height(boxes))
    low = geometry.elevation(aim.floor, aim.ear_height, aim.ear_distance)
    high = geometry.elevation(aim.floor + height, aim.ear_height, aim.ear_distance)
    least = np.where(low * high < 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    return least, np.maximum(np.abs(low), np.abs(high))


def residual_range(boxes: Boxes, aim: Aim, tilt: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The least and the most that so much tilt may leave [deg] where the axis may be anywhere on the front of each box.

    Its lift takes off depth/distance of it more, where it looks up.
    """
    lowest, highest = elevation_range(boxes, aim)
    depth = np.where(np.isnan(boxes.depth), LIKELY_DEPTH, boxes.depth)
    lifted = tilt * (1 + np.where(aim.tilt_needed > 0, depth / aim.ear_distance, 0.0))
    return np.maximum(lowest - lifted, 0), np.maximum(highest - tilt, 0)


def seat_offsets(aim: Aim, seats: Seats) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Each seat from the axis of each tilted box: to the right, up and ahead in the room [m], [S], [N, S], [N, S]."""
    ahead = np.maximum(seats.distance - aim.tilted_front[:, None], NEAREST)
    return seats.x, seats.ear_height - aim.tilted_height[:, None], ahead


def seat_points(aim: Aim, seats: Seats, which: IndexArray | slice = slice(None)) -> FloatArray:
    """Seats in the frame of each box as it is tilted: right, up, and out of its baffle [m], [N, S, 3]."""
    x, rise, ahead = seat_offsets(aim, seats)
    inside = point_in_box(x[which], rise[:, which], ahead[:, which], tilt=aim.tilt_used[:, None])
    return np.stack(inside, axis=-1)


def own_azimuth(aim: Aim, seats: Seats, seat: int) -> FloatArray:
    """The angle of one seat from the axis of each box in the plan of the room, from its own baffle [deg]."""
    return geometry.azimuth(seats.x[seat], np.maximum(seats.distance[seat] - aim.baffle, NEAREST))
