"""The bounce off a surface in front of the baffle: shelf, table or floor, as an image source.

An ear at or below the surface gets no bounce: the reflection point is NaN, the largest set-back without a bounce
infinite. Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.

source_height, ear_height: acoustic axis h and ear H above the surface [m]
distance: horizontal, from baffle to ear, d [m]
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import BoolArray, FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND

__all__ = [
    "bounce_angle",
    "bounce_exists",
    "largest_setback",
    "notch_frequency",
    "path_difference",
    "reflected_level",
    "reflection_point",
]


def setting(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> tuple[FloatArray, ...]:
    """Return the three lengths as arrays, the ear's height NaN where no bounce can reach it."""
    source = within("source height above the surface", source_height, 0.0, 100.0, "m")
    ear = np.asarray(ear_height, float)
    ear = np.where(ear > 0.0, ear, np.nan)
    return source, ear, within("distance", distance, 1e-3, 1000.0, "m")


def reflection_point(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return how far in front of the baffle the bounce happens: d h/(h + H) [m].

    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return distance * source / (source + ear)


def largest_setback(source_height: ArrayLike, ear_height: ArrayLike, from_edge: ArrayLike) -> FloatArray:
    """Return how far behind the surface's front edge a baffle can stand before there is a bounce: D h/H [m].

    source_height, ear_height: acoustic axis h and ear H above the surface [m]
    from_edge: horizontal, from the surface's front edge to the ear, D [m]

    A baffle set back by s is D + s from the ear, and its bounce happens (D + s) h/(h + H) in front of it. There is none
    while that point lies beyond the edge, s < (D + s) h/(h + H), which is s H < D h. So it is a property of the place,
    whatever the set-back is now. Infinite where the ear is not above the surface, NaN where a length is unknown.
    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, from_edge)
    return np.where(np.asarray(ear_height, float) <= 0.0, np.inf, distance * source / ear)


def bounce_exists(
    source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike, setback: ArrayLike
) -> BoolArray:
    """Say whether the reflection point lies on the surface; False, too, where a length is unknown [yes or no].

    setback: baffle behind the surface's front edge; infinite for a floor [m]

    Source: H. Kuttruff, *Room Acoustics*, image sources: an image counts only where its ray meets the wall (from
    memory).
    """
    return np.asarray(reflection_point(source_height, ear_height, distance) <= np.asarray(setback, float))


def bounce_angle(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the angle below the horizontal at which the reflected ray leaves the loudspeaker: arctan((h + H)/d) [deg].

    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return np.degrees(np.arctan2(source + ear, distance))


def path_difference(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return how much longer the way over the surface is than the direct way [m].

    4 h H/(r1 + r2), which keeps its precision where both heights are small.
    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    direct, reflected = np.hypot(distance, ear - source), np.hypot(distance, ear + source)
    return np.asarray(4.0 * source * ear / (direct + reflected))


def notch_frequency(path_difference: ArrayLike, order: ArrayLike = 0) -> FloatArray:
    """Return the frequency at which the bounce arrives against the direct sound: (n + 1/2) c/delta [Hz].

    path_difference: way over the surface less the direct way; infinite frequency where it is 0 [m]
    order: 0 for the first notch [1]

    For a rigid surface, which gives back the sound in phase.
    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    order = within("order", order, 0, 1e6, "(a count)")
    with np.errstate(divide="ignore"):
        return (order + 0.5) * SPEED_OF_SOUND / within("path difference", path_difference, 0.0, 1000.0, "m")


def reflected_level(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the level of the bounce against the direct sound, by distance alone; never above 0 [dB].

    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return 20.0 * np.log10(np.hypot(distance, ear - source) / np.hypot(distance, ear + source))
