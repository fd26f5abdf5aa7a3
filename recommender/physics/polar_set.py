"""Levels around a loudspeaker on a horizontal and a vertical orbit, and which of them the standard's curves need."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, OutOfRange

__all__ = ["polar_set"]

ORBIT_STEP: Final = 10
"""Angle between two curves of an orbit [deg]."""

ORBIT: Final = tuple(range(-170, 181, ORBIT_STEP))
"""The angles of a full orbit [deg]; two orbits share 0 and 180, so there are 70 curves."""


class AveragedAngles(NamedTuple):
    """The angles that one curve averages [deg]: to the right and up are positive."""

    horizontal: tuple[int, ...] = ()
    vertical: tuple[int, ...] = ()


AVERAGED_ANGLES: Final[Mapping[str, AveragedAngles]] = MappingProxyType(
    {
        "listening_window": AveragedAngles((-30, -20, -10, 0, 10, 20, 30), (-10, 10)),
        "floor_bounce": AveragedAngles((), (-40, -30, -20)),
        "ceiling_bounce": AveragedAngles((), (40, 50, 60)),
        "front_wall_bounce": AveragedAngles((-30, -20, -10, 0, 10, 20, 30)),
        "side_wall_bounce": AveragedAngles((-80, -70, -60, -50, -40, 40, 50, 60, 70, 80)),
        "rear_wall_bounce": AveragedAngles((-90, 90, 180)),
        "sound_power": AveragedAngles(ORBIT, tuple(angle for angle in ORBIT if angle not in (0, 180))),
    }
)
"""Which angles each curve averages [deg]. ANSI/CTA-2034-A (from memory)."""

BOUNCES: Final = ("floor_bounce", "ceiling_bounce", "front_wall_bounce", "side_wall_bounce", "rear_wall_bounce")
"""The five parts of the early reflections."""


class MissingAngles(OutOfRange):
    """A curve was asked of a set that does not hold all its angles."""


@dataclass(frozen=True, slots=True)
class PolarSet:
    """Levels around a loudspeaker; made by `polar_set`, which checks it.

    The arrays of both orbits are (..., angles, frequencies): leading axes are loudspeakers.
    """

    frequency: FloatArray
    horizontal_angle: tuple[int, ...]
    horizontal: FloatArray
    vertical_angle: tuple[int, ...]
    vertical: FloatArray

    def missing(self, curve: str) -> tuple[str, ...]:
        """Return the angles that `curve` needs and this set lacks, in words."""
        if curve == "early_reflections":
            return tuple(dict.fromkeys(angle for bounce in BOUNCES for angle in self.missing(bounce)))
        needed = AVERAGED_ANGLES[curve]
        across = (f"horizontal {angle}" for angle in needed.horizontal if angle not in self.horizontal_angle)
        up = (f"vertical {angle}" for angle in needed.vertical if angle not in self.vertical_angle)
        return (*across, *up)

    def squares(self, curve: str) -> FloatArray:
        """Return the squared pressures that `curve` averages, (..., angles, frequencies), or raise `MissingAngles`."""
        if lacking := self.missing(curve):
            raise MissingAngles(f"{curve.replace('_', ' ')} needs {len(lacking)} more curves: {', '.join(lacking)}")
        across = [self.horizontal_angle.index(angle) for angle in AVERAGED_ANGLES[curve].horizontal]
        up = [self.vertical_angle.index(angle) for angle in AVERAGED_ANGLES[curve].vertical]
        parts = [self.horizontal[..., across, :]] if across else []
        parts += [self.vertical[..., up, :]] if up else []
        return np.asarray(10.0 ** (np.concatenate(parts, axis=-2) / 10.0))

    @property
    def complete(self) -> bool:
        """Whether all 70 curves are there."""
        return not self.missing("sound_power")


def polar_set(
    frequency: ArrayLike,
    horizontal_angle: ArrayLike,
    horizontal: ArrayLike,
    vertical_angle: ArrayLike,
    vertical: ArrayLike,
) -> PolarSet:
    """Return a checked set of levels around a loudspeaker; -180 is kept as 180 [dB].

    frequency: rising [Hz]
    horizontal_angle, vertical_angle: multiples of 10 from -180 to 180, positive to the right and upward [deg]
    horizontal, vertical: levels there, [..., angles, frequencies] [dB]

    Raises `OutOfRange` where an angle stands twice or is not one of the standard's, or the shapes do not agree.
    Source: ANSI/CTA-2034-A, *Standard Method of Measurement for In-Home Loudspeakers* (from memory).
    """
    frequency = np.asarray(frequency, float)
    if frequency.ndim != 1 or np.any(np.diff(frequency) <= 0.0):
        raise OutOfRange("frequency must be one rising axis")
    across = _orbit("horizontal", horizontal_angle, np.asarray(horizontal, float), frequency.size)
    up = _orbit("vertical", vertical_angle, np.asarray(vertical, float), frequency.size)
    return PolarSet(frequency, *across, *up)


def _orbit(name: str, angle: ArrayLike, level: FloatArray, frequencies: int) -> tuple[tuple[int, ...], FloatArray]:
    """Return one orbit's angles and levels, checked."""
    angles = [float(each) for each in np.atleast_1d(np.asarray(angle, float))]
    whole = tuple(180 if each == -180.0 else round(each) for each in angles)
    for each, rounded in zip(angles, whole, strict=True):
        if rounded not in ORBIT or abs(each) != abs(rounded):
            raise OutOfRange(f"{name} angle must be a multiple of {ORBIT_STEP} from -180 to 180 deg, not {each:g}")
    if len(set(whole)) < len(whole):
        raise OutOfRange(f"{name} angles must stand once each (-180 and 180 are the same)")
    if whole and level.shape[-2:] != (len(whole), frequencies):
        raise OutOfRange(f"{name} levels must end in {len(whole)} angles by {frequencies} frequencies: {level.shape}")
    return whole, level
