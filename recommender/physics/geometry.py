"""Where a box stands, how it is aimed, and how far it may be tilted where it stands.

Azimuth is seen from the loudspeaker, elevation from the ear; x is to the right, y toward the listeners, z up.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import NANOMETRE

__all__ = [
    "aimed_tilt",
    "azimuth",
    "elevation",
    "height_difference_angle",
    "largest_tilt",
    "left_to_ear",
    "lift",
    "tilted_axis",
    "tilted_depth",
    "tilted_height",
]

TILT_STEPS = 5
"""Towards the tilt of a lifted box."""


def elevation(axis_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the elevation of a loudspeaker as the ear sees it, positive when it is above the ear [deg].

    axis_height, ear_height: above the same floor [m]
    distance: horizontal, from loudspeaker to ear [m]

    The tilt that aims the box at the ear is the same angle with the other sign (positive = the front looks up).
    Source: plane trigonometry; used so in Rec. ITU-R BS.775-3, Fig. 1 (inclination of the loudspeakers).
    """
    distance = within("distance", distance, 0.0, 1000.0, "m")
    return np.asarray(np.degrees(np.arctan2(np.asarray(axis_height, float) - np.asarray(ear_height, float), distance)))


def azimuth(x: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the horizontal angle of a seat off the line straight ahead, positive to the right [deg].

    x: seat to the right of the loudspeaker [m]
    distance: seat in front of it; beyond 90 deg for a seat behind the baffle [m]

    Source: plane trigonometry.
    """
    return np.asarray(np.degrees(np.arctan2(np.asarray(x, float), np.asarray(distance, float))))


def tilted_height(height: ArrayLike, depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    """Return the height of the opening that a tilted box needs: H cos t + D sin t [m].

    height, depth: of the box [m]
    tilt: either way, up to a right angle [deg]

    Source: plane trigonometry: the bounding rectangle of a turned rectangle.
    """
    angle = np.radians(np.abs(within("tilt", tilt, -90.0, 90.0, "deg")))
    return np.asarray(np.asarray(height, float) * np.cos(angle) + np.asarray(depth, float) * np.sin(angle))


def tilted_depth(height: ArrayLike, depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    """Return the depth of the opening that a tilted box needs: D cos t + H sin t [m].

    height, depth: of the box [m]
    tilt: either way, up to a right angle [deg]

    Source: plane trigonometry: the bounding rectangle of a turned rectangle.
    """
    return tilted_height(depth, height, tilt)


def largest_tilt(
    height: ArrayLike, depth: ArrayLike, opening_height: ArrayLike, opening_depth: ArrayLike
) -> FloatArray:
    """Return how far a box can be tilted before it no longer fits its opening; at most 90 [deg].

    height, depth: of the box with what it needs above, below and behind [m]
    opening_height, opening_depth: clear; infinite where nothing is above or behind [m]

    The height needed is R cos(t - phi) with R the diagonal and phi = arctan(D/H): it rises from H to R and falls again.
    So the first tilt beyond which it no longer fits is phi - arccos(opening/R) where the opening is less than R, and is
    not limited by the height elsewhere; likewise for the depth with H and D exchanged. An opening that is just met
    counts as fitting; that the box would fit again when laid on its back is no tilt. NaN where it does not fit even
    flat, or where a length is unknown.
    Source: plane trigonometry: the inverse of the bounding rectangle of a turned rectangle.
    """
    by_height = _first_tilt(height, depth, opening_height)
    by_depth = _first_tilt(depth, height, opening_depth)
    return np.minimum(by_height, by_depth)


def _first_tilt(side: ArrayLike, other: ArrayLike, opening: ArrayLike) -> FloatArray:
    side, other, opening = (np.asarray(length, float) for length in (side, other, opening))
    if np.isposinf(opening).all():
        shape = np.broadcast_shapes(side.shape, other.shape, opening.shape)
        return np.where(np.broadcast_to(np.isnan(side + other), shape), np.nan, 90.0)
    diagonal = np.hypot(side, other)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.clip(opening / diagonal, -1.0, 1.0)
    meets = np.degrees(np.arctan2(other, side) - np.arccos(ratio))
    tilt = np.where(opening >= diagonal - NANOMETRE, 90.0, np.clip(meets, 0.0, 90.0))
    return np.where(opening >= side - NANOMETRE, tilt, np.nan)


def lift(depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    """Return how much to raise one edge of a box to tilt it, never negative: D sin t [m].

    depth: from the edge that stays down to the edge that is raised [m]
    tilt: either way; positive raises the front edge, negative the rear one [deg]

    Source: plane trigonometry.
    """
    return np.asarray(depth, float) * np.sin(np.radians(np.abs(within("tilt", tilt, -90.0, 90.0, "deg"))))


class Axis(NamedTuple):
    """Where the acoustic axis leaves a tilted box: behind its foremost point, and above what it stands on [m]."""

    behind: FloatArray
    height: FloatArray


def tilted_axis(height: ArrayLike, depth: ArrayLike, axis: ArrayLike, tilt: ArrayLike) -> Axis:
    """Return where the acoustic axis leaves a box that is tilted about the edge that stays down [m].

    height, depth: of the box on its feet [m]
    axis: above what the box stands on, before it is tilted [m]
    tilt: positive raises the front edge, negative the rear one [deg]

    Looking up by t: A sin t behind the front edge, and D sin t + A cos t high. Looking down: (H - A) sin t behind the
    front's upper edge, which then is foremost, and A cos t high.
    Source: plane rotations.
    """
    height, depth, axis = (np.asarray(length, float) for length in (height, depth, axis))
    angle = np.radians(within("tilt", tilt, -90.0, 90.0, "deg"))
    sine = np.sin(np.abs(angle))
    behind = np.where(angle >= 0.0, axis, height - axis) * sine
    return Axis(behind, np.where(angle >= 0.0, depth * sine, 0.0) + axis * np.cos(angle))


def aimed_tilt(
    height: ArrayLike, depth: ArrayLike, axis: ArrayLike, ear: ArrayLike, ahead: ArrayLike, aside: ArrayLike = 0.0
) -> FloatArray:
    """Return the tilt at which the axis of the box, lifted as that tilt lifts it, points as high as the ear [deg].

    height, depth: of the box on its feet [m]
    axis, ear: above what the box stands on, the axis before it is tilted [m]
    ahead, aside: from the box's foremost point to the ear, toward the listeners and across [m]

    Raising the front edge raises the axis, so less tilt is needed than the upright box asks for. Steps of t to
    arctan((ear - height(t))/distance(t)), each shortened by the slope D/distance; five of them leave less than 0.001
    deg where the ear is farther than twice the depth.
    Source: plane trigonometry; `tilted_axis`.
    """
    depth, ahead = np.asarray(depth, float), within("distance", ahead, 1e-3, 1000.0, "m")
    tilt = np.zeros(np.broadcast_shapes(*(np.shape(part) for part in (height, depth, axis, ear, ahead, aside))))
    for _ in range(TILT_STEPS):
        behind, up = tilted_axis(height, depth, axis, tilt)
        away = np.hypot(ahead + behind, aside)
        missing = np.degrees(np.arctan2(np.asarray(ear, float) - up, away)) - tilt
        tilt = np.clip(tilt + missing / (1.0 + np.where(tilt + missing > 0.0, depth / away, 0.0)), -90.0, 90.0)
    return tilt


def left_to_ear(
    height: ArrayLike,
    depth: ArrayLike,
    axis: ArrayLike,
    tilt: ArrayLike,
    ear: ArrayLike,
    ahead: ArrayLike,
    aside: ArrayLike = 0.0,
) -> FloatArray:
    """Return how much higher than it points the ear is, seen from where the axis leaves the tilted box [deg].

    height, depth, axis, ear, ahead, aside: as for `aimed_tilt` [m]
    tilt: positive raises the front edge, negative the rear one [deg]

    arctan((ear - height(t))/distance(t)) - t. Less than the tilt needed also lifts the axis less, so more than the
    difference of both is left: by about depth/distance of it.
    Source: plane trigonometry; `tilted_axis`.
    """
    behind, up = tilted_axis(height, depth, axis, tilt)
    away = np.hypot(np.asarray(ahead, float) + behind, aside)
    return np.asarray(np.degrees(np.arctan2(np.asarray(ear, float) - up, away)) - np.asarray(tilt, float))


def height_difference_angle(
    first_height: ArrayLike,
    first_distance: ArrayLike,
    second_height: ArrayLike,
    second_distance: ArrayLike,
    ear_height: ArrayLike,
) -> FloatArray:
    """Return how much higher one loudspeaker stands than another as the ear sees them [deg].

    first_height, second_height, ear_height: axes and ear above the floor [m]
    first_distance, second_distance: horizontal, from the ear [m]

    `elevation` of the first less that of the second.
    Source: plane trigonometry.
    """
    return elevation(first_height, ear_height, first_distance) - elevation(second_height, ear_height, second_distance)
