"""How loud centres and mains play at the seats, with the range that a doubtful figure leaves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.physics import level
from triptych.recommender.physics.sensitivity import REFERENCE_VOLTAGE, anechoic_sensitivity
from triptych.recommender.scene.aiming import Aim, seat_offsets
from triptych.recommender.scene.arrays import Boxes, Drive, FloatArray, Mains, Seats, SensitivityCode, Stands
from triptych.recommender.scene.structures import Arrays

PLAUSIBLE_SENSITIVITY: Final = (82.0, 87.0, 92.0)
"""Low, likely and high where nothing is stated [dB for 2.83 V at 1 m]. Common practice, no source."""

PLAUSIBLE_ROOM_GAIN: Final = (0.0, 3.0, 4.0)
"""What a room adds to the direct sound where nobody said: low, likely and high [dB]; some 3 near a wall at 3 to 4 m.
Common practice, no source."""

PLAUSIBLE_POWER: Final = (50.0, 150.0)
"""The least and the most power of an amplifier of which nobody said it [W]: receivers and amplifiers of separate boxes.
Common practice, no source."""

MIDDLE_MINIMUM: Final = 0.9
"""The lowest impedance as a share of a nominal one of which only the lowest is told [1]: 6.4 ohm are printed as 6 or as
8, and what it draws is nearer the former. Our own figure."""

LOWER_NOMINAL, HIGHER_NOMINAL = 6.0, 8.0
"""The nominal impedances that most centres have [ohm]. Common practice, no source."""

LEAST_RATING: Final = 100.0
"""The power that a loudspeaker bears at least where its datasheet doesn't say [W]: centres are rated for 80 to 200, and
most for more than this. Common practice, no source."""

PLAUSIBLE_INTO: Final = (6.0, 8.0)
"""The loads for which that power is stated where nobody said it [ohm]. Common practice, no source."""

PLAUSIBLE_TARGET: Final = (92.0, 99.0)
"""How loud it shall be at the farthest seat at least and at most where nobody said it [dB]; louder is asked for by
name. Common practice, no source."""

MINIMUM_TO_NOMINAL: Final = 0.8
"""The lowest impedance a nominal figure promises, as its share. IEC 60268-5, from memory."""

BASIS_WORD: Final = {
    SensitivityCode.UNKNOWN: "unknown",
    SensitivityCode.ANECHOIC: "anechoic",
    SensitivityCode.HALF_SPACE: "half_space",
    SensitivityCode.IN_ROOM: "in_room",
    SensitivityCode.TAKEN: "anechoic",
}


@dataclass(frozen=True, slots=True)
class Peaks(Arrays):
    """Peak level of N boxes at the farthest regular seat, with the range that a doubtful figure leaves. [dB].

    `likely` is NaN where the amplifier's power isn't known, and has nothing of a room where nobody said what it adds.
    """

    low: FloatArray
    likely: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True)
class Levels(Arrays):
    """How loud N centres play in one place: their peaks, and their level at the primary seat for 2.83 V. [dB].

    `sensitivity` is the likely one [dB for 2.83 V at 1 m]; `at_primary` is NaN where no sensitivity is stated.
    """

    sensitivity: FloatArray
    peaks: Peaks
    low_at_primary: FloatArray
    at_primary: FloatArray
    high_at_primary: FloatArray


@dataclass(frozen=True, slots=True)
class Trims:
    """What must be added to every centre beside every mains so that they are level, mains x centres [dB].

    `least` and `most` are the sizes it may have; `likely` is NaN where a sensitivity isn't stated.
    """

    likely: FloatArray
    least: FloatArray
    most: FloatArray


SensitivityRange = tuple[FloatArray, FloatArray, FloatArray]
"""Low, likely and high."""


def sensitivity_range(boxes: Boxes) -> SensitivityRange:
    """Low, likely and high anechoic sensitivity of boxes, in any place and pose [dB for 2.83 V at 1 m]."""
    words = np.array([BASIS_WORD[code] for code in sorted(SensitivityCode)])[boxes.basis.astype(np.intp) + 1]
    sides = np.fmin(boxes.width, boxes.height), np.fmax(boxes.width, boxes.height)
    anechoic = anechoic_sensitivity(boxes.sensitivity, words, *sides)
    silent = np.isnan(boxes.sensitivity)
    bounds = zip(PLAUSIBLE_SENSITIVITY, (anechoic.low, anechoic.likely, anechoic.high), strict=True)
    low, likely, high = (np.where(silent, plausible, value) for plausible, value in bounds)
    return low, likely, high


def peaks(boxes: Boxes, drive: Drive, distance: FloatArray, sensitivity: SensitivityRange | None = None) -> Peaks:
    """Peak levels of boxes at a distance of each, driven by an amplifier, with what the room adds.

    `sensitivity` is given where it is known already. What the amplifier gives into less than its lowest load nobody
    said: the range is from the current of that load to the full voltage, its power the likely one.
    """
    ways = _plausible(drive)
    least_volts = np.min([_voltage(boxes, one, SAME_CURRENT) for one in ways], axis=0)
    most_volts = np.max([_voltage(boxes, one, SAME_VOLTAGE) for one in ways], axis=0)
    likely = _voltage(boxes, ways[0]) if len(ways) == 1 else np.full(len(boxes), np.nan)
    least, _, most = room_gains(drive)
    gains = least, least, most
    told = sensitivity or sensitivity_range(boxes)
    ranges = zip(told, (least_volts, likely, most_volts), gains, strict=True)
    return Peaks(*(level.direct_level(value, voltage, distance, gain) for value, voltage, gain in ranges))


def room_gains(drive: Drive) -> tuple[float, float, float]:
    """What the room adds at least, likely and at most [dB]."""
    return PLAUSIBLE_ROOM_GAIN if np.isnan(drive.room_gain) else (drive.room_gain,) * 3


def _plausible(drive: Drive) -> list[Drive]:
    """The amplifier at the ends of what nobody said of it."""
    powers = PLAUSIBLE_POWER if np.isnan(drive.power) else (drive.power,)
    loads = PLAUSIBLE_INTO if np.isnan(drive.into) else (drive.into,)
    return [replace(drive, power=power, into=into) for power in powers for into in loads]


SAME_CURRENT, SAME_POWER, SAME_VOLTAGE = 1.0, 0.5, 0.0
"""How an amplifier's voltage falls with a load below that of its rating: it gives the current of that load, the power,
or all of the voltage. Where its lowest load is stated the first holds below it. Where none is, nobody knows which it is
near; the middle one loses 3 dB into half the load, as receivers of one rated power for all loads do (common practice,
no source)."""


def likely_yielding(drive: Drive) -> float:
    """How the amplifier's voltage is likely to fall with a load below its lowest [1]."""
    return SAME_POWER if np.isnan(drive.lowest_load) else SAME_CURRENT


