"""Response curves: onto a logarithmic grid, smoothed by a part of an octave, into the ear's bands, between angles.

Between two points a level is taken as straight over the logarithm of frequency; averages are of power, and exact for
that line, so that the power in a band survives any change of grid.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import BoolArray, FloatArray, OutOfRange, within

__all__ = ["at_angles", "band_levels", "log_grid", "resample", "smooth"]

CURVE_VERSION: Final = 1
"""Changes whenever a stored curve's grid or bands would come out otherwise."""

PER_OCTAVE: Final = 48
"""Points to the octave of a stored curve."""

REFERENCE: Final = 1000.0
"""The frequency that every grid holds if it reaches so far [Hz]."""


def log_grid(low: float, high: float, per_octave: int = PER_OCTAVE) -> FloatArray:
    """Return the frequencies 1000 2^(k/n) of a logarithmic grid; two grids of the same step share theirs [Hz].

    low, high: no frequency is outside them [Hz]
    per_octave: points to the octave, n [1]

    Raises `OutOfRange` where no point lies between them.
    Source: IEC 61260-1 with base two instead of ten (from memory); the step is our choice.
    """
    ends = np.log2(within("frequency", [low, high], 0.1, 1e6, "Hz") / REFERENCE) * per_octave
    steps = np.arange(np.ceil(ends[0] - 1e-6), np.floor(ends[1] + 1e-6) + 1)
    if not steps.size:
        raise OutOfRange(f"no point of a grid of {per_octave} to the octave lies between {low} and {high} Hz")
    return np.asarray(REFERENCE * 2.0 ** (steps / per_octave))


def resample(frequency: ArrayLike, level: ArrayLike, grid: ArrayLike) -> FloatArray:
    """Return a curve on another grid, keeping the power in every band, [..., G] [dB].

    frequency: rising, [F] [Hz]
    level: at each, [..., F] [dB]
    grid: rising, within the frequencies of the curve, [G] [Hz]

    Level of the mean power in each cell of the grid: a cell reaches half way to its neighbours on the logarithmic axis,
    and not beyond the curve. Raises `OutOfRange` where frequencies do not rise, or the grid leaves the curve.
    Source: own definition; the integral over a straight line is closed form.
    """
    axis, wanted = _axis("frequency", frequency), _axis("grid", grid)
    if wanted[0] < axis[0] - 1e-6 or wanted[-1] > axis[-1] + 1e-6:
        raise OutOfRange("the grid must lie within the frequencies of the curve")
    middle = (wanted[1:] + wanted[:-1]) / 2
    first = wanted[:1] - (wanted[1:2] - wanted[:1]) / 2 if wanted.size > 1 else axis[:1]
    last = wanted[-1:] + (wanted[-1:] - wanted[-2:-1]) / 2 if wanted.size > 1 else axis[-1:]
    edges = np.clip(np.concatenate([first, middle, last]), axis[0], axis[-1])
    return _mean_level(axis, np.asarray(level, float), edges[:-1], edges[1:])


def smooth(frequency: ArrayLike, level: ArrayLike, fraction: float) -> FloatArray:
    """Return a curve smoothed by a part of an octave, [..., F] [dB].

    frequency: rising, [F] [Hz]
    level: at each, [..., F] [dB]
    fraction: n for a window of 1/n octave, 1 to 48 [1]

    Level of the mean power in a rectangular window on the logarithmic axis; near an end of the curve it shrinks at both
    sides alike, so that a slope is not bent there. Raises `OutOfRange` where frequencies do not rise, or for another
    fraction.
    Source: Hatziantoniou & Mourjopoulos, JAES 48(4), 259-280 (2000), for fractional-octave smoothing (from memory).
    """
    axis = _axis("frequency", frequency)
    half = 0.5 / float(within("fraction", fraction, 1.0, 48.0, "(n of 1/n octave)"))
    reach = np.minimum(half, np.minimum(axis - axis[0], axis[-1] - axis))
    level = np.asarray(level, float)
    alone = reach < 1e-9
    return np.where(alone, level, _mean_level(axis, level, axis - reach, axis + np.where(alone, 1.0, reach)))


