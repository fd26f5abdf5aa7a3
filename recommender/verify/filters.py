"""Broad filters of an equaliser, and the few of them that bring one response nearest to another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import product
from typing import Final

import numpy as np

from triptych.recommender.physics.checks import BoolArray, FloatArray

BOOST, CUT = 4.0, 6.0
"""No filter raises or lowers by more [dB]. Common practice: boosts eat headroom and cure no cancellation."""

TILT: Final = 1.5
"""No tilt is steeper [dB/octave]. Common practice."""

SHARPEST, BROADEST = 2.0, 0.5
"""Quality of a bell: from 0.7 of an octave to 2.5 octaves wide."""

SHELF_QUALITY: Final = 0.5**0.5

WORTH: Final = 0.25
"""A further filter must lower the rms by as much [dB] ..."""

SHARE: Final = 0.15
"""... and by this share of it. Common practice."""

TIE: Final = 0.03
"""Filters that come so near each other are alike, and the earlier kind is taken [dB]."""


class Shape(Enum):
    """The shapes there are, the plainest first."""

    TILT = "tilt"
    LOW_SHELF = "low shelf"
    HIGH_SHELF = "high shelf"
    BELL = "bell"


@dataclass(frozen=True, slots=True)
class Filter:
    """One filter: its corner or middle [Hz], gain [dB; dB/octave for a tilt], and the quality of a bell."""

    kind: Shape
    frequency: float
    gain: float
    quality: float = SHELF_QUALITY

    def level(self, frequency: FloatArray) -> FloatArray:
        r"""Return what it adds at some frequencies [dB].

        Notes
        -----
        A tilt turns about its frequency. The others are the second-order analogue filters that equalisers imitate,
        with A = 10^(gain/40) and s in units of the corner: bell (s² + sA/Q + 1)/(s² + s/(AQ) + 1), low shelf
        A(s² + s√A/Q + A)/(As² + s√A/Q + 1), high shelf A(As² + s√A/Q + 1)/(s² + s√A/Q + A).

        References
        ----------
        .. [1] Bristow-Johnson, Cookbook formulae for audio equalizer biquad filter coefficients (from memory).
        """
        ratio = np.asarray(frequency) / self.frequency
        if self.kind is Shape.TILT:
            return np.asarray(self.gain * np.log2(ratio))
        # squares of the absolute values, in real numbers: a fit asks for thousands of these
        a, square = 10 ** (self.gain / 40), ratio**2
        if self.kind is Shape.BELL:
            middle, side = (1 - square) ** 2, square / self.quality**2
            return np.asarray(10 * np.log10((middle + side * a**2) / (middle + side / a**2)))
        side = square * a / self.quality**2
        over, under = (a - square) ** 2 + side, (1 - a * square) ** 2 + side
        shape = over / under if self.kind is Shape.LOW_SHELF else under / over
        return np.asarray(self.gain / 2 + 10 * np.log10(shape))


@dataclass(frozen=True, slots=True)
class Fit:
    """Filters that bring a difference nearest to nothing, the level that goes with them, and what is left [dB]."""

    filters: tuple[Filter, ...]
    level: float
    rms_before: float
    rms_after: float


CORNERS: Final = {
    Shape.LOW_SHELF: (150.0, 900.0),
    Shape.HIGH_SHELF: (1500.0, 8000.0),
    Shape.BELL: (200.0, 8000.0),
}
"""Where each kind may have its corner or middle [Hz]."""

STARTS: Final = {
    Shape.LOW_SHELF: (350.0,),
    Shape.HIGH_SHELF: (3500.0,),
    Shape.BELL: (350.0, 1000.0, 2800.0),
}
"""Where the search for it begins [Hz]."""

SINGLE: Final = tuple((kind,) for kind in Shape)
DOUBLE: Final = ((Shape.LOW_SHELF, Shape.HIGH_SHELF), (Shape.LOW_SHELF, Shape.BELL), (Shape.BELL, Shape.HIGH_SHELF),
                 (Shape.BELL, Shape.BELL))  # fmt: skip


def fit(frequency: FloatArray, wanted: FloatArray, judged: BoolArray) -> Fit:
    """Return the fewest broad filters whose sum comes near to what is wanted.

    Parameters
    ----------
    frequency : [F]
        Rising. [Hz]
    wanted : [F]
        What is to be added, up to a constant. [dB]
    judged : [F]
        Which frequencies count; leave those out where something is cancelled, which no filter mends.

    Returns
    -------
    Fit
        None, one or two filters: least squares within bounds, one more only where it is worth it.

    References
    ----------
    .. [1] Own definition; the bounds are common practice.
    """
    at, target = frequency[judged], wanted[judged]
    none = Fit((), float(np.mean(target)), float(np.std(target)), float(np.std(target)))
    one = _best(at, target, SINGLE)
    if not _worth(none.rms_before, one.rms_after):
        return none
    two = _best(at, target, DOUBLE)
    return two if _worth(one.rms_after, two.rms_after) else one


def _worth(before: float, after: float) -> bool:
    return before - after >= max(WORTH, SHARE * before)


def _best(frequency: FloatArray, target: FloatArray, shapes: Sequence[tuple[Shape, ...]]) -> Fit:
    best: Fit | None = None
    for kinds in shapes:
        for found in _fits(frequency, target, kinds):
            if best is None or found.rms_after < best.rms_after - TIE:
                best = found
    assert best is not None  # there is at least one shape
    return best


def _fits(frequency: FloatArray, target: FloatArray, kinds: tuple[Shape, ...]) -> Iterator[Fit]:
    """What each set of starting corners leads to; corners that rise are enough."""
    for corners in product(*(STARTS.get(kind, (1000.0,)) for kind in kinds)):
        if list(corners) == sorted(set(corners)):
            yield _fit(frequency, target, kinds, corners)


def _fit(frequency: FloatArray, target: FloatArray, kinds: tuple[Shape, ...], corners: tuple[float, ...]) -> Fit:
    from scipy.optimize import least_squares

    def apart(values: FloatArray) -> FloatArray:
        left = target - sum(one.level(frequency) for one in _filters(kinds, values))
        return np.asarray(left - np.mean(left))

    start, low, high = _bounds(kinds, corners)
    found = least_squares(apart, start, bounds=(low, high))
    filters = _filters(kinds, found.x)
    left = target - sum(one.level(frequency) for one in filters)
    return Fit(tuple(filters), float(np.mean(left)), float(np.std(target)), float(np.std(left)))


def _bounds(kinds: tuple[Shape, ...], corners: tuple[float, ...]) -> tuple[list[float], list[float], list[float]]:
    """Start, least and largest value of each filter's gain, the logarithm of its corner, and of its quality."""
    start, low, high = [], [], []
    for kind, corner in zip(kinds, corners, strict=True):
        lows, highs = (-TILT, TILT) if kind is Shape.TILT else (-CUT, BOOST)
        start.append(0.1)
        low.append(lows)
        high.append(highs)
        if kind is not Shape.TILT:
            start.append(float(np.log2(corner)))
            low.append(float(np.log2(CORNERS[kind][0])))
            high.append(float(np.log2(CORNERS[kind][1])))
        if kind is Shape.BELL:
            start.append(1.0)
            low.append(BROADEST)
            high.append(SHARPEST)
    return start, low, high


def _filters(kinds: tuple[Shape, ...], values: FloatArray) -> list[Filter]:
    left = iter(values.tolist())
    made = []
    for kind in kinds:
        gain = next(left)
        corner = 1000.0 if kind is Shape.TILT else 2.0 ** next(left)
        made.append(Filter(kind, corner, gain, next(left) if kind is Shape.BELL else SHELF_QUALITY))
    return made
