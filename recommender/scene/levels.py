"""How loud the centre and the mains play at the seats, with the range that a doubtful figure leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.physics import level
from triptych.recommender.physics.sensitivity import REFERENCE_VOLTAGE, anechoic_sensitivity
from triptych.recommender.scene.aiming import Aim
from triptych.recommender.scene.arrays import Basis, Boxes, CodeArray, Drive, FloatArray, IndexArray, Mains, Seats

PLAUSIBLE_SENSITIVITY: Final = (82.0, 87.0, 92.0)
"""Low, likely and high where nothing is stated [dB for 2.83 V at 1 m]. Common practice, no source."""

MINIMUM_TO_NOMINAL: Final = 0.8
"""The lowest impedance a nominal figure promises, as its share. IEC 60268-5, from memory."""

BASIS_WORD: Final = {
    Basis.UNKNOWN: "unknown",
    Basis.ANECHOIC: "anechoic",
    Basis.HALF_SPACE: "half_space",
    Basis.IN_ROOM: "in_room",
}


@dataclass(frozen=True, slots=True)
class Levels:
    """Peak level at the farthest regular seat and trim against the mains at the primary seat. [dB]."""

    sensitivity: tuple[FloatArray, FloatArray, FloatArray]
    peak_low: FloatArray
    peak: FloatArray
    peak_high: FloatArray
    trim: FloatArray
    trim_size_range: tuple[FloatArray, FloatArray]

    def take(self, index: IndexArray) -> Levels:
        """The levels at `index`, in that order."""
        low, likely, high = self.sensitivity
        least, most = self.trim_size_range
        return Levels(
            sensitivity=(low[index], likely[index], high[index]),
            peak_low=self.peak_low[index],
            peak=self.peak[index],
            peak_high=self.peak_high[index],
            trim=self.trim[index],
            trim_size_range=(least[index], most[index]),
        )


def sensitivity_range(stated: FloatArray, basis: CodeArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Low, likely and high anechoic sensitivity [dB for 2.83 V at 1 m]."""
    words = np.array([BASIS_WORD[code] for code in sorted(Basis)])[basis.astype(np.intp) + 1]
    anechoic = anechoic_sensitivity(stated, words)
    silent = np.isnan(stated)
    bounds = zip(PLAUSIBLE_SENSITIVITY, (anechoic.low, anechoic.likely, anechoic.high), strict=True)
    low, likely, high = (np.where(silent, plausible, value) for plausible, value in bounds)
    return low, likely, high


def levels(boxes: Boxes, aim: Aim, seats: Seats, drive: Drive, mains: Mains) -> Levels:
    """Levels of N boxes in one place; what nobody stated is carried as a range."""
    low, likely, high = sensitivity_range(boxes.sensitivity, boxes.basis)
    voltage = level.load_limited_voltage(
        drive.power, drive.into, _lowest_load(drive), _impedance(boxes, drive), boxes.power_handling
    )
    reach = farthest(aim, seats)
    low_peak, peak, high_peak = (
        level.direct_level(value, voltage, reach, drive.room_gain) for value in (low, likely, high)
    )
    rise = np.nan_to_num(aim.axis_height - seats.ear_height[seats.primary])
    distance = np.hypot(aim.ear_distance, rise)
    centre_low, centre, centre_high = (
        level.direct_level(value, REFERENCE_VOLTAGE, distance) for value in (low, likely, high)
    )
    return Levels(
        sensitivity=(low, likely, high),
        peak_low=low_peak,
        peak=peak,
        peak_high=high_peak,
        trim=np.where(np.isnan(boxes.sensitivity), np.nan, mains_level(mains.sensitivity, mains, seats) - centre),
        trim_size_range=_size_range(
            mains_level(mains.sensitivity_range[0], mains, seats) - centre_high,
            mains_level(mains.sensitivity_range[1], mains, seats) - centre_low,
        ),
    )


def _lowest_load(drive: Drive) -> float:
    """The load down to which the amplifier gives its full voltage [ohm]; its rated one where none is stated."""
    return drive.into if np.isnan(drive.lowest_load) else drive.lowest_load


def _impedance(boxes: Boxes, drive: Drive) -> FloatArray:
    """The nominal impedance of each box [ohm]; from its minimum, or the amplifier's rated load, where not stated."""
    from_minimum = boxes.impedance_minimum / MINIMUM_TO_NOMINAL
    likely = np.where(np.isnan(from_minimum), drive.into, from_minimum)
    return np.where(np.isnan(boxes.impedance_nominal), likely, boxes.impedance_nominal)


def farthest(aim: Aim, seats: Seats) -> FloatArray:
    """From each box's axis to the farthest regular ear [m]; an unknown height is left out."""
    along = seats.distance[None, :] - aim.baffle[:, None]
    rise = np.nan_to_num(aim.axis_height[:, None] - seats.ear_height[None, :])
    distance = np.sqrt(along**2 + seats.x[None, :] ** 2 + rise**2)
    return np.asarray(distance[:, seats.regular].max(axis=1))


def mains_distances(mains: Mains, seats: Seats, seat: int) -> FloatArray:
    """From the left and the right main to the ear at `seat` [m]; an unknown height is left out."""
    across = seats.x[seat] + np.array([0.5, -0.5]) * mains.spacing
    along = seats.distance[seat] - mains.from_wall
    rise = np.nan_to_num(mains.axis_height - seats.ear_height[seat])
    return np.asarray(np.sqrt(across**2 + along**2 + rise**2))


def mains_level(sensitivity: float, mains: Mains, seats: Seats) -> float:
    """The level of one main at the primary seat for 2.83 V [dB], the mean of left and right."""
    distances = mains_distances(mains, seats, seats.primary)
    return float(np.mean(level.direct_level(sensitivity, REFERENCE_VOLTAGE, distances)))


def _size_range(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The least and the largest size that a figure between `low` and `high` can have."""
    inside = np.where(low * high < 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    return inside, np.maximum(np.abs(low), np.abs(high))
