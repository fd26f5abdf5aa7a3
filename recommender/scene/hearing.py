"""What each seat hears of each box: profiles looked up in the directions in which the seats lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics import geometry, reflection
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.profile import (
    FLOOR,
    PROFILE_ANGLES,
    PROFILE_STEP,
    SCALE,
    Profile,
    decibels,
    level_at_each,
    levels_at,
)
from triptych.recommender.physics.timbre import seat_weights
from triptych.recommender.scene.aiming import NEAREST, Aim
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, InRoom, Kin, Seats, Sound, Stands
from triptych.recommender.scene.measured import HORIZONTAL, VERTICAL, Measured

Plane = NDArray[np.uint16]
"""One plane of stored profiles."""

LEVEL_ENOUGH: Final = 0.5
"""A vertical angle below this changes nothing that could be heard [deg]; see `gates.fit.TILT_ENOUGH`."""

WIDEST: Final = 72.0
"""The largest angle a profile holds [deg]; a seat further aside is judged as if it were there."""


@dataclass(frozen=True, slots=True)
class Voices:
    """How N loudspeakers sound, apart from any place.

    `power` is the sound power against the axis, measured or modelled, [N, bands]; `stated` is the share of each model's
    inputs that a datasheet gave, `drivers` the same of all inputs but the spacing of the drivers; `measured` what takes
    the model's place.
    """

    profile: Profile
    power: Single
    kin: Kin
    stated: FloatArray
    drivers: FloatArray
    usable: BoolArray
    measured: Measured


@dataclass(frozen=True, slots=True)
class Spacing:
    """What seats would hear if the assumed spacing of the drivers of N boxes were another.

    A spacing `factor` times as large does at an angle what the likely one does where the sine is `factor` times as
    large, as far as the path between the drivers goes; `plane` holds the profiles of all loudspeakers, `rows` says
    which are these, `azimuth` where the seats are in it [deg].
    """

    plane: Plane
    rows: IndexArray
    azimuth: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def assumed(self) -> BoolArray:
        """Which boxes have an assumed spacing."""
        return np.asarray(self.high > self.low)

    def changes(self, boxes: IndexArray, seats: IndexArray) -> tuple[Single, Single]:
        """What the least and the largest spacing of some boxes add at a seat of each [dB], [boxes, bands]."""
        sine = np.sin(np.radians(self.azimuth[seats]))
        rows = self.rows[boxes]
        likely, low, high = (
            _near(self.plane, rows, np.degrees(np.arcsin(np.clip(factor * sine, -1.0, 1.0))))
            for factor in (1.0, self.low[boxes], self.high[boxes])
        )
        return low - likely, high - likely


@dataclass(frozen=True, slots=True)
class Heard:
    """What is heard of N boxes in one place: levels at the seats against their own axis, and the primary seat's sound.

    `around` says of which boxes the levels at all regular seats were measured; `drivers` is as in `Voices`.
    """

    levels: Single
    sound: Sound
    drivers: FloatArray
    around: BoolArray
    spacing: Spacing


class DirectionLevels:
    """Levels of all loudspeakers in all directions that some seat lies in, looked up once."""

    def __init__(self, voices: Voices, azimuths: set[float], turned: set[float]) -> None:
        self._voices = voices
        self._across = levels_in(voices, HORIZONTAL, azimuths)
        # a box turned on its side hears its seats in what was its vertical plane, mirrored
        self._turned = levels_in(voices, VERTICAL, {-angle for angle in turned})

    def at_seats(self, rows: IndexArray, azimuth: FloatArray, aim: Aim, seats: Seats, on_side: bool) -> Heard:
        """What the seats hear of the loudspeakers at `rows`, standing as `aim` says, with the seats at `azimuth`.

        The level in a slanting direction is taken as that of its horizontal plus that of its vertical part.
        """
        table, plane = (self._turned, VERTICAL) if on_side else (self._across, HORIZONTAL)
        angles = -azimuth if on_side else azimuth
        levels = np.stack([table[angle][rows] for angle in angles.tolist()], axis=1)
        for group in _same_height(seats):
            levels[:, group] += self._above(1 - plane, rows, aim, seats, group[0])[:, None]
        return self._heard(rows, levels, np.clip(angles, -WIDEST, WIDEST), plane, seats)

    def _heard(self, rows: IndexArray, levels: Single, angles: FloatArray, plane: int, seats: Seats) -> Heard:
        voices, measured = self._voices, self._voices.measured
        profile = voices.profile
        axis = measured.axis[rows] if measured.any else measured.axis[:1]
        there = angles[seats.primary]
        order = seats.judged
        around = measured.reaches(rows, plane, angles[order].min(), angles[order].max())
        power = voices.power[rows]
        return Heard(
            levels=levels,
            sound=Sound(
                direct=levels[:, seats.primary] + axis,
                power=power + axis,
                kin=voices.kin.take(rows),
                stated=voices.stated[rows],
                usable=voices.usable[rows],
                measured=measured.direct[rows],
                whole=measured.whole[rows],
                aside=_aside(measured, rows, plane, there, there),
                room=free_air(levels[:, order], power, axis, around, measured.whole[rows]),
            ),
            drivers=voices.drivers[rows],
            around=around,
            spacing=Spacing(
                profile.planes[:, plane], rows, angles, profile.spacing_low[rows], profile.spacing_high[rows]
            ),
        )

    def downward(self, rows: IndexArray, elevation: FloatArray, aim: Aim, seats: Seats, on_side: bool) -> Single:
        """What the loudspeakers at `rows` send under an elevation of each, less what they send to the primary ear."""
        plane = HORIZONTAL if on_side else VERTICAL
        stored = self._voices.profile.planes[:, plane]
        ear = np.clip(np.nan_to_num(seat_elevation(aim, seats, seats.primary)), -WIDEST, WIDEST)
        below = level_at_each(stored, np.clip(elevation, -WIDEST, WIDEST), rows)
        return np.asarray(below - level_at_each(stored, ear, rows), dtype=np.float32)

    def _above(self, plane: int, rows: IndexArray, aim: Aim, seats: Seats, seat: int) -> Single:
        """What the vertical angle to a seat adds in each band [dB]; boxes x bands."""
        voices = self._voices
        angle = np.clip(np.nan_to_num(seat_elevation(aim, seats, seat)), -WIDEST, WIDEST)
        slanting = np.flatnonzero(np.abs(angle) >= LEVEL_ENOUGH)
        stored = voices.profile.planes[:, plane]
        added: Single = np.zeros((len(rows), stored.shape[-1]), dtype=np.float32)
        if len(slanting):
            modelled = level_at_each(stored, angle[slanting], rows[slanting])
            added[slanting] = voices.measured.over(modelled, rows[slanting], plane, angle[slanting], voices.usable)
        return added


CURVELESS: Final = 5.0
"""A direction so near the axis needs no curve of its own [deg]. Common practice."""


def _aside(
    measured: Measured, rows: IndexArray, plane: int, lowest: FloatArray | float, highest: FloatArray | float
) -> BoolArray:
    """Of which loudspeakers the direct sound between two angles, of all or of each, takes no model."""
    near = np.maximum(np.abs(lowest), np.abs(highest)) <= CURVELESS
    return measured.direct[rows] & (near | measured.reaches(rows, plane, lowest, highest))


def _near(plane: Plane, rows: IndexArray, angle: FloatArray) -> Single:
    """Levels of the loudspeakers at `rows`, each at its own angle, by the power of the two stored angles next to it."""
    place = (np.clip(angle, PROFILE_ANGLES[0], PROFILE_ANGLES[-1]) - PROFILE_ANGLES[0]) / PROFILE_STEP
    first = np.minimum(np.floor(place).astype(np.intp), PROFILE_ANGLES.size - 2)
    share = np.broadcast_to(place - first, len(rows)).astype(np.float32)[:, None]
    lower, upper = (np.square(plane[rows, first + step].astype(np.float32)) for step in (0, 1))
    power = (lower + share * (upper - lower)) / np.float32(SCALE**2)
    return np.asarray(10 * np.log10(np.maximum(power, np.float32(FLOOR))), dtype=np.float32)


def levels_in(voices: Voices, plane: int, angles: set[float]) -> dict[float, Single]:
    """The levels of all loudspeakers at some angles of a plane [dB], measured where they were."""
    if not angles:
        return {}
    order, everyone = np.array(sorted(angles)), np.arange(len(voices.usable))
    inside = np.clip(order, -WIDEST, WIDEST)
    modelled = np.moveaxis(levels_at(voices.profile.planes[:, plane], inside), 1, 0)
    return {
        angle: voices.measured.over(levels, everyone, plane, within, voices.usable)
        for angle, levels, within in zip(order.tolist(), modelled, inside, strict=True)
    }


def _same_height(seats: Seats) -> list[list[int]]:
    """Seats that see a box under the same elevation to a fraction of a degree: same row, same ear height."""
    groups: dict[tuple[float, float], list[int]] = {}
    for seat, key in enumerate(zip(seats.distance.round(1).tolist(), seats.ear_height.round(2).tolist(), strict=True)):
        groups.setdefault(key, []).append(seat)
    return list(groups.values())


def seat_azimuth(aim: Aim, seats: Seats) -> FloatArray:
    """The angle of each seat from the centre's axis [deg]; boxes that stand a little apart share it."""
    return np.asarray(np.round(geometry.azimuth(seats.x, np.maximum(seats.distance - aim.shared_baffle, NEAREST)), 6))


