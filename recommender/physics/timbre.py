"""How unlike two loudspeakers sound: the shape of their responses, and what no response tells.

Differences are taken on the bands of `erb`, after the mean has been removed: a difference in level is none in timbre.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, OutOfRange, within

__all__ = ["seat_difference", "seat_weights", "shape_difference", "voicing_difference"]

KINSHIP: Final = MappingProxyType({"identical": 0.3, "family": 1.0, "maker": 1.8, "unrelated": 2.5})
"""Difference by what is declared of two loudspeakers, where nothing else is known of them [dB]. Assumed."""

VOICING: Final = MappingProxyType({"identical": 0.3, "family": 0.6, "maker": 1.0, "unrelated": 1.4})
"""What of it is left where a model sees every driver and crossover of both [dB]. Assumed.

That is how a maker balances a response: the tilt and the ripple that are left on the axis. Competent designs are each
within about 1 dB rms of flat: a band of 4 dB from the lowest to the highest third-octave, as ITU-R BS.1116 grants a
monitor, is 1.0 to 1.2 dB rms where it is used evenly (from memory). So two that have nothing in common differ by the
root of two of that, 1.4 dB; two of one maker, who aims at one balance, by 1.0; within a family by 0.6; units of one
model by 0.3. Layout, sizes, crossovers and the loading of tweeters are what the model sees: none of them is in here.
"""

LOADING: Final = 1.5
"""What a tweeter of another loading adds where no model sees it [dB]. Assumed."""


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


def seat_weights(count: int) -> FloatArray:
    """Return what each of the regular seats counts, the primary one first: half of all, the others share the rest [1].

    count: of regular seats, the primary one among them [1]

    Whoever surveys a room says which seat it is made for, and yet all the others together are heard as much. One seat
    alone counts all.
    Source: our choice.
    """
    if count == 1:
        return np.ones(1)
    return np.concatenate([[0.5], np.full(count - 1, 0.5 / (count - 1))])


def seat_difference(levels: ArrayLike, reference: ArrayLike) -> FloatArray:
    """Return the rms difference of each from each over all seats and bands, [M, N] [dB].

    levels: at the regular seats, the primary one first, [N, S, B] [dB]
    reference: of others at the same seats, [M, S, B] [dB]

    Level-aligned at the primary seat alone, as a trim does: what one loses in level more than the other on the way to
    another seat counts there. Seats count as `seat_weights` says. A band that is NaN in either is not compared, and NaN
    is where none is left. With one seat it is `shape_difference`.
    Source: own definition; what it gives for a constant, a tilt and a loss at one seat is closed form.
    """
    ours, theirs = _aligned(levels), _aligned(reference)
    weights = seat_weights(len(ours))
    if not (np.isnan(ours).any() or np.isnan(theirs).any()):
        return np.asarray(np.sqrt(_squares(ours, theirs, weights) / ours.shape[1]))
    count = np.asarray((~np.isnan(theirs[0])).T.astype(float) @ (~np.isnan(ours[0])).astype(float))
    with np.errstate(invalid="ignore", divide="ignore"):
        totals = np.stack([_total(own, other) for own, other in zip(ours, theirs, strict=True)]) / count
        aligned = totals[0] ** 2 - 2.0 * totals[0] * np.tensordot(weights, totals, 1)
        return np.asarray(np.sqrt(np.maximum(_squares(ours, theirs, weights) / count + aligned, 0.0)))


def _aligned(levels: ArrayLike) -> FloatArray:
    """Levels [S, B, N] less the mean of each over its own known bands at the primary seat."""
    by_band = np.ascontiguousarray(np.moveaxis(np.asarray(levels, float), 0, -1))
    known = ~np.isnan(by_band[0])
    # a sum of rows, not of columns: its order must not depend on how many loudspeakers there are
    mean = sum(np.nan_to_num(by_band[0])) / np.maximum(known.sum(axis=0), 1)
    return np.asarray(by_band - mean)


def _squares(ours: FloatArray, theirs: FloatArray, weights: FloatArray) -> FloatArray:
    """The weighted sum of the squares of all differences [M, N], band by band; what isn't known adds nothing."""
    root, gaps = np.sqrt(weights)[:, None, None], bool(np.isnan(ours).any() or np.isnan(theirs).any())
    found = np.zeros((theirs.shape[-1], ours.shape[-1]))
    apart = np.empty_like(found)
    for own, other in zip(np.concatenate(ours * root), np.concatenate(theirs * root), strict=True):
        np.subtract(own, other[:, None], out=apart)
        if gaps:
            np.nan_to_num(apart, copy=False)
        found += np.square(apart, out=apart)
    return found


def _total(ours: FloatArray, theirs: FloatArray) -> FloatArray:
    """The sum of all differences at one seat [M, N], band by band."""
    found = np.zeros((theirs.shape[-1], ours.shape[-1]))
    for own, other in zip(ours, theirs, strict=True):
        found += np.nan_to_num(own - other[:, None])
    return found


def voicing_difference(relation: ArrayLike, other_loading: ArrayLike = False, seen: ArrayLike = 0.0) -> FloatArray:
    """Return the difference that no modelled response tells, by what is declared of two loudspeakers [dB].

    relation: what is declared of each: identical, family, maker or unrelated [text]
    other_loading: whether tweeters that no model sees are loaded otherwise: dome / waveguide / horn [yes or no]
    seen: share of what a model needs that datasheets of both state, 0 to 1; 0 where none compares them [1]

    What a model cannot see is told by `VOICING`. The less it sees the more kinship has to stand for: squares are shared
    between `VOICING` and `KINSHIP` as `seen` says. Two of one model differ as units of a series do, whatever is seen.

    Raises `OutOfRange` for another word.
    Source: assumed; ITU-R BS.1116 for the size of a monitor's departures (from memory).
    """
    names, member = np.unique(np.asarray(relation, dtype=str), return_inverse=True)
    if strange := set(names.tolist()) - set(VOICING):
        raise OutOfRange(f"relation must be one of {', '.join(VOICING)}, not {', '.join(sorted(strange))}")
    seen = within("seen", seen, 0.0, 1.0, "")
    left, all_of_it = (
        np.array([figures[name] ** 2 for name in names.tolist()])[member].reshape(np.shape(relation))
        for figures in (VOICING, KINSHIP)
    )
    loaded = np.where(np.asarray(other_loading, dtype=bool), LOADING**2, 0.0)
    return np.asarray(np.sqrt(seen * left + (1.0 - seen) * all_of_it + loaded))
