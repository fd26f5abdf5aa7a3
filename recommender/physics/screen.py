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
    """Return the loss of a fine woven screen, positive [dB].

    frequency: up to 20 kHz [Hz]

    10 log10(1 + (f/f0)^2): the cloth as a mass, with f0 such that it loses 1.5 dB at 10 kHz.
    Source: common practice, no source: 1 to 2 dB at 10 kHz and above.
    """
    frequency = within("frequency", frequency, 0.0, 20000.0, "Hz")
    return 10.0 * np.log10(1.0 + np.square(frequency / WOVEN_CORNER))


def screen_mismatch(loss: ArrayLike, mains_behind: ArrayLike) -> FloatArray:
    """Return how much a screen makes a centre behind it differ from the mains: centre less mains [dB].

    loss: of the screen [dB]
    mains_behind: whether the mains stand behind the same screen: what all three lose alike is no mismatch [yes or no]

    Source: by definition of a level difference.
    """
    return np.where(np.asarray(mains_behind, bool), 0.0, -np.asarray(loss, float))