def own_azimuth(aim: Aim, seats: Seats, seat: int) -> FloatArray:
    """The angle of one seat from the axis of each box, each from its own baffle [deg]."""
    return geometry.azimuth(seats.x[seat], np.maximum(seats.distance[seat] - aim.baffle, NEAREST))


def seat_elevation(aim: Aim, seats: Seats, seat: int) -> FloatArray:
    """The angle of the ear at one seat above the tilted axis of each box [deg]."""
    distance = np.hypot(seats.distance[seat] - aim.baffle, seats.x[seat])
    rise = geometry.elevation(aim.axis_height, seats.ear_height[seat], distance)
    return np.asarray(-rise - aim.tilt_used)


def mains_angles(stands: Stands, seats: Seats, seat: int) -> FloatArray:
    """The angle of a seat from the axis of the left and right of each mains, as far as profiles reach [deg], M x 2."""
    position = np.array([-0.5, 0.5]) * stands.spacing
    along = seats.distance[seat] - stands.from_wall
    bearing = geometry.azimuth(seats.x[seat] - position, along[:, None])
    return np.clip(bearing - np.array([1.0, -1.0]) * stands.toe_in, -WIDEST, WIDEST)


def mains_sound(voices: Voices, stands: Stands, seats: Seats) -> Sound:
    """What the regular seats hear of each mains in free air: the mean power of left and right.

    Against their own axis, or with what was measured on it where it was.
    """
    angles = mains_angles(stands, seats, seats.primary)
    levels = np.stack([_mains_levels(voices, stands, seats, seat) for seat in seats.judged.tolist()], axis=1)
    aside = _aside(voices.measured, np.arange(len(levels)), HORIZONTAL, angles.min(axis=1), angles.max(axis=1))
    return sound_of(voices, levels, aside)


