"""Left, centre and right as measured at one seat, on one logarithmic grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from triptych.recommender.physics import curve
from triptych.recommender.physics.checks import BoolArray, FloatArray, OutOfRange

COMPARED_PER_OCTAVE: Final = 24
"""Points to the octave of the common grid."""

LOWEST_COMPARED: Final = 30.0
HIGHEST_COMPARED: Final = 16000.0
"""Nothing is compared outside these [Hz]."""

SPEECH: Final = (300.0, 3400.0)
"""The band in which speech is understood [Hz]: the telephone band of ITU-T G.712, from memory."""

ABOVE: Final = (3400.0, 10000.0)
"""The band above it in which voices and effects keep their colour [Hz]. Our choice."""

BELOW: Final = (100.0, 300.0)
"""The band below it, which the room rules more than the loudspeaker [Hz]. Our choice."""

FINE, THIRD, OCTAVE = 12.0, 3.0, 1.0
"""Smoothing by 1/n octave: for dips, for colour, for the trend that a dip falls below."""


class SeatCurve(NamedTuple):
    """One response: rising frequencies [Hz] and a level at each [dB]."""

    frequency: FloatArray
    level: FloatArray


@dataclass(frozen=True)
class Trio:
    """The three at one seat on a common grid of F frequencies; levels are not smoothed. [Hz, dB].

    Attributes
    ----------
    seat : str
        Where the microphone stood.
    frequency, left, centre, right : [F]
        The grid, and the level of each alone.
    """

    seat: str
    frequency: FloatArray
    left: FloatArray
    centre: FloatArray
    right: FloatArray

    @cached_property
    def mains(self) -> FloatArray:
        """What one of the mains does on average: the mean power of left and right [dB]."""
        return mean_power(self.left, self.right)

    def smooth(self, level: FloatArray, fraction: float) -> FloatArray:
        """A level smoothed by 1/`fraction` octave [dB]."""
        return curve.smooth(self.frequency, level, fraction)

    @cached_property
    def difference(self) -> FloatArray:
        """Mains less centre, each smoothed by a third of an octave: what the centre lacks [dB]."""
        return np.asarray(self.smooth(self.mains, THIRD) - self.smooth(self.centre, THIRD))

    def within(self, band: tuple[float, float]) -> BoolArray:
        """Which frequencies lie in a band."""
        return np.asarray((self.frequency >= band[0]) & (self.frequency <= band[1]))

    def covers(self, band: tuple[float, float]) -> bool:
        """Whether the curves reach from one end of a band to the other, but for a twelfth of an octave."""
        edge = 2.0 ** (1 / 12)
        return bool(self.frequency[0] <= band[0] * edge and self.frequency[-1] >= band[1] / edge)


def mean_power(*levels: FloatArray) -> FloatArray:
    """The level of the mean power of some levels [dB]."""
    return np.asarray(10 * np.log10(np.mean([10 ** (level / 10) for level in levels], axis=0)))


def trio(seat: str, left: SeatCurve, centre: SeatCurve, right: SeatCurve) -> Trio:
    """Return three responses on one grid, over the frequencies that all of them hold.

    Parameters
    ----------
    seat : str
        Where the microphone stood.
    left, centre, right : Curve
        Each measured alone, at one drive level and microphone position. [Hz, dB]

    Raises
    ------
    OutOfRange
        Where they do not cover the speech band together.
    """
    three = (left, centre, right)
    low = max(LOWEST_COMPARED, *(float(one.frequency[0]) for one in three))
    high = min(HIGHEST_COMPARED, *(float(one.frequency[-1]) for one in three))
    if low > SPEECH[0] * 2 ** (1 / 12) or high < SPEECH[1] / 2 ** (1 / 12):
        raise OutOfRange(
            f"{seat}: the three curves share {low:.0f} to {high:.0f} Hz; measure each from 300 Hz to 3.4 kHz at least"
        )
    grid = curve.log_grid(low, high, COMPARED_PER_OCTAVE)
    return Trio(seat, grid, *(curve.resample(one.frequency, one.level, grid) for one in three))
