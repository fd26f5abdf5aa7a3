"""What a large surface around the baffle adds against free air.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["baffle_step", "furniture_gain"]

STEP_PRODUCT = 115.0
"""Frequency of the half-way point of a baffle's step times its width [Hz m]: common practice, no source."""


def baffle_step(frequency: ArrayLike, width: ArrayLike) -> FloatArray:
    r"""Return the level of a source in a baffle of finite width, against a baffle without end.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]
    width : array_like
        Width of the baffle; infinite for a wall. [m]

    Returns
    -------
    ndarray
        Level, from -6.02 at long waves to 0 at short ones. [dB]

    Notes
    -----
    .. math:: 20 \log_{10} \left|\frac{1/2 + j r}{1 + j r}\right|, \quad r = \frac{f}{\sqrt{2} f_3},
              \quad f_3 = \frac{115}{w}

    A shelf of first order that is 3 dB down at :math:`f_3`; the ripple that edges add on top is left out.

    References
    ----------
    .. [1] H. F. Olson, *J. Audio Eng. Soc.* 17 (1969): direct radiator loudspeaker enclosures, for the step (from
       memory); the 115 m/s of its middle is common practice, no source.
    """
    frequency = within("frequency", frequency, 1e-3, 1e6, "Hz")
    width = within("width", width, 1e-3, np.inf, "m")
    square = np.square(frequency * width / (np.sqrt(2.0) * STEP_PRODUCT))
    # of both fractions the one that stays finite as the baffle grows without end
    return np.asarray(10.0 * np.log10(1.0 - 0.75 / (1.0 + square)))


def furniture_gain(frequency: ArrayLike, box_width: ArrayLike, surround_width: ArrayLike) -> FloatArray:
    r"""Return what furniture or a wall around a flush box adds, against the same box in free air.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]
    box_width : array_like
        Width of the box. [m]
    surround_width : array_like
        Width of the front that the box stands flush with; infinite for a wall. [m]

    Returns
    -------
    ndarray
        Gain: 0 at short waves; at long waves +6.02 in a wall, and back toward 0 where the furniture itself is small
        against the wavelength. [dB]

    Notes
    -----
    .. math:: S(f, w_{surround}) - S(f, w_{box})

    with the shelf S of `baffle_step`, the surround never narrower than the box. An approximation of our own: the front
    of the furniture takes the part of a wider baffle.

    References
    ----------
    .. [1] H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory).
    """
    wide = np.maximum(np.asarray(surround_width, float), np.asarray(box_width, float))
    return baffle_step(frequency, wide) - baffle_step(frequency, box_width)
