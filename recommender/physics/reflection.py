"""The bounce off a surface in front of the baffle: shelf, table or floor, as an image source.

Heights are above the surface. An ear at or below it gets no bounce: the reflection point is NaN, the largest set-back
without a bounce infinite.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
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
    r"""Return where on the surface the bounce happens.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]

    Returns
    -------
    ndarray
        Distance of the point in front of the baffle; NaN where the ear is not above the surface. [m]

    Notes
    -----
    .. math:: x = \frac{d h}{h + H}

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return distance * source / (source + ear)


def largest_setback(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return how far behind the surface's front edge a baffle can stand before there is a bounce.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]

    Returns
    -------
    ndarray
        Largest set-back without a bounce; infinite where the ear is not above the surface, NaN where a length is
        unknown. [m]

    Notes
    -----
    The reflection point itself: nearer the edge than this, the point would lie in the air beyond it.

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    point = reflection_point(source_height, ear_height, distance)
    return np.where(np.asarray(ear_height, float) <= 0.0, np.inf, point)


def bounce_exists(
    source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike, setback: ArrayLike
) -> BoolArray:
    r"""Say whether the reflection point lies on the surface.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]
    setback : array_like
        Baffle behind the surface's front edge; infinite for a floor. [m]

    Returns
    -------
    ndarray of bool
        True where there is a bounce; False also where a length is unknown, which the caller must tell apart. [1]

    Notes
    -----
    .. math:: x = \frac{d h}{h + H} \le s

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources: an image counts only where its ray meets
       the wall (from memory).
    """
    return np.asarray(reflection_point(source_height, ear_height, distance) <= np.asarray(setback, float))


def bounce_angle(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the angle below the horizontal at which the reflected ray leaves the loudspeaker.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]

    Returns
    -------
    ndarray
        Angle, positive downward. [deg]

    Notes
    -----
    .. math:: \arctan\frac{h + H}{d}

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return np.degrees(np.arctan2(source + ear, distance))


def path_difference(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return how much longer the way over the surface is than the direct way.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]

    Returns
    -------
    ndarray
        Path difference. [m]

    Notes
    -----
    .. math:: \Delta = r_2 - r_1 = \frac{4 h H}{r_1 + r_2}

    The second form keeps its precision where both heights are small.

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    direct, reflected = np.hypot(distance, ear - source), np.hypot(distance, ear + source)
    return np.asarray(4.0 * source * ear / (direct + reflected))


def notch_frequency(path_difference: ArrayLike, order: ArrayLike = 0) -> FloatArray:
    r"""Return the frequency at which the bounce arrives against the direct sound.

    Parameters
    ----------
    path_difference : array_like
        Way over the surface less the direct way. [m]
    order : array_like
        0 for the first notch. [1]

    Returns
    -------
    ndarray
        Frequency; infinite where the two ways are equal. [Hz]

    Notes
    -----
    .. math:: f_n = \left(n + \tfrac{1}{2}\right) \frac{c}{\Delta}

    For a rigid surface, which gives back the sound in phase.

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    order = within("order", order, 0, 1e6, "(a count)")
    with np.errstate(divide="ignore"):
        return (order + 0.5) * SPEED_OF_SOUND / within("path difference", path_difference, 0.0, 1000.0, "m")


def reflected_level(source_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the level of the bounce against the direct sound, by distance alone.

    Parameters
    ----------
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]

    Returns
    -------
    ndarray
        Level, never above 0. [dB]

    Notes
    -----
    .. math:: 20 \log_{10} \frac{r_1}{r_2}

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    source, ear, distance = setting(source_height, ear_height, distance)
    return 20.0 * np.log10(np.hypot(distance, ear - source) / np.hypot(distance, ear + source))
