"""What each seat hears of each box, where it lies in the frame of the box as it is tilted and turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, Self

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics import description, geometry, reflection
from triptych.recommender.physics.direction import plane_angles, point_in_box
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Assumed, Sources, take, turned
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
from triptych.recommender.physics.spherical import power_at
from triptych.recommender.scene.aiming import NEAREST, Aim, seat_points
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, Kin, Seats, Sound, Stands
from triptych.recommender.scene.measured import HORIZONTAL, VERTICAL, Measured
from triptych.recommender.scene.model_doubt import free_air, side_by_side, unsaid
from triptych.recommender.scene.structures import joined

Plane = NDArray[np.uint16]
"""One plane of stored profiles."""

LEVEL_ENOUGH: Final = 0.5
"""A vertical angle below this changes nothing that could be heard [deg]; see `gates.pointing.TILT_ENOUGH`."""

WIDEST: Final = 72.0
"""The largest angle a profile holds [deg]; a seat further aside is judged as if it were there."""


@dataclass(frozen=True, slots=True)
class Voices:
    """How N loudspeakers sound, apart from any place.

    `sources` are their drivers; `power` is the sound power against the axis, measured or modelled, [N, bands]; `stated`
    is the share of each model's inputs that a datasheet gave; `measured` what takes the model's place.
    """

    profile: Profile
    sources: Sources
    power: Single
    kin: Kin
    stated: FloatArray
    usable: BoolArray
    measured: Measured

    def __len__(self) -> int:
        """The number of loudspeakers."""
        return len(self.usable)

    def take(self, rows: IndexArray) -> Voices:
        """Those of the loudspeakers at `rows`, in that order."""
        return Voices(
            self.profile.take(rows),
            take(self.sources, rows),
            self.power[rows],
            self.kin.take(rows),
            self.stated[rows],
            self.usable[rows],
            self.measured.take(rows),
        )

    def beside(self, other: Voices) -> Voices:
        """These, then those of others."""
        return Voices(
            self.profile.beside(other.profile),
            description.joined([self.sources, other.sources]),
            np.concatenate([self.power, other.power]),
            joined([self.kin, other.kin]),
            np.concatenate([self.stated, other.stated]),
            np.concatenate([self.usable, other.usable]),
            self.measured.beside(other.measured),
        )


@dataclass(frozen=True, slots=True)
class Spacing:
    """What seats would hear if the assumed spacing of the drivers of N boxes were another.

    A spacing `factor` times as large does at an angle what the likely one does where the sine is `factor` times as
    large, as far as the path between the drivers goes; `plane` holds the profiles of all loudspeakers, `rows` says
    which are these, `across` where each has the seats in it [N, S] [deg]. Far away: how wide a range is needs no more.
    """

    plane: Plane
    rows: IndexArray
    across: FloatArray
    low: FloatArray
    high: FloatArray

    def take(self, index: IndexArray | slice) -> Spacing:
        """Those at `index`, in that order."""
        return Spacing(self.plane, self.rows[index], self.across[index], self.low[index], self.high[index])

    @property
    def assumed(self) -> BoolArray:
        """Which boxes have an assumed spacing."""
        return np.asarray(self.high > self.low)

    def changes(self, boxes: IndexArray, seats: IndexArray) -> tuple[Single, Single]:
        """What the least and the largest spacing of some boxes add at a seat of each [dB], [boxes, bands]."""
        sine = np.sin(np.radians(self.across[boxes, seats]))
        rows = self.rows[boxes]
        likely, low, high = (
            _near(self.plane, rows, np.degrees(np.arcsin(np.clip(factor * sine, -1.0, 1.0))))
            for factor in (1.0, self.low[boxes], self.high[boxes])
        )
        return low - likely, high - likely


@dataclass(frozen=True, slots=True)
class Heard:
    """What is heard of N boxes in one place: levels at the seats against their own axis, and the primary seat's sound.

    `around` says of which boxes the levels at all regular seats were measured; `assumed` what is taken as usual.
    """

    levels: Single
    sound: Sound
    assumed: Assumed
    around: BoolArray
    spacing: Spacing

    def take(self, index: IndexArray | slice) -> Heard:
        """Those at `index`, in that order."""
        spacing = self.spacing.take(index)
        return Heard(
            self.levels[index], self.sound.take(index), _some(self.assumed, index), self.around[index], spacing
        )

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """What is heard of boxes with the same voices in several places, one place after the other."""
        if len(parts) == 1:
            return parts[0]

        def all_of(structures: Sequence[Any], name: str) -> Any:
            return np.concatenate([getattr(one, name) for one in structures])

        spacings, assumed = [part.spacing for part in parts], [part.assumed for part in parts]
        return cls(
            all_of(parts, "levels"),
            joined([part.sound for part in parts]),
            Assumed(*(all_of(assumed, entry.name) for entry in fields(Assumed))),
            all_of(parts, "around"),
            Spacing(spacings[0].plane, *(all_of(spacings, name) for name in ("rows", "across", "low", "high"))),
        )


def _some(assumed: Assumed, rows: IndexArray | slice) -> Assumed:
    return Assumed(*(getattr(assumed, entry.name)[rows] for entry in fields(Assumed)))


def at_seats(voices: Voices, rows: IndexArray, aim: Aim, seats: Seats, on_side: bool) -> Heard:
    """What the seats hear of the loudspeakers at `rows`, standing as `aim` says, by exact paths.

    Where a set of angles was measured, its planes take the model's place: the level in a slanting direction is then
    taken as that of its horizontal plus that of its vertical part.
    """
    points = seat_points(aim, seats)
    sources = take(voices.sources, rows)
    sources = turned(sources) if on_side else sources
    levels = decibels_of(power_at(sources, points))
    across, up = _in_planes(points)
    # a box turned on its side hears its seats in what was its vertical plane, mirrored
    plane, across = (VERTICAL, -across) if on_side else (HORIZONTAL, across)
    _put_measured(voices, rows, levels, plane, across, up)
    return _heard(voices, rows, levels, plane, across, seats, side_by_side(sources))


def _put_measured(
    voices: Voices, rows: IndexArray, levels: Single, plane: int, across: FloatArray, up: FloatArray
) -> None:
    """Put what was measured of loudspeakers where their sets of angles reach, at angles [N, S] in both planes [deg]."""
    if not len(voices.measured.planes):
        return
    for seat in range(levels.shape[1]):
        angle = across[:, seat]
        own = np.flatnonzero(voices.measured.reaches(rows, plane, angle, angle))
        levels[own, seat] = _by_planes(voices, rows[own], plane, angle[own], up[own, seat])


def _by_planes(voices: Voices, rows: IndexArray, plane: int, across: FloatArray, up: FloatArray) -> Single:
    """The levels of loudspeakers that were measured in a plane, and up from it as far as that was, else modelled."""
    parts = []
    for which, angle in ((plane, across), (1 - plane, up)):
        modelled = level_at_each(voices.profile.planes[:, which], angle, rows)
        found = voices.measured.over(modelled, rows, which, angle, voices.usable)
        parts.append(np.where((np.abs(angle) < LEVEL_ENOUGH)[:, None] & (which != plane), np.float32(0), found))
    return np.asarray(parts[0] + parts[1])


def _heard(
    voices: Voices,
    rows: IndexArray,
    levels: Single,
    plane: int,
    across: FloatArray,
    seats: Seats,
    lying: BoolArray,
) -> Heard:
    measured, profile = voices.measured, voices.profile
    axis = measured.axis[rows] if measured.any else measured.axis[:1]
    there, regular, order = across[:, seats.primary], across[:, seats.regular], seats.judged
    around = measured.reaches(rows, plane, regular.min(axis=1), regular.max(axis=1))
    power = voices.power[rows]
    assumed = _some(profile.assumed, rows)
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
            room=free_air(
                levels[:, order],
                power,
                axis,
                around,
                measured.whole[rows],
                unsaid(assumed, voices.kin.take(rows), lying),
            ),
        ),
        assumed=assumed,
        around=around,
        spacing=Spacing(profile.planes[:, plane], rows, across, profile.spacing_low[rows], profile.spacing_high[rows]),
    )


def downward(voices: Voices, rows: IndexArray, elevation: FloatArray, aim: Aim, seats: Seats, on_side: bool) -> Single:
    """What the loudspeakers at `rows` send under an elevation of each, less what they send to the primary ear [dB]."""
    stored = voices.profile.planes[:, HORIZONTAL if on_side else VERTICAL]
    ear = _in_planes(seat_points(aim, seats, np.array([seats.primary])))[1][:, 0]
    below = level_at_each(stored, np.clip(elevation, -WIDEST, WIDEST), rows)
    return np.asarray(below - level_at_each(stored, ear, rows), dtype=np.float32)


def decibels_of(power: Single) -> Single:
    """Power re the axis as levels [dB]: -40 at least, and throughout where a loudspeaker is not usable."""
    return np.asarray(10 * np.log10(np.fmax(power, np.float32(FLOOR))), dtype=np.float32)


def _in_planes(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The angles in each box's two planes at which paths differ as they do toward points, as far as profiles reach."""
    across, up = plane_angles(*np.moveaxis(points, -1, 0))
    return np.clip(across, -WIDEST, WIDEST), np.clip(up, -WIDEST, WIDEST)


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


