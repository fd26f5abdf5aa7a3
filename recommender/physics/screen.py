"""What a picture screen takes from the sound of what stands behind it.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["perforated_loss", "screen_mismatch", "woven_loss"]

PERFORATED_ORDER = float(np.log((10**0.6 - 1.0) / (10**0.3 - 1.0)) / np.log(8000.0 / 6000.0))
"""Steepness with which the loss grows [1], from 3 dB at 6 kHz and 6 dB at 8 kHz."""

WOVEN_CORNER = float(10000.0 / np.sqrt(10**0.15 - 1.0))
"""Corner of a woven screen [Hz], from 1.5 dB at 10 kHz."""


def perforated_loss(frequency: ArrayLike) -> FloatArray:
    r"""Return the loss of a perforated screen that just meets the older cinema limits.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]

    Returns
    -------
    ndarray
        Loss against 500 Hz, positive. [dB]

    Notes
    -----
    .. math:: 10 \log_{10}\left(1 + (f/f_0)^n\right)

    with n and :math:`f_0` such that it loses 3 dB at 6 kHz and 6 dB at 8 kHz: the limits, so rather too much than too
    little. The form between and beyond them is our own. Valid to 20 kHz; the comb of a screen close to the baffle is
    left out.

    References
    ----------
    .. [1] A paper on perforated screens: at most 3 dB at 6 kHz and 6 dB at 8 kHz against 500 Hz in older cinema
       practice (read second-hand); transparent below 500 Hz (a forum's measurement).
    """
    frequency = within("frequency", frequency, 0.0, 20000.0, "Hz")
    return 10.0 * np.log10(1.0 + (10**0.3 - 1.0) * (frequency / 6000.0) ** PERFORATED_ORDER)


def woven_loss(frequency: ArrayLike) -> FloatArray:
    r"""Return the loss of a fine woven screen.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]

    Returns
    -------
    ndarray
        Loss, positive. [dB]

    Notes
    -----
    .. math:: 10 \log_{10}\left(1 + (f/f_0)^2\right)

    The cloth as a mass, with :math:`f_0` such that it loses 1.5 dB at 10 kHz. Valid to 20 kHz.

    References
    ----------
    .. [1] Common practice, no source: 1 to 2 dB at 10 kHz and above.
    """
    frequency = within("frequency", frequency, 0.0, 20000.0, "Hz")
    return 10.0 * np.log10(1.0 + np.square(frequency / WOVEN_CORNER))


def screen_mismatch(loss: ArrayLike, mains_behind: ArrayLike) -> FloatArray:
    r"""Return how much a screen makes a centre behind it differ from the mains.

    Parameters
    ----------
    loss : array_like
        Loss of the screen. [dB]
    mains_behind : array_like
        True where the mains stand behind the same screen. [1]

    Returns
    -------
    ndarray
        Centre less mains: 0 where all stand behind it, the loss with a minus sign elsewhere. [dB]

    Notes
    -----
    What all three lose alike is no mismatch.

    References
    ----------
    .. [1] By definition of a level difference.
    """
    return np.where(np.asarray(mains_behind, bool), 0.0, -np.asarray(loss, float))