def _voltage(boxes: Boxes, drive: Drive, yielding: float | None = None) -> FloatArray:
    """The largest voltage at each box [V]; `yielding` counts only where no lowest load is stated."""
    return level.load_limited_voltage(
        drive.power,
        drive.into,
        lowest_load(drive),
        impedance(boxes, drive),
        boxes.power_handling,
        likely_yielding(drive) if yielding is None or not np.isnan(drive.lowest_load) else yielding,
    )


def under_load(boxes: Boxes, drive: Drive) -> FloatArray:
    """What boxes lose because nobody said what the amplifier gives into their load: the likely part of it [dB]."""
    if not np.isnan(drive.lowest_load):
        return np.zeros(len(boxes))
    share = np.minimum(impedance(boxes, drive) / lowest_load(drive), 1.0)
    return np.asarray(np.nan_to_num(-20 * SAME_POWER * np.log10(share)))


def levels(boxes: Boxes, aim: Aim, seats: Seats, drive: Drive, sensitivity: SensitivityRange | None = None) -> Levels:
    """Levels of N boxes in one place; what nobody stated is carried as a range. `sensitivity` as for `peaks`."""
    low, likely, high = sensitivity or sensitivity_range(boxes)
    distances = ear_distances(aim, seats)
    distance = distances[:, seats.primary]
    told = np.where(np.isnan(boxes.sensitivity), np.nan, likely)
    at_primary = (level.direct_level(value, REFERENCE_VOLTAGE, distance) for value in (low, told, high))
    return Levels(likely, peaks(boxes, drive, farthest(distances, seats), (low, likely, high)), *at_primary)


def trims(levels: Levels, mains: Mains, seats: Seats) -> Trims:
    """The trims of centres against mains at the primary seat."""
    distances = mains_distances(mains.stands, seats, seats.primary)
    low, likely, high = (
        level.direct_level(value[:, None], REFERENCE_VOLTAGE, distances).mean(axis=1)[:, None]
        for value in (mains.sensitivity_low, mains.sensitivity, mains.sensitivity_high)
    )
    return Trims(likely - levels.at_primary, *_size_range(low - levels.high_at_primary, high - levels.low_at_primary))


def lowest_load(drive: Drive) -> float:
    """The load down to which the amplifier gives its full voltage [ohm]; its rated one where none is stated."""
    return drive.into if np.isnan(drive.lowest_load) else drive.lowest_load


def impedance(boxes: Boxes, drive: Drive) -> FloatArray:
    """The nominal impedance of each box [ohm]; from its minimum, or the lower of the usual ones, where not stated."""
    from_minimum = np.minimum(boxes.impedance_minimum / MIDDLE_MINIMUM, HIGHER_NOMINAL)
    likely = np.where(np.isnan(from_minimum), np.minimum(drive.into, LOWER_NOMINAL), from_minimum)
    return np.where(np.isnan(boxes.impedance_nominal), likely, boxes.impedance_nominal)


def lost_unrated(boxes: Boxes, drive: Drive) -> FloatArray:
    """What boxes of which nobody says how much power they bear may take off their peaks at most [dB]."""
    rated = replace(boxes, power_handling=np.where(np.isnan(boxes.power_handling), LEAST_RATING, boxes.power_handling))
    ways = [20 * np.log10(_voltage(boxes, one) / _voltage(rated, one)) for one in _plausible(drive)]
    return np.asarray(np.max(ways, axis=0))


def ear_distances(aim: Aim, seats: Seats) -> FloatArray:
    """From the axis of each box, as it is tilted, straight to the ear at each seat [m], [N, S]."""
    return np.asarray(np.sqrt(sum(part**2 for part in seat_offsets(aim, seats))))


def farthest(distances: FloatArray, seats: Seats) -> FloatArray:
    """From each box's axis straight to the farthest regular ear, of those to all ears [m]."""
    return np.asarray(distances[:, seats.regular].max(axis=1))


def mains_distances(stands: Stands, seats: Seats, seat: int) -> FloatArray:
    """From the left and the right of each mains to the ear at `seat` [m], M x 2; an unknown height is left out."""
    across = seats.x[seat] + np.array([0.5, -0.5]) * stands.spacing
    along = seats.distance[seat] - stands.from_wall
    rise = np.nan_to_num(stands.axis_height - seats.ear_height[seat])
    return np.asarray(np.sqrt(across**2 + (along**2)[:, None] + (rise**2)[:, None]))


def _size_range(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The least and the largest size that a figure between `low` and `high` can have."""
    inside = np.where(low * high < 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    return inside, np.maximum(np.abs(low), np.abs(high))
