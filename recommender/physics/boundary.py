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
    """Return the level of a source in a baffle of finite width, against a baffle without end [dB].

    frequency: [Hz]
    width: of the baffle; infinite for a wall [m]

    A shelf of first order from -6.02 dB at long waves to 0, 3 dB down at 115/width; the ripple that edges add on top is
    left out.
    Source: H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory); the 115 m/s of its middle is common
    practice, no source.
    """
    frequency = within("frequency", frequency, 1e-3, 1e6, "Hz")
    width = within("width", width, 1e-3, np.inf, "m")
    square = np.square(frequency * width / (np.sqrt(2.0) * STEP_PRODUCT))
    # of both fractions the one that stays finite as the baffle grows without end
    return np.asarray(10.0 * np.log10(1.0 - 0.75 / (1.0 + square)))


def furniture_gain(frequency: ArrayLike, box_width: ArrayLike, surround_width: ArrayLike) -> FloatArray:
    """Return what furniture or a wall around a flush box adds, against the same box in free air [dB].

    frequency: [Hz]
    box_width: [m]
    surround_width: of the front that the box stands flush with, never less than the box; infinite for a wall [m]

    `baffle_step` of the surround less that of the box: 0 at short waves; at long waves +6.02 in a wall, and back toward
    0 where the furniture itself is small against the wavelength. That the front of the furniture takes the part of a
    wider baffle is an approximation of our own.
    Source: H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory).
    """
    wide = np.maximum(np.asarray(surround_width, float), np.asarray(box_width, float))
    return baffle_step(frequency, wide) - baffle_step(frequency, box_width)