def mains_angles(stands: Stands, seats: Seats, seat: int) -> FloatArray:
    """The angle of a seat from the axis of the left and right of each mains, as far as profiles reach [deg], M x 2."""
    across, _ = _in_planes(mains_points(stands, seats, seat))
    return across


def mains_points(stands: Stands, seats: Seats, seat: int) -> FloatArray:
    """A seat in the frames of left and right of each mains as they are turned in [m], [M, 2, 3].

    An axis that nobody stated is taken to be as high as the ear.
    """
    side = np.array([-1.0, 1.0])
    rise = np.nan_to_num(seats.ear_height[seat] - stands.axis_height)
    ahead = np.maximum(seats.distance[seat] - stands.from_wall, NEAREST)
    across = seats.x[seat] - side * stands.spacing / 2
    return np.stack(point_in_box(across, rise[:, None], ahead[:, None], toe_in=-side * stands.toe_in), axis=-1)


def mains_sound(voices: Voices, stands: Stands, seats: Seats) -> Sound:
    """What the regular seats hear of each mains in free air: the mean power of left and right.

    Against their own axis, or with what was measured on it where it was.
    """
    everyone, order = np.arange(len(stands.from_wall)), seats.judged.tolist()
    parts = [mains_points(stands, seats, seat) for seat in order]
    points = np.concatenate(parts, axis=1)
    levels = np.concatenate([decibels_of(power_at(voices.sources, part)) for part in parts], axis=1)
    levels[np.isnan(points).any(axis=(1, 2))] = np.nan
    angles, up = _in_planes(points)
    _put_measured(voices, everyone, levels, HORIZONTAL, angles, up)
    sides = levels.reshape(len(everyone), len(order), 2, levels.shape[-1])
    mean = np.asarray(10 * np.log10((10 ** (sides / 10)).mean(axis=2)), dtype=np.float32)
    at_primary = angles[:, :2]
    aside = _aside(voices.measured, everyone, HORIZONTAL, at_primary.min(axis=1), at_primary.max(axis=1))
    return sound_of(voices, mean, aside)


def mains_downward(voices: Voices, stands: Stands, seats: Seats) -> Single:
    """What each mains sends down to the floor before the primary ear, less what it sends to that ear [dB]."""
    ear = seats.ear_height[seats.primary]
    height = np.where(np.isnan(stands.axis_height), ear, stands.axis_height)
    distance = np.hypot(seats.distance[seats.primary] - stands.from_wall, stands.spacing / 2)
    plane = voices.profile.planes[:, VERTICAL]
    below = level_at_each(plane, -np.clip(reflection.bounce_angle(height, ear, distance), 0.0, WIDEST))
    rise = np.clip(-geometry.elevation(height, ear, distance), -WIDEST, WIDEST)
    return np.asarray(below - level_at_each(plane, rise), dtype=np.float32)


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
        room=free_air(
            levels,
            voices.power,
            measured.axis,
            aside & measured.direct,
            measured.whole,
            unsaid(voices.profile.assumed, voices.kin, side_by_side(voices.sources)),
        ),
    )


def window_sound(voices: Voices) -> Sound:
    """What is heard of loudspeakers where no seat is known: the listening window, and the sound power."""
    return sound_of(voices, decibels(voices.profile.listening_window)[:, None], voices.measured.direct)