def _mains_levels(voices: Voices, stands: Stands, seats: Seats, seat: int) -> Single:
    """The mean level of left and right of each mains towards a seat, against their own axis [dB]; M x bands."""
    angles = mains_angles(stands, seats, seat)
    left, right = (_towards(voices, HORIZONTAL, angles[:, side]) for side in (0, 1))
    mean = 10 * np.log10((10 ** (left / 10) + 10 ** (right / 10)) / 2)
    rise = -_mains_elevation(stands, seats, seat)
    up = _towards(voices, VERTICAL, np.clip(np.nan_to_num(rise), -STEEPEST, STEEPEST))
    return np.asarray(mean + np.where(np.isnan(rise)[:, None], np.float32(0), up), dtype=np.float32)


def _mains_elevation(stands: Stands, seats: Seats, seat: int) -> FloatArray:
    """The elevation of each mains as an ear sees it [deg]."""
    along = seats.distance[seat] - stands.from_wall
    return geometry.elevation(stands.axis_height, seats.ear_height[seat], along)


def mains_downward(voices: Voices, stands: Stands, seats: Seats) -> Single:
    """What each mains sends down to the floor before the primary ear, less what it sends to that ear [dB]."""
    ear = seats.ear_height[seats.primary]
    height = np.where(np.isnan(stands.axis_height), ear, stands.axis_height)
    along = seats.distance[seats.primary] - stands.from_wall
    distance = np.hypot(along, stands.spacing / 2)
    plane, rise = voices.profile.planes[:, VERTICAL], np.nan_to_num(_mains_elevation(stands, seats, seats.primary))
    below = level_at_each(plane, -np.clip(reflection.bounce_angle(height, ear, distance), 0.0, WIDEST))
    return np.asarray(below - level_at_each(plane, np.clip(-rise, -WIDEST, WIDEST)), dtype=np.float32)


