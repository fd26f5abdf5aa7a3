"""How long the ear may bear a level.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["exposure_dose", "exposure_time", "time_weighted_average"]


def exposure_time(level: ArrayLike) -> FloatArray:
    r"""Return how long a level may be heard in a working day.

    Parameters
    ----------
    level : array_like
        A-weighted level at the ear. [dB]

    Returns
    -------
    ndarray
        Time. [min]

    Notes
    -----
    .. math:: T = \frac{480}{2^{(L - 85) / 3}}

    An occupational limit, not guidance for the home. From 80 to 140 dB.

    References
    ----------
    .. [1] NIOSH, *Criteria for a Recommended Standard: Occupational Noise Exposure*, publication 98-126.
    """
    return np.asarray(480.0 / 2.0 ** ((within("level", level, 80.0, 140.0, "dB") - 85.0) / 3.0))


def exposure_dose(level: ArrayLike, minutes: ArrayLike) -> FloatArray:
    r"""Return the noise dose of a day's parts.

    Parameters
    ----------
    level : array_like
        A-weighted level of each part, along the last axis. [dB]
    minutes : array_like
        How long each part lasts. [min]

    Returns
    -------
    ndarray
        Dose; 100 is the limit. [%]

    Notes
    -----
    .. math:: D = 100 \sum \frac{C_i}{T_i}

    With the times of `exposure_time`.

    References
    ----------
    .. [1] NIOSH, *Criteria for a Recommended Standard: Occupational Noise Exposure*, publication 98-126.
    """
    return np.asarray(100.0 * np.sum(within("minutes", minutes, 0.0, 1440.0, "min") / exposure_time(level), axis=-1))


def time_weighted_average(dose: ArrayLike) -> FloatArray:
    r"""Return the steady level over eight hours that gives the same dose.

    Parameters
    ----------
    dose : array_like
        Noise dose. [%]

    Returns
    -------
    ndarray
        A-weighted level. [dB]

    Notes
    -----
    .. math:: 10 \log_{10}\frac{D}{100} + 85

    As the source has it: with the exchange rate of 3 dB and 10 for 10.01 it is within 0.1 % of equal energy.

    References
    ----------
    .. [1] NIOSH, *Criteria for a Recommended Standard: Occupational Noise Exposure*, publication 98-126.
    """
    return 10.0 * np.log10(within("dose", dose, 1e-6, 1e9, "%") / 100.0) + 85.0
