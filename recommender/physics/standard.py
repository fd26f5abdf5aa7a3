"""The curves of ANSI/CTA-2034-A from a loudspeaker's levels around its horizontal and vertical orbit.

The same code for modelled and measured sets. All averages are of squared pressure. The choices, where the standard's
text could not be read or its readers differ:
- early reflections: the mean of the five bounces' means, each bounce counting alike;
- rear wall bounce: the three curves at +90, -90 and 180 deg, not the whole rear half;
- sound power: each curve weighted by the exact share of the sphere that its ring of 10 deg stands for (poles of 5 deg),
  the two orbits sharing a ring alike; not the table that the standard prints, which could not be read;
- a curve is computed only if every angle it names is there. Nothing is filled in; `PolarSet.missing` says what lacks,
  and `MissingAngles` is raised where one is asked for all the same.

polar: levels around the loudspeaker [dB]
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.polar_set import AVERAGED_ANGLES, BOUNCES, ORBIT_STEP, AveragedAngles, PolarSet

__all__ = [
    "curves",
    "early_reflections",
    "in_room_response",
    "listening_window",
    "mean_square",
    "sound_power",
]


def _sphere_shares(angles: AveragedAngles) -> FloatArray:
    """Share of the sphere that each curve stands for [1]: exact, by geometry."""
    angle = np.radians(np.abs(np.array([*angles.horizontal, *angles.vertical])))
    half = np.radians(ORBIT_STEP / 2)
    ring = np.sin(angle) * np.sin(half) / 4.0
    return np.asarray(np.where(np.isclose(np.sin(angle), 0.0), (1.0 - np.cos(half)) / 2.0, ring))


def _weights(curve: str, angles: AveragedAngles) -> FloatArray:
    count = len(angles.horizontal) + len(angles.vertical)
    return _sphere_shares(angles) if curve == "sound_power" else np.ones(count)


ANGLE_WEIGHTS: Final = MappingProxyType({curve: _weights(curve, angles) for curve, angles in AVERAGED_ANGLES.items()})
"""What each angle of a curve counts, in the order of `AVERAGED_ANGLES`: its ring of the sphere, or all alike [1]."""


Real = TypeVar("Real", np.float32, np.float64)


class Curves(NamedTuple):
    """What could be computed of the standard's curves; None for the rest, and why. Levels in dB."""

    frequency: FloatArray
    on_axis: FloatArray | None
    listening_window: FloatArray | None
    early_reflections: FloatArray | None
    sound_power: FloatArray | None
    in_room_response: FloatArray | None
    missing: Mapping[str, tuple[str, ...]]


def _level(square: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray(10.0 * np.log10(square))


def mean_square(curve: str, squares: NDArray[Real]) -> NDArray[Real]:
    """Return the mean squared pressure of a curve from that at its angles, [..., F], of the same precision [1].

    curve: a name of `AVERAGED_ANGLES` [text]
    squares: squared pressure at its angles in the order of `AVERAGED_ANGLES`, [..., angles, F] [1]
    """
    weights = ANGLE_WEIGHTS[curve].astype(squares.dtype)
    return np.asarray(weights @ squares / weights.sum())


def _mean(polar: PolarSet, curve: str) -> FloatArray:
    return np.asarray(mean_square(curve, polar.squares(curve)))


def listening_window(polar: PolarSet) -> FloatArray:
    """Return the listening window: the mean over 0, ±10, ±20, ±30 deg horizontally and ±10 deg vertically [dB].

    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    return _level(_mean(polar, "listening_window"))


def early_reflections(polar: PolarSet) -> FloatArray:
    """Return the early reflections: the mean of the five bounces, each counting alike [dB].

    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    return _level(np.mean([_mean(polar, bounce) for bounce in BOUNCES], axis=0))


def sound_power(polar: PolarSet) -> FloatArray:
    """Return the sound power, as the level of the mean squared pressure over the sphere [dB].

    The curve at an angle off the axis counts sin(angle) sin(5 deg)/4, the exact share of the sphere that lies within 5
    deg of its ring, over the four curves of the ring; the two poles count (1 - cos(5 deg))/2.
    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    return _level(_mean(polar, "sound_power"))


def in_room_response(listening_window: ArrayLike, early_reflections: ArrayLike, sound_power: ArrayLike) -> FloatArray:
    """Return the estimated in-room response: 12 % window, 44 % early reflections and 44 % sound power, as powers [dB].

    listening_window, early_reflections, sound_power: levels [dB]

    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    window, early, power = (
        10.0 ** (np.asarray(level, float) / 10.0) for level in (listening_window, early_reflections, sound_power)
    )
    return _level(0.12 * window + 0.44 * early + 0.44 * power)


def curves(polar: PolarSet) -> Curves:
    """Return all the curves that a set allows, and under `missing` the angles that lack for the others [dB].

    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    lacking = {name: polar.missing(name) for name in ("listening_window", "early_reflections", "sound_power")}
    window = None if lacking["listening_window"] else listening_window(polar)
    early = None if lacking["early_reflections"] else early_reflections(polar)
    power = None if lacking["sound_power"] else sound_power(polar)
    on_axis = polar.horizontal[..., polar.horizontal_angle.index(0), :] if 0 in polar.horizontal_angle else None
    return Curves(
        frequency=polar.frequency,
        on_axis=on_axis,
        listening_window=window,
        early_reflections=early,
        sound_power=power,
        in_room_response=None
        if power is None or early is None or window is None
        else in_room_response(window, early, power),
        missing=MappingProxyType({name: angles for name, angles in lacking.items() if angles}),
    )
