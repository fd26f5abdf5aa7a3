"""How unlike two loudspeakers sound: the shape of their responses, and what no response tells.

Differences are taken on the bands of `erb`, after the mean has been removed: a difference in level is none in timbre.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics.checks import FloatArray, OutOfRange, within

__all__ = ["seat_products", "seat_weights", "shape_difference", "voicing_difference"]

Real = TypeVar("Real", np.float32, np.float64)

COMPARED_AT_ONCE: Final = 512
"""So many loudspeakers at all seats stay in a processor core's own cache."""

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


def seat_products(levels: ArrayLike, reference: ArrayLike, pairs: Sequence[tuple[int, int]]) -> FloatArray:
    """Return the mean product of the differences over two cases, of each from each, [pairs, M, N] [dB²].

    levels: in some cases, such as over some floors, at the regular seats, the primary one first, [N, C, S, B] [dB]
    reference: of others in the same cases at the same seats, [M, C, S, B] [dB]
    pairs: two cases each; twice the same gives the mean square of the differences over all seats and bands [1]

    Level-aligned at the primary seat alone, as a trim does: what one loses in level more than the other on the way to
    another seat counts there. Seats count as `seat_weights` says. A band that is NaN in either is not compared, and NaN
    is where none is left. The root of a mean square at one seat is `shape_difference`.
    Source: own definition; what it gives for a constant, a tilt and a loss at one seat is closed form.
    """
    ours, theirs = np.asarray(levels), np.asarray(reference)
    swapped = len(theirs) > len(ours)
    many, few = (theirs, ours) if swapped else (ours, theirs)
    gaps = np.isnan(many).any(axis=(1, 2, 3))
    aligned = _aligned(many), _aligned(few)
    found = np.empty((len(pairs), len(few), len(many)))
    for row, one in enumerate(few):
        if np.isnan(one).any():
            found[:, row] = _products(_aligned(many - one), pairs)
            continue
        for start in range(0, len(many), COMPARED_AT_ONCE):
            some = slice(start, start + COMPARED_AT_ONCE)
            found[:, row, some] = _products(aligned[0][some] - aligned[1][row], pairs)
        if gaps.any():
            found[:, row, gaps] = _products(_aligned(many[gaps] - one), pairs)
    return np.ascontiguousarray(found.transpose(0, 2, 1)) if swapped else found


def _aligned(levels: NDArray[Real]) -> NDArray[Real]:
    """Levels [N, C, S, B] less the mean of each over its known bands at the primary seat, times a seat's part.

    That is the root of its weight. Bands that aren't known stay so.
    """
    primary = levels[:, :, :1]
    known = ~np.isnan(primary)
    count = np.maximum(known.sum(axis=3, keepdims=True), 1).astype(levels.dtype)
    apart = levels - np.where(known, primary, 0).sum(axis=3, keepdims=True) / count
    apart *= np.sqrt(seat_weights(levels.shape[2])).astype(levels.dtype)[:, None]
    return np.asarray(apart, levels.dtype)


def _products(apart: NDArray[Real], pairs: Sequence[tuple[int, int]]) -> FloatArray:
    """The mean product over known bands of differences [N, C, S, B] in two cases each, [pairs, N]."""
    bands: FloatArray | int = apart.shape[3]
    if np.isnan(apart).any():
        known = np.count_nonzero(~np.isnan(apart[:, 0, 0]), axis=1)
        bands, apart = np.where(known > 0, known, np.nan), np.nan_to_num(apart)
    flat = apart.reshape(*apart.shape[:2], -1) if apart.size else np.empty((*apart.shape[:2], 1), apart.dtype)
    # along each row by itself, so that a pair comes out the same among others as alone
    return np.stack([np.einsum("nk,nk->n", flat[:, one], flat[:, other]) for one, other in pairs]).astype(float) / bands


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
