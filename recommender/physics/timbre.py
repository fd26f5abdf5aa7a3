"""How unlike two loudspeakers sound: the shape of their responses, and what no response tells.

Differences are taken on the bands of `erb`, after the mean has been removed: a difference in level is none in timbre.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, OutOfRange, within

__all__ = ["combined", "difference", "shape_difference", "voicing_difference"]

VOICING: Final = MappingProxyType({"identical": 0.3, "family": 1.0, "maker": 1.8, "unrelated": 2.5})
"""Voicing difference by what is declared of two loudspeakers [dB]. Assumed."""

LOADING: Final = 1.5
"""What a tweeter of another loading adds [dB]. Assumed."""


class Difference(NamedTuple):
    """Difference in direct sound, in sound power, and of both together [dB]."""

    direct: FloatArray
    power: FloatArray
    combined: FloatArray


def shape_difference(levels: ArrayLike, reference: ArrayLike) -> FloatArray:
    r"""Return the rms difference in shape of two responses.

    Parameters
    ----------
    levels : array_like
        Levels in each band, [..., B]. [dB]
    reference : array_like
        Levels of the other loudspeaker in the same bands. [dB]

    Returns
    -------
    ndarray
        Standard deviation (population) of their difference, [...]; a band that is NaN in either is not compared, and
        NaN is where no band is left. [dB]

    Notes
    -----
    .. math:: \sqrt{\overline{(d - \bar d)^2}}, \quad d = L_1 - L_2

    References
    ----------
    .. [1] Own definition; what it gives for a constant and for a tilt is closed form.
    """
    apart = np.asarray(levels, float) - np.asarray(reference, float)
    found = np.std(apart, axis=-1)
    if not np.isnan(found).any():
        return np.asarray(found)
    known = ~np.isnan(apart)
    count = known.sum(axis=-1)
    apart = np.where(known, apart, 0.0)
    mean = apart.sum(axis=-1) / np.maximum(count, 1)
    square = np.where(known, np.square(apart - mean[..., None]), 0.0).sum(axis=-1) / np.maximum(count, 1)
    return np.where(count > 0, np.sqrt(square), np.nan)


def difference(
    direct: ArrayLike, direct_reference: ArrayLike, power: ArrayLike, power_reference: ArrayLike
) -> Difference:
    r"""Return the modelled or measured difference in timbre, and its parts apart.

    Parameters
    ----------
    direct : array_like
        Level of the direct sound at the seat in each band, [..., B]. [dB]
    direct_reference : array_like
        The same of the mains. [dB]
    power : array_like
        Level of the sound power in each band, [..., B]. [dB]
    power_reference : array_like
        The same of the mains. [dB]

    Returns
    -------
    Difference
        Shape difference of each, and their quadratic mean. [dB]

    Notes
    -----
    .. math:: \sqrt{(d^2 + p^2)/2}

    References
    ----------
    .. [1] Own definition: what is heard takes in direct and reflected sound alike.
    """
    near, far = shape_difference(direct, direct_reference), shape_difference(power, power_reference)
    return Difference(near, far, np.asarray(np.sqrt((near**2 + far**2) / 2)))


def voicing_difference(relation: ArrayLike, other_loading: ArrayLike = False) -> FloatArray:
    """Return the difference that no modelled response tells: voicing, and how the tweeter is loaded.

    Parameters
    ----------
    relation : array_like of str
        What is declared of each: identical, family, maker or unrelated. [text]
    other_loading : array_like of bool
        Whether the tweeters are loaded otherwise: dome, ring and cone / waveguide / horn / ribbon. [yes or no]

    Returns
    -------
    ndarray
        Voicing difference; kinship and loading in quadrature, as of things that know nothing of each other. [dB]

    Raises
    ------
    OutOfRange
        For another word.

    References
    ----------
    .. [1] Assumed, no source; shrinks to nothing as measured curves arrive.
    """
    names, member = np.unique(np.asarray(relation, dtype=str), return_inverse=True)
    if strange := set(names.tolist()) - set(VOICING):
        raise OutOfRange(f"relation must be one of {', '.join(VOICING)}, not {', '.join(sorted(strange))}")
    base = np.array([VOICING[name] for name in names.tolist()])[member].reshape(np.shape(relation))
    return np.asarray(np.hypot(base, LOADING * np.asarray(other_loading, dtype=bool)))


def combined(modelled: ArrayLike, voicing: ArrayLike) -> FloatArray:
    r"""Return the timbre difference with the voicing term in it.

    Parameters
    ----------
    modelled : array_like
        Difference of the responses. [dB]
    voicing : array_like
        Voicing difference; 0 where both responses were measured. [dB]

    Returns
    -------
    ndarray
        Both in quadrature, as of things that know nothing of each other. [dB]

    Notes
    -----
    .. math:: \sqrt{m^2 + v^2}

    References
    ----------
    .. [1] Own definition.
    """
    return np.hypot(within("modelled", modelled, 0, 200, "dB"), within("voicing", voicing, 0, 20, "dB"))
