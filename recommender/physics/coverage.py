"""How evenly one loudspeaker serves all seats: how far its response at a seat falls away from its own axis."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.loudspeaker import Sources, pressure_at, take

__all__ = ["deepest_dip", "first_null", "seat_dip", "spread"]

LOWEST_HEARD: Final = 200.0
HIGHEST_HEARD: Final = 6000.0
"""Range of the criterion [Hz]."""

AT_ONCE: Final = 32
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


def first_null(first: ArrayLike, second: ArrayLike, point: ArrayLike) -> FloatArray:
    """Return where two like sources first cancel at a point; infinite where it is as far from both [Hz].

    first, second: where they are on the baffle, right and up of the axis, [..., 2] [m]
    point: right, up, and out of the baffle, [..., 3] [m]

    c / (2 |r1 - r2|), with both ways as they are; far away c / (2 d sin(angle)), the angle off the plane between them.
    Source: Kinsler, Frey, Coppens & Sanders, *Fundamentals of Acoustics*, 4th ed., ch. 7 (from memory).
    """
    point = np.asarray(point, float)
    ways = [
        np.sqrt(np.square(point[..., :2] - np.asarray(source, float)).sum(axis=-1) + np.square(point[..., 2]))
        for source in (first, second)
    ]
    with np.errstate(divide="ignore"):
        return np.asarray(SPEED_OF_SOUND / (2 * np.abs(ways[0] - ways[1])))


@lru_cache(maxsize=1)
def _grid() -> FloatArray:
    return np.geomspace(
        LOWEST_HEARD, HIGHEST_HEARD, 1 + int(np.ceil(HEARD_PER_OCTAVE * np.log2(HIGHEST_HEARD / LOWEST_HEARD)))
    )


def seat_dip(sources: Sources, points: ArrayLike) -> LowestPoint:
    """Return the lowest point of each loudspeaker's unsmoothed response at a seat, from 200 Hz to 6 kHz, [N] [dB, Hz].

    sources: N loudspeakers [m, Hz]
    points: the seat in the frame of each (right, up, out of the baffle), [N, 3]; or S of them [N, S, 3] for [N, S] [m]

    By exact paths, on 48 frequencies an octave and between those next to the lowest of them; of two likes the lower
    frequency. NaN for a loudspeaker that is not usable.
    Source: Kinsler, Frey, Coppens & Sanders, *Fundamentals of Acoustics*, 4th ed., ch. 7 (from memory).
    """
    points = np.asarray(points, float)
    shape = points.shape[:-1] if points.ndim > 1 else (len(sources),)
    points = points.reshape(len(sources), math.prod(shape[1:]), 3)
    parts = [slice(start, start + AT_ONCE) for start in range(0, len(sources), AT_ONCE)]
    found = [_lowest(take(sources, part), points[part]) for part in parts]
    none = np.empty(shape)
    return (
        LowestPoint(*(np.concatenate(column).reshape(shape) for column in zip(*found, strict=True)))
        if found
        else LowestPoint(none, none)
    )


STEPS_BETWEEN: Final = np.linspace(-1.0, 1.0, 65)
"""Where the lowest point is looked for between three frequencies of the grid, from the first to the last [1]."""


def _lowest(sources: Sources, points: FloatArray) -> LowestPoint:
    pressure = pressure_at(sources, _grid(), points).reshape(-1, len(_grid()))
    middle = np.clip(np.argmin(np.abs(pressure), axis=1), 1, len(_grid()) - 2)
    # a null is deeper than what any grid hits; the pressure itself is smooth there: a parabola in the complex plane
    before, at, after = (pressure[np.arange(len(middle)), middle + step][:, None] for step in (-1, 0, 1))
    size = np.abs(at + STEPS_BETWEEN * ((after - before) / 2 + STEPS_BETWEEN * ((after + before) / 2 - at)))
    lowest = np.argmin(size, axis=1)
    level = 20 * np.log10(np.maximum(size[np.arange(len(lowest)), lowest], 1e-6))
    step = _grid()[1] / _grid()[0]
    return LowestPoint(level, np.where(np.isnan(level), np.nan, _grid()[middle] * step ** STEPS_BETWEEN[lowest]))