def sound_of(voices: Voices, levels: Single, aside: BoolArray) -> Sound:
    """What is heard of loudspeakers at some seats, the primary one first, against their own axis [N, S, B] [dB]."""
    measured = voices.measured
    return Sound(
        direct=levels[:, 0] + measured.axis,
        power=voices.power + measured.axis,
        kin=voices.kin,
        stated=voices.stated,
        usable=voices.usable,
        measured=measured.direct,
        whole=measured.whole,
        aside=aside,
        room=free_air(levels, voices.power, measured.axis, aside & measured.direct, measured.whole),
    )


def window_sound(voices: Voices) -> Sound:
    """What is heard of loudspeakers where no seat is known: the listening window, and the sound power."""
    return sound_of(voices, decibels(voices.profile.listening_window)[:, None], voices.measured.direct)


MODEL_SHIFT: Final = 1.5
"""By so many of the ear's bands a feature of a modelled response may lie elsewhere. Our own figure.

What it gives holds five in six of the differences, at seats within 25 deg and in sound power, that centres of the usual
layouts show where cones are 4 % larger or smaller (baskets of one nominal size differ so), domes 15 %, crossovers 10 %
higher or lower, or slopes of order 2, 3, 6 or 8 rather than 4; common practice, no source.
"""


def free_air(levels: Single, power: Single, axis: Single, around: BoolArray, whole: BoolArray) -> InRoom:
    """Loudspeakers at the regular seats before any room, from levels and sound power against their axis [dB].

    Cones of one nominal size, domes, crossovers and their slopes differ, so two loudspeakers of one description differ
    too: what one does at a frequency another does `MODEL_SHIFT` bands beside it. Nothing of that where levels `around`
    or the `whole` sound power were measured.
    """
    at_seats = np.square(_shifted(levels)) @ seat_weights(levels.shape[1]).astype(np.float32)
    spread = np.sqrt((np.where(around, 0, at_seats) + np.where(whole, 0, np.square(_shifted(power)))) / 2)
    nothing = np.zeros(len(levels))
    return InRoom((levels + axis[:, None])[:, None], (power + axis)[:, None], nothing, spread.astype(np.float64))


def _shifted(levels: Single) -> Single:
    """How much levels [..., B] change if all they show lay `MODEL_SHIFT` bands elsewhere [dB rms]."""
    return np.asarray(MODEL_SHIFT * np.sqrt(np.nanmean(np.square(np.diff(levels, axis=-1)), axis=-1)))


STEEPEST: Final = 60.0
"""The mains' response is looked up no further up or down than this [deg]."""


def _towards(voices: Voices, plane: int, angle: FloatArray) -> Single:
    """The level of each loudspeaker at an angle of its own [dB], measured where it was."""
    everyone = np.arange(len(angle))
    modelled = level_at_each(voices.profile.planes[:, plane], angle)
    return voices.measured.over(modelled, everyone, plane, angle, voices.usable)
