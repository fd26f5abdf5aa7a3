"""How evenly one loudspeaker serves all seats: how far its response at a seat falls away from its own axis."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Sources, pressure_at, take
from triptych.recommender.physics.spherical import OFF_AT_MOST, size_at

__all__ = ["deepest_dip", "first_null", "seat_dip", "spread"]

LOWEST_HEARD: Final = 200.0
HIGHEST_HEARD: Final = 6000.0
"""Range of the criterion [Hz]."""

AT_ONCE: Final = 1_000
"""Loudspeakers worked on together, so that memory is bounded."""

PRESSURES_AT_ONCE: Final = 4_000
"""So many pressures are worked out together: their arrays fit the processor's cache."""

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
    level, frequency = np.full(points.shape[:2], np.nan), np.full(points.shape[:2], np.nan)
    for start in range(0, len(sources), AT_ONCE):
        part = slice(start, start + AT_ONCE)
        some, there = take(sources, part), points[part]
        size = size_at(some, there, _grid())
        box, seat = np.nonzero(~np.isnan(size).all(axis=2))
        rays, lowest = take(some, box), there[box, seat, None]
        middle = np.clip(_lowest_of(rays, lowest, size[box, seat]), 1, len(_grid()) - 2)
        level[start + box, seat], frequency[start + box, seat] = _between(rays, lowest, middle)
    return LowestPoint(level.reshape(shape), frequency.reshape(shape))


def _lowest_of(rays: Sources, points: FloatArray, size: Single) -> NDArray[np.intp]:
    """Which frequency of the grid is the lowest of each loudspeaker at its point, by what the sizes leave open."""
    near = size <= size.min(axis=1, keepdims=True) + np.float32(2 * OFF_AT_MOST)
    ray, place = np.nonzero(near)
    exact = np.empty(len(ray))
    for start in range(0, len(ray), PRESSURES_AT_ONCE):
        some = slice(start, start + PRESSURES_AT_ONCE)
        heard = pressure_at(take(rays, ray[some]), _grid()[place[some], None], points[ray[some]])
        exact[some] = np.abs(heard)[:, 0, 0]
    order = np.lexsort((place, exact, ray))
    return np.asarray(place[order[np.searchsorted(ray[order], np.arange(len(rays)))]])


STEPS_BETWEEN: Final = np.linspace(-1.0, 1.0, 65)
"""Where the lowest point is looked for between three frequencies of the grid, from the first to the last [1]."""


def _between(rays: Sources, points: FloatArray, middle: NDArray[np.intp]) -> LowestPoint:
    """The lowest point of each loudspeaker at its point, between the frequencies next to one of the grid."""
    pressure = pressure_at(rays, _grid()[middle[:, None] + np.arange(-1, 2)], points)[:, 0]
    # a null is deeper than what any grid hits; the pressure itself is smooth there: a parabola in the complex plane
    before, at, after = (pressure[:, [step]] for step in range(3))
    size = np.abs(at + STEPS_BETWEEN * ((after - before) / 2 + STEPS_BETWEEN * ((after + before) / 2 - at)))
    lowest = np.argmin(size, axis=1)
    level = 20 * np.log10(np.maximum(size[np.arange(len(lowest)), lowest], 1e-6))
    step = _grid()[1] / _grid()[0]
    return LowestPoint(level, _grid()[middle] * step ** STEPS_BETWEEN[lowest])
