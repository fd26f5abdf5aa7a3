"""The ear's frequency resolution: equivalent rectangular bandwidth, its scale, and spectra smoothed by it."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics.checks import FloatArray, OutOfRange, within

__all__ = ["band_power", "bands", "erb_number", "fine_grid", "frequency_at", "smooth"]

Real = TypeVar("Real", np.float32, np.float64)

LOWEST_BAND: Final = 200.0
"""Centre of the lowest band [Hz]."""

BANDS: Final = 28
"""How many bands: the highest is centred at 7.6 kHz and ends at 8.0 kHz."""


def erb_number(frequency: ArrayLike) -> FloatArray:
    """Return how many of the ear's bandwidths lie below a frequency: 21.4 log10(1 + 0.00437 f) [1].

    frequency: up to 30 kHz [Hz]

    Source: Glasberg & Moore, Hearing Research 47, 103-138 (1990).
    """
    return np.asarray(21.4 * np.log10(1 + 4.37e-3 * within("frequency", frequency, 0.0, 3e4, "Hz")))


def frequency_at(erb_number: ArrayLike) -> FloatArray:
    """Return the frequency at an ERB number: `erb_number` the other way [Hz].

    erb_number: 0 to 45 [1]

    Source: Glasberg & Moore, Hearing Research 47, 103-138 (1990).
    """
    return np.asarray((10 ** (within("erb_number", erb_number, 0.0, 45.0, "") / 21.4) - 1) / 4.37e-3)


@lru_cache(maxsize=1)
def bands() -> FloatArray:
    """Return the centres of 28 bands, each 1 ERB wide and 1 ERB from the next, from 200 Hz up. [Hz]."""
    centres = frequency_at(erb_number(LOWEST_BAND) + np.arange(BANDS))
    centres.setflags(write=False)
    return centres


@lru_cache(maxsize=8)
def _rule(per_band: int) -> tuple[FloatArray, FloatArray]:
    """Places within a band, -1/2 to 1/2, and weights that sum to 1: Gauss's rule, exact for smooth spectra."""
    places, weights = np.polynomial.legendre.leggauss(per_band)
    return places / 2, weights / 2


@lru_cache(maxsize=8)
def fine_grid(per_band: int) -> FloatArray:
    """Return `per_band` frequencies in each band, lowest first, where `band_power` wants the spectrum. [Hz]."""
    steps = np.arange(BANDS)[:, None] + _rule(int(within("per_band", per_band, 1, 200, "")))[0]
    grid = frequency_at(erb_number(LOWEST_BAND) + steps.ravel())
    grid.setflags(write=False)
    return grid


def band_power(power: NDArray[Real], axis: int = -1) -> NDArray[Real]:
    """Return the mean power in each of `bands` of a spectrum on a `fine_grid`, of the same precision [1].

    power: at each frequency of the grid [1]
    axis: which of its axes the frequencies are along, the last or the first [1]

    A rectangular window of 1 ERB over the power, by Gauss's rule.
    Source: Glasberg & Moore, Hearing Research 47, 103-138 (1990), for the width; the rectangular window is our choice.
    """
    power = np.asarray(power)
    per_band = power.shape[axis] // BANDS
    weights = _rule(per_band)[1].astype(power.dtype)
    if axis == 0:
        parts = power.reshape(BANDS, per_band, *power.shape[1:])
        return np.asarray(sum(weight * parts[:, place] for place, weight in enumerate(weights)), power.dtype)
    return power.reshape(*power.shape[:-1], BANDS, per_band) @ weights


def smooth(frequency: ArrayLike, power: ArrayLike) -> FloatArray:
    """Return a power spectrum as the ear resolves it: the mean power in each of `bands`, [..., B] [1].

    frequency: rising, from 185 Hz to 8.05 kHz at least, [F] [Hz]
    power: at each, [..., F]; not decibels [1]

    As `band_power`, with the power taken as straight between the given frequencies in ERB number. Raises `OutOfRange`
    where the frequencies do not rise or do not cover all bands.
    Source: Glasberg & Moore, Hearing Research 47, 103-138 (1990), for the width; the rectangular window is our choice.
    """
    scale, power = erb_number(frequency), np.asarray(power, float)
    edges = erb_number(LOWEST_BAND) + np.arange(BANDS + 1) - 0.5
    if np.any(np.diff(scale) <= 0) or scale[0] > edges[0] or scale[-1] < edges[-1]:
        raise OutOfRange(
            f"frequency must rise and reach from {frequency_at(edges[0]):.0f} to {frequency_at(edges[-1]):.0f} Hz"
        )
    area = np.diff(scale) * (power[..., 1:] + power[..., :-1]) / 2
    whole = np.concatenate([np.zeros((*power.shape[:-1], 1)), np.cumsum(area, axis=-1)], axis=-1)
    cell = np.clip(np.searchsorted(scale, edges, side="right") - 1, 0, scale.size - 2)
    step, width = edges - scale[cell], scale[cell + 1] - scale[cell]
    slope = (power[..., cell + 1] - power[..., cell]) / width
    return np.asarray(np.diff(whole[..., cell] + step * (power[..., cell] + slope * step / 2), axis=-1))
