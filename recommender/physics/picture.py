"""How large a picture is, and how large it looks.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["distance_for_subtense", "picture_size", "subtense"]


class PictureSize(NamedTuple):
    """Width and height of a picture [m]."""

    width: FloatArray
    height: FloatArray


def picture_size(diagonal: ArrayLike, aspect_ratio: ArrayLike) -> PictureSize:
    r"""Return width and height of a picture from its diagonal.

    Parameters
    ----------
    diagonal : array_like
        Diagonal of the picture. [m]
    aspect_ratio : array_like
        Width over height. [1]

    Returns
    -------
    PictureSize
        Width and height. [m]

    Notes
    -----
    .. math:: h = \frac{d}{\sqrt{1 + a^2}}, \quad w = a h

    References
    ----------
    .. [1] Pythagoras.
    """
    aspect_ratio = within("aspect ratio", aspect_ratio, 0.1, 10.0, "(width over height)")
    height = np.asarray(diagonal, float) / np.sqrt(1.0 + aspect_ratio**2)
    return PictureSize(aspect_ratio * height, height)


def subtense(width: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the angle that a picture, or a pair of loudspeakers, takes up as seen from its middle line.

    Parameters
    ----------
    width : array_like
        Width, or spacing. [m]
    distance : array_like
        Distance from its plane. [m]

    Returns
    -------
    ndarray
        Whole angle. [deg]

    Notes
    -----
    .. math:: \alpha = 2 \arctan\frac{w}{2 d}

    References
    ----------
    .. [1] Plane trigonometry; 16:9 at 3 and 2 picture heights gives the 33 and 48 deg of Rec. ITU-R BS.775-3, Fig. 1.
    """
    distance = within("distance", distance, 0.0, 1000.0, "m")
    return np.asarray(2.0 * np.degrees(np.arctan2(np.asarray(width, float), 2.0 * distance)))


def distance_for_subtense(width: ArrayLike, angle: ArrayLike) -> FloatArray:
    r"""Return the distance from which a picture takes up a given angle.

    Parameters
    ----------
    width : array_like
        Width of the picture. [m]
    angle : array_like
        Whole angle. [deg]

    Returns
    -------
    ndarray
        Distance from its plane. [m]

    Notes
    -----
    .. math:: d = \frac{w}{2 \tan(\alpha / 2)}, \quad 0.1° \le \alpha \le 179°

    References
    ----------
    .. [1] Plane trigonometry; 30 deg is the least subtense of SMPTE EG 18-1994 (read in secondary pages).
    """
    angle = within("angle", angle, 0.1, 179.0, "deg")
    return np.asarray(width, float) / (2.0 * np.tan(np.radians(angle) / 2.0))
