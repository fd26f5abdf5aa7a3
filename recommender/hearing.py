"""What each seat hears of each box: profiles looked up in the directions in which the seats lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from recommender.aiming import Aim
from recommender.physics import geometry
from recommender.physics.kernel import Single
from recommender.physics.profile import Profile, level_at, level_at_each, levels_at
from recommender.scene import BoolArray, CodeArray, FloatArray, IndexArray, Mains, Seats

Plane = NDArray[np.uint16]
"""One plane of stored profiles."""

LEVEL_ENOUGH: Final = 0.5
"""A vertical angle below this changes nothing that could be heard [deg]; see `gates.fit.TILT_ENOUGH`."""

WIDEST: Final = 72.0
"""The largest angle a profile holds [deg]; a seat further aside is judged as if it were there."""


@dataclass(frozen=True, slots=True)
class Voices:
    """How N loudspeakers sound, apart from any place: profiles, tweeter loading, and kinship with the mains.

    `power` is the sound power against the axis, [N, bands]; `relation` holds codes of `criteria.sound.Relation`;
    `stated` is the share of each model's inputs that a datasheet gave.
    """

    profile: Profile
    power: Single
    loading: CodeArray
    relation: CodeArray
    stated: FloatArray
    usable: BoolArray


@dataclass(frozen=True, slots=True)
class Heard:
    """What is heard of N boxes in one place: levels at the seats against their own axis, and how they sound."""

    levels: Single
    power: Single
    loading: CodeArray
    relation: CodeArray
    stated: FloatArray
    usable: BoolArray


class Listening:
    """Levels of all loudspeakers in all directions that some seat lies in, looked up once."""

    def __init__(self, voices: Voices, azimuths: set[float], turned: set[float]) -> None:
        self._voices = voices
        self._across = _table(voices.profile.horizontal, azimuths)
        # a box turned on its side hears its seats in what was its vertical plane, mirrored
        self._turned = _table(voices.profile.vertical, {-angle for angle in turned})

    def at_seats(self, rows: IndexArray, azimuth: FloatArray, aim: Aim, seats: Seats, on_side: bool) -> Heard:
        """What the seats hear of the loudspeakers at `rows`, standing as `aim` says, with the seats at `azimuth`.

        The level in a slanting direction is taken as that of its horizontal plus that of its vertical part.
        """
        profile = self._voices.profile
        table, vertical = (self._turned, profile.horizontal) if on_side else (self._across, profile.vertical)
        angles = (-azimuth if on_side else azimuth).tolist()
        levels = np.stack([table[angle][rows] for angle in angles], axis=1)
        for group in _same_height(seats):
            levels[:, group] += self._above(vertical, rows, aim, seats, group[0])[:, None]
        voices = self._voices
        return Heard(
            levels,
            voices.power[rows],
            voices.loading[rows],
            voices.relation[rows],
            voices.stated[rows],
            voices.usable[rows],
        )

    @staticmethod
    def _above(vertical: Plane, rows: IndexArray, aim: Aim, seats: Seats, seat: int) -> Single:
        """What the vertical angle to a seat adds in each band [dB]; boxes x bands."""
        angle = np.clip(np.nan_to_num(seat_elevation(aim, seats, seat)), -WIDEST, WIDEST)
        slanting = np.flatnonzero(np.abs(angle) >= LEVEL_ENOUGH)
        added: Single = np.zeros((len(rows), vertical.shape[-1]), dtype=np.float32)
        if len(slanting):
            added[slanting] = level_at_each(vertical[rows[slanting]], angle[slanting])
        return added


def _table(plane: Plane, angles: set[float]) -> dict[float, Single]:
    if not angles:
        return {}
    order = sorted(angles)
    return dict(zip(order, np.moveaxis(levels_at(plane, np.clip(np.array(order), -WIDEST, WIDEST)), 1, 0), strict=True))


def _same_height(seats: Seats) -> list[list[int]]:
    """Seats that see a box under the same elevation to a fraction of a degree: same row, same ear height."""
    groups: dict[tuple[float, float], list[int]] = {}
    for seat, key in enumerate(zip(seats.distance.round(1).tolist(), seats.ear_height.round(2).tolist(), strict=True)):
        groups.setdefault(key, []).append(seat)
    return list(groups.values())


def seat_azimuth(aim: Aim, seats: Seats) -> FloatArray:
    """The angle of each seat from the centre's axis [deg]; boxes that stand a little apart share it."""
    known = np.isfinite(aim.baffle).any()
    along = seats.distance - (float(np.nanmedian(aim.baffle)) if known else 0.0)
    return np.asarray(np.round(geometry.azimuth(seats.x, np.maximum(along, 0.1)), 6))


def seat_elevation(aim: Aim, seats: Seats, seat: int) -> FloatArray:
    """The angle of the ear at one seat above the tilted axis of each box [deg]."""
    distance = np.hypot(seats.distance[seat] - aim.baffle, seats.x[seat])
    rise = geometry.elevation(aim.axis_height, seats.ear_height[seat], distance)
    return np.asarray(-rise - aim.tilt_used)


def mains_angles(mains: Mains, seats: Seats, seat: int) -> FloatArray:
    """The angle of a seat from the axis of the left and of the right main [deg]."""
    position = np.array([-0.5, 0.5]) * mains.spacing
    bearing = geometry.azimuth(seats.x[seat] - position, seats.distance[seat] - mains.from_wall)
    return np.asarray(bearing - np.array([1.0, -1.0]) * mains.toe_in)


def mains_at_primary(profile: Profile, mains: Mains, seats: Seats) -> FloatArray:
    """The level of the mains at the primary seat in each band against their own axis [dB], mean power of the two."""
    angles = np.clip(mains_angles(mains, seats, seats.primary), -WIDEST, WIDEST)
    across = np.stack([level_at(profile.horizontal, float(angle))[0] for angle in angles])
    mean = 10 * np.log10(np.mean(10 ** (across / 10), axis=0))
    if np.isnan(mains.axis_height):
        return np.asarray(mean)
    along = seats.distance[seats.primary] - mains.from_wall
    rise = -geometry.elevation(mains.axis_height, seats.ear_height[seats.primary], along)
    return np.asarray(mean + level_at(profile.vertical, float(np.clip(rise, -60, 60)))[0])
