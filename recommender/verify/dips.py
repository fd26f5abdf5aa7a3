"""What no equaliser mends: narrow deep dips, and the marks that a placement was predicted to leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.physics.checks import BoolArray, FloatArray
from triptych.recommender.verify.trio import COMPARED_PER_OCTAVE, FINE, OCTAVE, Trio

DEEP: Final = 6.0
"""A dip so far below the octave around it is deep [dB]. Common practice."""

NARROW: Final = 0.5
"""A dip no wider than this at half its depth is narrow [octave]. Common practice."""

SEEN: Final = 3.0
"""What shows at all [dB]. Common practice."""

SAME: Final = 1 / 6
"""Two dips nearer to each other are one [octave]. Common practice."""

NOTCH_NEAR: Final = 1 / 4
"""So near its predicted frequency a bounce notch is looked for [octave]: heights are surveyed to a few centimetres."""

BAY_NEAR: Final = 1 / 3
"""So near its predicted frequency a bay resonance is looked for [octave]: gaps round a box are known roughly."""

DIPS_TOLD: Final = 6
"""How many dips are told."""

SEARCHED: Final = (200.0, 10000.0)
"""Where dips are looked for; below, the room rules [Hz]."""


@dataclass(frozen=True, slots=True)
class Dip:
    """A narrow deep dip of the centre that the mains don't have. [Hz, dB, octave].

    `elsewhere` names the other seats measured that don't have it at that frequency; None where there was no other.
    """

    seat: str
    frequency: float
    depth: float
    width: float
    elsewhere: tuple[str, ...] | None

    @property
    def moves(self) -> bool | None:
        """Whether it belongs to the seat and not to the loudspeaker; None where only one seat was measured."""
        return None if self.elsewhere is None else bool(self.elsewhere)


def depths(trio: Trio, level: FloatArray) -> FloatArray:
    """How far a level lies below its own trend over an octave [dB]; negative above it."""
    return np.asarray(trio.smooth(level, OCTAVE) - trio.smooth(level, FINE))


def dips(trios: Sequence[Trio]) -> tuple[Dip, ...]:
    """Return the narrow deep dips of the centre at the first seat, the deepest first, and where else they are not."""
    first, others = trios[0], trios[1:]
    own, mains = depths(first, first.centre), depths(first, first.mains)
    found = []
    for place, width in _minima(first, own):
        if own[place] - max(mains[place], 0.0) >= SEEN:
            at = float(first.frequency[place])
            absent = tuple(other.seat for other in others if _deepest(other, other.centre, at, SAME)[1] < SEEN)
            found.append(Dip(first.seat, at, float(own[place]), width, absent if others else None))
    return tuple(sorted(found, key=lambda dip: -dip.depth)[:DIPS_TOLD])


def _minima(trio: Trio, depth: FloatArray) -> list[tuple[int, float]]:
    """The narrow deep minima: places on the grid, and widths at half depth [octave]."""
    from scipy.signal import find_peaks, peak_widths

    searched = np.where(trio.within(SEARCHED), depth, 0.0)
    places, _ = find_peaks(searched, height=DEEP)
    widths = peak_widths(searched, places)[0] / COMPARED_PER_OCTAVE
    return [(int(place), float(width)) for place, width in zip(places, widths, strict=True) if width <= NARROW]


def cancelled(trio: Trio) -> BoolArray:
    """Which frequencies lie in a narrow deep dip of the centre or of the mains, its slopes included."""
    marked = np.zeros(trio.frequency.size, dtype=np.bool_)
    for level in (trio.centre, trio.left, trio.right):
        for place, width in _minima(trio, depths(trio, level)):
            half = int(np.ceil(max(width, 1 / 6) * COMPARED_PER_OCTAVE))
            marked[max(place - half, 0) : place + half + 1] = True
    return marked


def _deepest(trio: Trio, level: FloatArray, frequency: float, near: float, side: float = 1.0) -> tuple[float, float]:
    """Where a level falls most below its trend (rises most above it, for `side` -1) near a frequency, and how much.

    Returns
    -------
    tuple of float
        The frequency [Hz] and the size [dB]; NaN where the curve doesn't reach.
    """
    size = side * depths(trio, level)
    inside = np.flatnonzero(np.abs(np.log2(trio.frequency / frequency)) <= near)
    if not inside.size:
        return float("nan"), float("nan")
    place = inside[np.argmax(size[inside])]
    return float(trio.frequency[place]), float(size[place])


@dataclass(frozen=True, slots=True)
class Sign:
    """Whether what the placement was predicted to do shows. [Hz, dB].

    `what` is `bounce notch` or `bay resonance`; `shows` is None where the curves don't reach there; `found` and `size`
    are where the deepest dip or the highest rise against the mains is, near the prediction; `mains_too` that the mains
    have one there as well.
    """

    what: str
    predicted: float
    shows: bool | None
    found: float | None
    size: float | None
    mains_too: bool


def bounce_sign(trio: Trio, predicted: float) -> Sign:
    """Look for the first notch of a bounce near its predicted frequency [Hz]."""
    return _sign(trio, "bounce notch", predicted, NOTCH_NEAR, 1.0)


def bay_sign(trio: Trio, predicted: float) -> Sign:
    """Look for the rise of a bay resonance near its predicted frequency [Hz]."""
    return _sign(trio, "bay resonance", predicted, BAY_NEAR, -1.0)


def _sign(trio: Trio, what: str, predicted: float, near: float, side: float) -> Sign:
    if not trio.covers((predicted * 2**-near, predicted * 2**near)):
        return Sign(what, predicted, None, None, None, False)
    # against the mains, so that what the room does to all three drops out
    found, size = _deepest(trio, trio.centre - trio.mains, predicted, near, side)
    _, own = _deepest(trio, trio.centre, found, SAME, side)
    _, mains = _deepest(trio, trio.mains, predicted, near, side)
    return Sign(what, predicted, size >= SEEN and own >= SEEN / 2, found, size, mains >= SEEN)
