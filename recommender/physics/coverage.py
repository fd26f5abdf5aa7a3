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

LOWEST_HEARD: Final = 200.0
HIGHEST_HEARD: Final = 6000.0
"""Range of the criterion [Hz]."""

AT_ONCE: Final = 64
"""Loudspeakers worked on together: their arrays fit the processor's cache."""

HEARD_PER_OCTAVE: Final = 48
"""Frequencies to each octave of an unsmoothed response."""


class LowestPoint(NamedTuple):
    """The lowest point of a response: its level re the axis [dB] and its frequency [Hz]."""

    level: FloatArray
    frequency: FloatArray


@lru_cache(maxsize=1)
def _judged() -> slice:
    return slice(0, int(np.searchsorted(erb.bands(), HIGHEST_HEARD, side="right")))


def spread(levels: ArrayLike) -> FloatArray:
    """Return the rms departure of a response from the axis, over the bands from 200 Hz to 6 kHz [dB].

    levels: re the axis in all bands of `erb`, [..., B] [dB]

    Source: own definition.
    """
    return np.asarray(np.sqrt(np.mean(np.square(np.asarray(levels, float)[..., _judged()]), axis=-1)))


def deepest_dip(levels: ArrayLike) -> FloatArray:
    """Return the lowest level of a response over the bands from 200 Hz to 6 kHz; NaN where any is [dB].

    levels: re the axis in all bands of `erb`, [..., B] [dB]

    Source: own definition.
    """
    return np.asarray(np.asarray(levels, float)[..., _judged()].min(axis=-1))


def first_null(spacing: ArrayLike, angle: ArrayLike) -> FloatArray:
    """Return where two like sources first cancel; infinite on the axis [Hz].

    spacing: centre to centre [m]
    angle: off the axis, in the plane of both [deg]

    c / (2 d sin(angle)).
    Source: Kinsler, Frey, Coppens & Sanders, *Fundamentals of Acoustics*, 4th ed., ch. 7 (from memory).
    """
    spacing = within("spacing", spacing, 1e-3, 10.0, "m")
    sine = np.abs(np.sin(np.radians(within("angle", angle, -90.0, 90.0, "deg"))))
    with np.errstate(divide="ignore"):
        return np.asarray(SPEED_OF_SOUND / (2 * spacing * sine))


@lru_cache(maxsize=1)
def _grid() -> FloatArray:
    return np.geomspace(
        LOWEST_HEARD, HIGHEST_HEARD, 1 + int(np.ceil(HEARD_PER_OCTAVE * np.log2(HIGHEST_HEARD / LOWEST_HEARD)))
    )


def seat_dip(sources: Sources, azimuth: ArrayLike, elevation: ArrayLike) -> LowestPoint:
    """Return the lowest point of each loudspeaker's unsmoothed response at a seat, from 200 Hz to 6 kHz, [N] [dB, Hz].

    sources: N loudspeakers [m, Hz]
    azimuth, elevation: of the seat in each box's frame, right and up, one for all or [N] [deg]

    In the far field, on 48 frequencies an octave; of two likes the lower frequency. The depth of a null is that of the
    grid, not of the formula, which has no bottom. NaN for a loudspeaker that is not usable.
    Source: Beranek & Mellow, *Acoustics*, 2nd ed., sec. 13.16 (product theorem).
    """
    azimuth, elevation = (np.broadcast_to(np.asarray(angle, float), len(sources)) for angle in (azimuth, elevation))
    parts = [slice(start, start + AT_ONCE) for start in range(0, len(sources), AT_ONCE)]
    found = [_lowest(take(sources, part), azimuth[part, None], elevation[part, None]) for part in parts]
    return (
        LowestPoint(*(np.concatenate(column) for column in zip(*found, strict=True)))
        if found
        else LowestPoint(azimuth, azimuth)
    )


def _lowest(sources: Sources, azimuth: FloatArray, elevation: FloatArray) -> LowestPoint:
    size = np.abs(pressure(sources, _grid(), azimuth, elevation)[:, 0])
    at = np.argmin(size, axis=1)
    level = 20 * np.log10(np.maximum(size[np.arange(len(at)), at], 1e-6))
    return LowestPoint(level, np.where(np.isnan(level), np.nan, _grid()[at]))
