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
    """Return the rms difference in shape of each response from each, [], [N], [M] or [M, N] [dB].

    levels: in bands, [B] or [N, B] [dB]
    reference: of others in the same bands, [B] or [M, B] [dB]

    Standard deviation (population) of their difference; a band that is NaN in either is not compared, and NaN is where
    no band is left. Squares are summed band by band, so that no more than [M, N] is held, and a pair comes out the same
    among others as alone.
    Source: own definition; what it gives for a constant and for a tilt is closed form.
    """
    ours, theirs = _centred(levels), _centred(reference)
    shape = (*np.shape(reference)[:-1], *np.shape(levels)[:-1])
    total, squares = np.zeros((2, theirs.shape[1], ours.shape[1]))
    count: FloatArray | int = len(ours)
    whole = not (np.isnan(ours).any() or np.isnan(theirs).any())
    apart = np.empty_like(total)
    if not whole:
        count = (~np.isnan(theirs)).T.astype(float) @ (~np.isnan(ours)).astype(float)
    for own, other in zip(ours, theirs, strict=True):
        np.subtract(own, other[:, None], out=apart)
        if not whole:
            np.nan_to_num(apart, copy=False)
            total += apart
        squares += np.square(apart, out=apart)
    if whole:
        return np.sqrt(squares / count).reshape(shape)
    with np.errstate(invalid="ignore"):
        return np.sqrt(np.maximum(squares / count - np.square(total / count), 0.0)).reshape(shape)


def _centred(levels: ArrayLike) -> FloatArray:
    """Levels [B, N] with the mean over their own known bands removed."""
    by_band = np.ascontiguousarray(np.atleast_2d(np.asarray(levels, float)).T)
    known = ~np.isnan(by_band)
    # a sum of rows, not of columns: its order must not depend on how many loudspeakers there are
    mean = sum(np.nan_to_num(by_band)) / np.maximum(known.sum(axis=0), 1)
    return np.asarray(by_band - mean)


def difference(
    direct: ArrayLike, direct_reference: ArrayLike, power: ArrayLike, power_reference: ArrayLike
) -> Difference:
    """Return the modelled or measured difference in timbre: of direct sound, of sound power, and both together [dB].

    direct, direct_reference: level of the direct sound at the seat, [B] or [N, B], and that of the mains [dB]
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
