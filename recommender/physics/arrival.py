"""When the sound of each loudspeaker arrives."""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.constants import SPEED_OF_SOUND

__all__ = ["arrival_difference", "delay"]


def arrival_difference(path: ArrayLike, reference: ArrayLike) -> FloatArray:
    r"""Return how much later one loudspeaker is heard than another.

    Parameters
    ----------
    path : array_like
        From the one to the ear. [m]
    reference : array_like
        From the other to the ear. [m]

    Returns
    -------
    ndarray
        Time, negative when it is heard earlier. [ms]

    Notes
    -----
    .. math:: 1000\, \frac{r - r_{ref}}{c}

    References
    ----------
    .. [1] Definition of speed; the speed of sound from ISO 9613-1:1993 (from memory).
    """
    return np.asarray(1000.0 * (np.asarray(path, float) - np.asarray(reference, float)) / SPEED_OF_SOUND)


def delay(path: ArrayLike, farthest: ArrayLike) -> FloatArray:
    r"""Return the delay that makes a loudspeaker arrive with the farthest one.

    Parameters
    ----------
    path : array_like
        From the loudspeaker to the ear. [m]
    farthest : array_like
        From the farthest loudspeaker to the ear. [m]

    Returns
    -------
    ndarray
        Delay, 0 for the farthest itself. [ms]

    Notes
    -----
    .. math:: 1000\, \frac{\max(r_{far} - r,\ 0)}{c}

    References
    ----------
    .. [1] Definition of speed; the speed of sound from ISO 9613-1:1993 (from memory).
    """
    return np.maximum(arrival_difference(farthest, path), 0.0)
