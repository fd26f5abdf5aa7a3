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
    """Return the rms difference in shape of two responses, [...] [dB].

    levels, reference: of both loudspeakers in the same bands, [..., B] [dB]

    Standard deviation (population) of their difference; a band that is NaN in either is not compared, and NaN is where
    no band is left.
    Source: own definition; what it gives for a constant and for a tilt is closed form.
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
    """Return the modelled or measured difference in timbre: of direct sound, of sound power, and both together [dB].

    direct, direct_reference: level of the direct sound at the seat, and that of the mains, [..., B] [dB]
    power, power_reference: the same of the sound power [dB]

    Together as the quadratic mean of both.
    Source: own definition: what is heard takes in direct and reflected sound alike.
    """
    near, far = shape_difference(direct, direct_reference), shape_difference(power, power_reference)
    return Difference(near, far, np.asarray(np.sqrt((near**2 + far**2) / 2)))


def voicing_difference(relation: ArrayLike, other_loading: ArrayLike = False) -> FloatArray:
    """Return the difference that no modelled response tells: voicing and loading, in quadrature [dB].

    relation: what is declared of each: identical, family, maker or unrelated [text]
    other_loading: whether the tweeters are loaded otherwise: dome, ring, cone / waveguide / horn / ribbon [yes or no]

    Raises `OutOfRange` for another word.
    Source: assumed, no source; shrinks to nothing as measured curves arrive.
    """
    names, member = np.unique(np.asarray(relation, dtype=str), return_inverse=True)
    if strange := set(names.tolist()) - set(VOICING):
        raise OutOfRange(f"relation must be one of {', '.join(VOICING)}, not {', '.join(sorted(strange))}")
    base = np.array([VOICING[name] for name in names.tolist()])[member].reshape(np.shape(relation))
    return np.asarray(np.hypot(base, LOADING * np.asarray(other_loading, dtype=bool)))


def combined(modelled: ArrayLike, voicing: ArrayLike) -> FloatArray:
    """Return the timbre difference with the voicing term in it, in quadrature [dB].

    modelled: difference of the responses [dB]
    voicing: 0 where both responses were measured [dB]

    Source: own definition.
    """
    return np.hypot(within("modelled", modelled, 0, 200, "dB"), within("voicing", voicing, 0, 20, "dB"))
