"""Made-up loudspeakers for the tests: columns with only what a test names, and a varied catalogue."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.description import Columns
from triptych.recommender.physics.kernel import Single, chunks, unfolded
from triptych.recommender.physics.loudspeaker import Sources
from triptych.recommender.physics.polar_set import ORBIT, PolarSet, polar_set

LAYOUTS = ("MTM", "W(T/M)W", "TM", "W(TM)W", "WMTMW", "TMM", "TMWW", "TMW", "(TM)", "MMTMM")
LYING = {"MTM", "W(T/M)W", "W(TM)W", "WMTMW", "MMTMM"}
TWEETERS = ("dome", "waveguide_dome", "horn", "ribbon", "folded_ribbon", "ring", "cone", None)
SIZES = (0.1, 0.114, 0.13, 0.14, 0.152, 0.165, 0.178, 0.2)


def columns(count: int = 1, **known: Any) -> Columns:
    """Columns in which only what is named is known; a scalar holds for all."""
    unknown: dict[str, Any] = {name: np.full(count, np.nan) for name in Columns.__slots__}
    unknown |= {"lying": np.zeros(count, bool), "tweeter_type": np.full(count, None), "layout": np.full(count, None)}
    unknown |= {"tweeter_coverage": np.full((count, 2), np.nan), "crossover": np.full((count, 3), np.nan)}
    for name, value in known.items():
        unknown[name] = np.broadcast_to(np.asarray(value, unknown[name].dtype), unknown[name].shape).copy()
    return Columns(**unknown)


def catalogue(count: int, seed: int = 0) -> Columns:
    """Every layout and tweeter there is, sizes and crossovers at random, half of the spacings stated."""
    draw = np.random.default_rng(seed)
    layout = np.array(LAYOUTS)[draw.integers(0, len(LAYOUTS), count)]
    lying = np.array([text in LYING for text in layout])
    wide = np.array(["W" in text for text in layout])
    short, long = draw.uniform(0.14, 0.26, count), np.where(lying, draw.uniform(0.42, 0.8, count), 1.0)
    size = np.array(SIZES)[draw.integers(0, len(SIZES), count)]
    lowest = np.where(wide, draw.uniform(250, 700, count), draw.uniform(1500, 3200, count))
    return columns(
        count,
        lying=lying,
        width=np.where(lying, long, short),
        height=np.where(lying, short, long),
        tweeter_type=np.array(TWEETERS, dtype=object)[draw.integers(0, len(TWEETERS), count)],
        woofer_size=size,
        layout=layout.astype(object),
        woofer_spacing=np.where(lying & (draw.random(count) < 0.5), draw.uniform(0.25, 0.5, count), np.nan),
        crossover=np.column_stack(
            [lowest, np.where(wide, draw.uniform(2000, 3500, count), np.nan), np.full(count, np.nan)]
        ),
        crossover_order=draw.choice([2, 3, 4, 8], count),
    )


def power(sources: Sources, frequency: FloatArray, azimuth: ArrayLike, elevation: ArrayLike) -> Single:
    """What the fast kernel gives for all loudspeakers, [N, D, F]."""
    count = np.broadcast(np.atleast_1d(azimuth), np.atleast_1d(elevation)).size
    result = np.full((len(sources), count, frequency.size), np.nan, dtype=np.float32)
    for chunk in chunks(sources, frequency, azimuth, elevation):
        result[chunk.rows] = unfolded(chunk.power, chunk.direction)
    return result


def both_orbits(frequency: ArrayLike, pressure: FloatArray) -> PolarSet:
    """A full set with the same pressures on both orbits."""
    with np.errstate(divide="ignore"):
        level = 20.0 * np.log10(np.abs(pressure))
    return polar_set(frequency, ORBIT, level, ORBIT, level)


def far_away(azimuth: float, elevation: float = 0.0) -> FloatArray:
    """A point 100 km off in a direction, where paths differ as in the far field."""
    turn, rise = np.radians([azimuth, elevation])
    return np.asarray(1e5 * np.array([np.sin(turn) * np.cos(rise), np.sin(rise), np.cos(turn) * np.cos(rise)]))
