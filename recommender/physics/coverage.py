"""How evenly one loudspeaker serves all seats: how far its response at a seat falls away from its own axis."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.loudspeaker import Sources, pressure, take

__all__ = ["deepest_dip", "first_null", "seat_dip", "spread"]

LOWEST: Final = 200.0
HIGHEST: Final = 6000.0
"""Range of the criterion [Hz]."""

AT_ONCE: Final = 64
"""Loudspeakers worked on together: their arrays fit the processor's cache."""

PER_OCTAVE: Final = 48
"""Frequencies to each octave of an unsmoothed response."""


class Dip(NamedTuple):
    """The lowest point of a response: its level re the axis [dB] and its frequency [Hz]."""

    level: FloatArray
    frequency: FloatArray


@lru_cache(maxsize=1)
def _judged() -> slice:
    return slice(0, int(np.searchsorted(erb.bands(), HIGHEST, side="right")))


def spread(levels: ArrayLike) -> FloatArray:
    r"""Return how far a response departs from the axis, over the bands from 200 Hz to 6 kHz.

    Parameters
    ----------
    levels : array_like
        Levels re the axis in all bands of `erb`, [..., B]. [dB]

    Returns
    -------
    ndarray
        Root of the mean square, [...]. [dB]

    Notes
    -----
    .. math:: \sqrt{\overline{L^2}}

    References
    ----------
    .. [1] Own definition.
    """
    return np.asarray(np.sqrt(np.mean(np.square(np.asarray(levels, float)[..., _judged()]), axis=-1)))


def deepest_dip(levels: ArrayLike) -> FloatArray:
    r"""Return the lowest level of a response, over the bands from 200 Hz to 6 kHz.

    Parameters
    ----------
    levels : array_like
        Levels re the axis in all bands of `erb`, [..., B]. [dB]

    Returns
    -------
    ndarray
        Lowest level, negative for a dip, [...]; NaN where any level is. [dB]

    Notes
    -----
    .. math:: \min_b L_b

    References
    ----------
    .. [1] Own definition.
    """
    return np.asarray(np.asarray(levels, float)[..., _judged()].min(axis=-1))


def first_null(spacing: ArrayLike, angle: ArrayLike) -> FloatArray:
    r"""Return where two like sources first cancel.

    Parameters
    ----------
    spacing : array_like
        Centre to centre. [m]
    angle : array_like
        Off the axis, in the plane of both. [deg]

    Returns
    -------
    ndarray
        Frequency; infinite on the axis. [Hz]

    Notes
    -----
    .. math:: f = \frac{c}{2 d \sin\theta}

    References
    ----------
    .. [1] Kinsler, Frey, Coppens & Sanders, *Fundamentals of Acoustics*, 4th ed., ch. 7 (from memory).
    """
    spacing = within("spacing", spacing, 1e-3, 10.0, "m")
    sine = np.abs(np.sin(np.radians(within("angle", angle, -90.0, 90.0, "deg"))))
    with np.errstate(divide="ignore"):
        return np.asarray(SPEED_OF_SOUND / (2 * spacing * sine))


@lru_cache(maxsize=1)
def _grid() -> FloatArray:
    return np.geomspace(LOWEST, HIGHEST, 1 + int(np.ceil(PER_OCTAVE * np.log2(HIGHEST / LOWEST))))


def seat_dip(sources: Sources, azimuth: ArrayLike, elevation: ArrayLike) -> Dip:
    r"""Return the lowest point of each loudspeaker's unsmoothed response at a seat, from 200 Hz to 6 kHz.

    Parameters
    ----------
    sources : Sources
        The loudspeakers, N of them. [m, Hz]
    azimuth : array_like
        Where the seat is in each box's frame: to the right, one for all or [N]. [deg]
    elevation : array_like
        The same: up from the axis. [deg]

    Returns
    -------
    Dip
        Level re the axis, [N], and the frequency it is at; NaN for a loudspeaker that is not usable. [dB, Hz]

    Notes
    -----
    .. math:: \min_f 20 \log_{10} |p(f)|

    In the far field, on 48 frequencies an octave; of two likes the lower frequency. The depth of a null is that of the
    grid, not of the formula, which has no bottom.

    References
    ----------
    .. [1] Beranek & Mellow, *Acoustics*, 2nd ed., sec. 13.16 (product theorem).
    """
    azimuth, elevation = (np.broadcast_to(np.asarray(angle, float), len(sources)) for angle in (azimuth, elevation))
    parts = [slice(start, start + AT_ONCE) for start in range(0, len(sources), AT_ONCE)]
    found = [_lowest(take(sources, part), azimuth[part, None], elevation[part, None]) for part in parts]
    return Dip(*(np.concatenate(column) for column in zip(*found, strict=True))) if found else Dip(azimuth, azimuth)


def _lowest(sources: Sources, azimuth: FloatArray, elevation: FloatArray) -> Dip:
    size = np.abs(pressure(sources, _grid(), azimuth, elevation)[:, 0])
    at = np.argmin(size, axis=1)
    level = 20 * np.log10(np.maximum(size[np.arange(len(at)), at], 1e-6))
    return Dip(level, np.where(np.isnan(level), np.nan, _grid()[at]))
