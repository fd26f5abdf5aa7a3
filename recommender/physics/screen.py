"""What a picture screen takes from the sound of what stands behind it.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["screen_mismatch", "woven_loss"]

WOVEN_CORNER = float(10000.0 / np.sqrt(10**0.15 - 1.0))
"""Corner of a woven screen [Hz], from 1.5 dB at 10 kHz."""


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
