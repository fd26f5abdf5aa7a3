"""Where a box stands, how it is aimed, and how far it may be tilted where it stands.

Azimuth is seen from the loudspeaker, elevation from the ear; x is to the right, y toward the listeners, z up.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = [
    "azimuth",
    "elevation",
    "height_difference_angle",
    "largest_tilt",
    "lift",
    "tilted_depth",
    "tilted_height",
]

ROUNDING = 1e-9
"""A nanometre [m]: what two equal lengths may differ by after a sum of their parts."""


def elevation(axis_height: ArrayLike, ear_height: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the elevation of a loudspeaker as the ear sees it.

    Parameters
    ----------
    axis_height : array_like
        Acoustic axis above the floor. [m]
    ear_height : array_like
        Ear above the same floor. [m]
    distance : array_like
        Horizontal distance from loudspeaker to ear. [m]

    Returns
    -------
    ndarray
        Elevation, positive when the loudspeaker is above the ear. [deg]

    Notes
    -----
    .. math:: \theta = \arctan\frac{h_c - h_{ear}}{d}

    The tilt that aims the box at the ear is the same angle with the other sign (positive = the front looks up).

    References
    ----------
    .. [1] Plane trigonometry; used so in Rec. ITU-R BS.775-3, Fig. 1 (inclination of the loudspeakers).
    """
    distance = within("distance", distance, 0.0, 1000.0, "m")
    return np.asarray(np.degrees(np.arctan2(np.asarray(axis_height, float) - np.asarray(ear_height, float), distance)))


def azimuth(x: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the horizontal angle of a seat off the line straight ahead.

    Parameters
    ----------
    x : array_like
        Seat to the right of the loudspeaker. [m]
    distance : array_like
        Seat in front of the loudspeaker. [m]

    Returns
    -------
    ndarray
        Azimuth, positive to the right, beyond 90 for a seat behind the baffle. [deg]

    Notes
    -----
    .. math:: \varphi = \arctan\frac{x}{y}

    References
    ----------
    .. [1] Plane trigonometry.
    """
    return np.asarray(np.degrees(np.arctan2(np.asarray(x, float), np.asarray(distance, float))))


def tilted_height(height: ArrayLike, depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    r"""Return the height of the opening that a tilted box needs.

    Parameters
    ----------
    height : array_like
        Height of the box. [m]
    depth : array_like
        Depth of the box. [m]
    tilt : array_like
        Tilt, either way. [deg]

    Returns
    -------
    ndarray
        Height of the upright rectangle around the box. [m]

    Notes
    -----
    .. math:: H \cos|t| + D \sin|t|, \quad |t| \le 90°

    References
    ----------
    .. [1] Plane trigonometry: the bounding rectangle of a turned rectangle.
    """
    angle = np.radians(np.abs(within("tilt", tilt, -90.0, 90.0, "deg")))
    return np.asarray(np.asarray(height, float) * np.cos(angle) + np.asarray(depth, float) * np.sin(angle))


def tilted_depth(height: ArrayLike, depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    r"""Return the depth of the opening that a tilted box needs.

    Parameters
    ----------
    height : array_like
        Height of the box. [m]
    depth : array_like
        Depth of the box. [m]
    tilt : array_like
        Tilt, either way. [deg]

    Returns
    -------
    ndarray
        Depth of the upright rectangle around the box. [m]

    Notes
    -----
    .. math:: D \cos|t| + H \sin|t|, \quad |t| \le 90°

    References
    ----------
    .. [1] Plane trigonometry: the bounding rectangle of a turned rectangle.
    """
    return tilted_height(depth, height, tilt)


def largest_tilt(
    height: ArrayLike, depth: ArrayLike, opening_height: ArrayLike, opening_depth: ArrayLike
) -> FloatArray:
    r"""Return how far a box can be tilted before it no longer fits its opening.

    Parameters
    ----------
    height : array_like
        Height of the box with what it needs above and below. [m]
    depth : array_like
        Depth of the box with what it needs behind. [m]
    opening_height : array_like
        Clear height; infinite where nothing is above. [m]
    opening_depth : array_like
        Clear depth; infinite where nothing is behind. [m]

    Returns
    -------
    ndarray
        The first tilt, going up from 0, beyond which the box no longer fits; at most 90. NaN where it does not fit
        even flat, or where a length is unknown. [deg]

    Notes
    -----
    The height needed is :math:`R \cos(t - \varphi)` with :math:`R = \sqrt{H^2 + D^2}` and
    :math:`\varphi = \arctan(D/H)`: it rises from H to R and falls again. So

    .. math:: t_{max} = \varphi - \arccos(\mathrm{opening} / R)

    where the opening is less than R, and is not limited by the height elsewhere; likewise for the depth with H and D
    exchanged. An opening that is just met counts as fitting. That the box would fit again when laid on its back is no
    tilt.

    References
    ----------
    .. [1] Plane trigonometry: the inverse of the bounding rectangle of a turned rectangle.
    """
    by_height = _first_tilt(height, depth, opening_height)
    by_depth = _first_tilt(depth, height, opening_depth)
    return np.minimum(by_height, by_depth)


def _first_tilt(side: ArrayLike, other: ArrayLike, opening: ArrayLike) -> FloatArray:
    side, other, opening = (np.asarray(length, float) for length in (side, other, opening))
    diagonal = np.hypot(side, other)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.clip(opening / diagonal, -1.0, 1.0)
    meets = np.degrees(np.arctan2(other, side) - np.arccos(ratio))
    tilt = np.where(opening >= diagonal - ROUNDING, 90.0, np.clip(meets, 0.0, 90.0))
    return np.where(opening >= side - ROUNDING, tilt, np.nan)


def lift(depth: ArrayLike, tilt: ArrayLike) -> FloatArray:
    r"""Return how much to raise one edge of a box to tilt it.

    Parameters
    ----------
    depth : array_like
        From the edge that stays down to the edge that is raised. [m]
    tilt : array_like
        Tilt, either way. [deg]

    Returns
    -------
    ndarray
        Rise of the edge, never negative; the front edge for a positive tilt, the rear edge for a negative one. [m]

    Notes
    -----
    .. math:: D \sin|t|

    References
    ----------
    .. [1] Plane trigonometry.
    """
    return np.asarray(depth, float) * np.sin(np.radians(np.abs(within("tilt", tilt, -90.0, 90.0, "deg"))))


def height_difference_angle(
    first_height: ArrayLike,
    first_distance: ArrayLike,
    second_height: ArrayLike,
    second_distance: ArrayLike,
    ear_height: ArrayLike,
) -> FloatArray:
    r"""Return how much higher one loudspeaker stands than another as the ear sees them.

    Parameters
    ----------
    first_height : array_like
        Axis of the first above the floor. [m]
    first_distance : array_like
        Horizontal distance of the first from the ear. [m]
    second_height : array_like
        Axis of the second above the floor. [m]
    second_distance : array_like
        Horizontal distance of the second from the ear. [m]
    ear_height : array_like
        Ear above the floor. [m]

    Returns
    -------
    ndarray
        Elevation of the first less elevation of the second. [deg]

    Notes
    -----
    .. math:: \Delta\theta = \arctan\frac{h_1 - h_{ear}}{d_1} - \arctan\frac{h_2 - h_{ear}}{d_2}

    References
    ----------
    .. [1] Plane trigonometry.
    """
    return elevation(first_height, ear_height, first_distance) - elevation(second_height, ear_height, second_distance)