def band_levels(frequency: ArrayLike, level: ArrayLike) -> FloatArray:
    """Return the level of a curve in each of the ear's bands; NaN in one that it does not cover whole, [..., B] [dB].

    frequency: rising, closely spaced, [F] [Hz]
    level: at each, [..., F] [dB]

    Source: the bands of Glasberg & Moore, Hearing Research 47, 103-138 (1990); see `erb.smooth`.
    """
    frequency, level = np.asarray(frequency, float), np.asarray(level, float)
    inside = frequency < 2.5e4
    frequency, power = frequency[inside], 10.0 ** (level[..., inside] / 10.0)
    low, high = frequency[0] > 150.0, frequency[-1] < 9000.0
    padded = np.concatenate([[150.0][: int(low)], frequency, [9000.0][: int(high)]])
    power = np.concatenate([power[..., :1][..., : int(low)], power, power[..., -1:][..., : int(high)]], axis=-1)
    return np.where(_covered(frequency), 10.0 * np.log10(erb.smooth(padded, power)), np.nan)


def _covered(frequency: FloatArray) -> BoolArray:
    """Which of the ear's bands lie within a curve."""
    edges = erb.erb_number(erb.bands())[:, None] + np.array([-0.5, 0.5])
    reach = erb.erb_number(frequency[[0, -1]])
    return np.asarray((edges[:, 0] >= reach[0] - 1e-6) & (edges[:, 1] <= reach[1] + 1e-6))


def at_angles(angle: ArrayLike, level: ArrayLike, wanted: ArrayLike) -> FloatArray:
    """Return the levels of one orbit at other angles, straight between neighbours, NaN beyond the last, [W, ...] [dB].

    angle: rising, where the loudspeaker was measured, [A] [deg]
    level: there, [A, ...] [dB]
    wanted: angles asked for, [W] [deg]

    Raises `OutOfRange` where the angles do not rise.
    Source: own definition.
    """
    angle, level, wanted = (np.asarray(values, float) for values in (angle, level, wanted))
    if np.any(np.diff(angle) <= 0):
        raise OutOfRange("angles must rise")
    above = np.clip(np.searchsorted(angle, wanted), 1 if angle.size > 1 else 0, angle.size - 1)
    below = np.maximum(above - 1, 0)
    step = np.where(above > below, angle[above] - angle[below], 1.0)
    shape = (-1, *(1,) * (level.ndim - 1))
    share = ((wanted - angle[below]) / step).reshape(shape)
    outside = ((wanted < angle[0] - 1e-9) | (wanted > angle[-1] + 1e-9)).reshape(shape)
    return np.where(outside, np.nan, level[below] + share * (level[above] - level[below]))


def _axis(name: str, frequency: ArrayLike) -> FloatArray:
    """Octaves of a frequency axis, checked."""
    frequency = np.asarray(frequency, float)
    if frequency.ndim != 1 or not frequency.size or not np.all(np.diff(frequency) > 0.0):
        raise OutOfRange(f"{name} must be one rising axis")
    return np.asarray(np.log2(within(name, frequency, 0.1, 1e6, "Hz")))


def _growth(exponent: FloatArray) -> FloatArray:
    """Mean of the exponential function from 0 to `exponent`."""
    small = np.abs(exponent) < 1e-9
    return np.where(small, 1 + exponent / 2, np.expm1(exponent) / np.where(small, 1.0, exponent))


def _mean_level(axis: FloatArray, level: FloatArray, start: FloatArray, stop: FloatArray) -> FloatArray:
    """Level of the mean power between places on the axis [..., E], for levels straight between its points."""
    if axis.size == 1:
        return np.broadcast_to(level, (*level.shape[:-1], start.size)).copy()
    natural = level * (np.log(10.0) / 10.0)
    top = natural.max(axis=-1, keepdims=True)
    width = np.diff(axis)
    slope = np.diff(natural, axis=-1) / width
    power = np.exp(natural - top)
    whole = np.concatenate(
        [np.zeros((*power.shape[:-1], 1)), np.cumsum(power[..., :-1] * width * _growth(slope * width), axis=-1)],
        axis=-1,
    )

    def up_to(place: FloatArray) -> FloatArray:
        cell = np.clip(np.searchsorted(axis, place, side="right") - 1, 0, axis.size - 2)
        step = place - axis[cell]
        return np.asarray(whole[..., cell] + power[..., cell] * step * _growth(slope[..., cell] * step))

    mean = (up_to(stop) - up_to(start)) / (stop - start)
    return np.asarray((np.log(np.maximum(mean, 1e-300)) + top) * (10.0 / np.log(10.0)))
