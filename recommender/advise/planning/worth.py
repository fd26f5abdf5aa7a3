"""What a loudspeaker is worth in its role, from what it does there: headroom, reach, coverage.

Each is a physical quantity with a utility from 0 to 1 between two points; a role's own worth is their weighted
geometric mean, as a score is in `ranking`. The points and weights here are assumed unless a source stands beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.planning.setting import (
    AROUND,
    LEVEL_BELOW_FRONT,
    LOW_EFFECTS_ABOVE,
    Setting,
    farthest,
    seat_angles,
)
from triptych.recommender.judge.criteria import definitions
from triptych.recommender.judge.criteria.value import f3_range, headroom, reach
from triptych.recommender.judge.criterion import Criterion, CriterionValues, criterion_values
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.ranking import score
from triptych.recommender.judge.verdicts import GateVerdicts
from triptych.recommender.physics import coverage, level
from triptych.recommender.physics.piston import effective_radius
from triptych.recommender.physics.profile import levels_at
from triptych.recommender.scene.arrays import Boxes, FloatArray
from triptych.recommender.scene.hearing import Voices
from triptych.recommender.scene.levels import MINIMUM_TO_NOMINAL, Levels, sensitivity_range
from triptych.recommender.scene.measured import HORIZONTAL

PARTS: Final[Mapping[str, Mapping[str, float]]] = {
    "mains": {"headroom": 0.4, "reach": 0.3, "coverage": 0.3},
    "around": {"headroom": 0.4, "reach": 0.3, "coverage": 0.3},
    "sub": {"headroom": 0.5, "reach": 0.5},
}
"""How much each part weighs in a role's own worth. Assumed."""

MAINS_REACH: Final = Criterion("reach", "Hz", 40.0, 100.0, 0.3, "F3", "End points with a subwoofer: assumed")
MAINS_ALONE: Final = Criterion("reach", "Hz", 25.0, 80.0, 0.3, "F3", "End points without a subwoofer: assumed")
SUB_REACH: Final = Criterion("reach", "Hz", 20.0, 45.0, 0.5, "F3", "End points: assumed")
SUB_HEADROOM: Final = Criterion(
    "headroom", "dB", 0.0, -24.0, 0.5,
    "20 log10(rho omega^2 S x / (2 pi r sqrt(2) 20 uPa)) + 20 log10(boxes) + room gain - target - 10 dB at 40 Hz",
    "Simple source in half space: Kinsler et al. ch. 7. Excursion, end points: assumed",
)  # fmt: skip

SUB_FREQUENCY: Final = 40.0
"""Where the peaks of subwoofers are compared [Hz]. Assumed."""

SUB_EXCURSION: Final = 0.010
"""How far a subwoofer's cone goes either way, as no datasheet in the catalogue says [m]. Assumed."""

AIR: Final = 1.2
"""Density of air at 20 degrees [kg/m^3]."""

REFERENCE: Final = 20e-6
"""The pressure of 0 dB [Pa]. IEC 61672."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What N loudspeakers are worth in a role, from 0 to 1, the criteria it is made of, and the gates they meet."""

    own: FloatArray
    criteria: tuple[CriterionValues, ...]
    gates: tuple[GateVerdicts, ...]


def of_sub(
    boxes: Boxes, sealed: FloatArray, size: FloatArray, count: FloatArray, setting: Setting, pieces: int
) -> Worth:
    """Subwoofers: how low they go, and how loud so many of them can be at 40 Hz; no amplifier is judged."""
    low, likely, high = f3_range(boxes.low_limit, boxes.low_limit_drop, sealed)
    deep = criterion_values(SUB_REACH, likely, low, high, 1.0, "stated", "F3 {f3:.0f} Hz", f3=likely)
    peak = sub_peak(size, count, farthest(setting, "sub", boxes), pieces) + setting.drive.room_gain
    over = peak - setting.drive.target_peak - LOW_EFFECTS_ABOVE
    why = "about {peak:.0f} dB at 40 Hz, {value:+.0f} dB against the peaks of low effects"
    loud = criterion_values(SUB_HEADROOM, over, over - 3, over + 3, 0.5, "modelled", why, peak=peak)
    known = bool(np.isfinite(setting.drive.target_peak))
    return Worth(_mean((deep, loud) if known else (deep,), PARTS["sub"]), (deep, loud) if known else (deep,), ())


def sub_peak(size: FloatArray, count: FloatArray, distance: FloatArray, pieces: int) -> FloatArray:
    """The peak level of subwoofers in half space [dB]; NaN where the size of the cone or the distance isn't known.

    Boxes add in pressure below the frequency at which they are half a wave apart (closed form).
    """
    area = np.pi * effective_radius(size) ** 2 * np.where(np.isnan(count), 1.0, count)
    pressure = AIR * (2 * np.pi * SUB_FREQUENCY) ** 2 * area * SUB_EXCURSION / (2 * np.pi * distance * np.sqrt(2))
    return np.asarray(20 * np.log10(pressure * pieces / REFERENCE))


def of_loudspeaker(
    role: str, boxes: Boxes, sealed: FloatArray, voices: Voices, setting: Setting, with_sub: bool
) -> Worth:
    """Mains, and what stands around the listener."""
    target = setting.drive.target_peak - (LEVEL_BELOW_FRONT if role in AROUND else 0.0)
    drive = replace(setting.drive, target_peak=target)
    loud = peaks(boxes, setting, farthest(setting, role, boxes))
    told = setting.seats is not None and not np.isnan([drive.power, drive.into, target]).any()
    low = reach(boxes, sealed) if role in AROUND else _mains_reach(boxes, sealed, with_sub)
    heard = coverage_at(voices, seat_angles(setting, role, boxes))
    criteria = (headroom(boxes, drive, loud), low, heard) if told else (low, heard)
    gates = (drive_gates.amplifier(boxes, drive), drive_gates.level(boxes, drive, loud)) if setting.seats else ()
    return Worth(_mean(criteria, PARTS["around" if role in AROUND else "mains"]), criteria, gates)


def _mean(criteria: Sequence[CriterionValues], weights: Mapping[str, float]) -> FloatArray:
    return score(criteria, weights).score / 100


def _mains_reach(boxes: Boxes, sealed: FloatArray, with_sub: bool) -> CriterionValues:
    low, likely, high = f3_range(boxes.low_limit, boxes.low_limit_drop, sealed)
    criterion = MAINS_REACH if with_sub else MAINS_ALONE
    return criterion_values(criterion, likely, low, high, 1.0, "stated", "F3 {f3:.0f} Hz", f3=likely)


def coverage_at(voices: Voices, angles: FloatArray) -> CriterionValues:
    """What is lost of each loudspeaker at the worst of some angles against its own axis [dB]."""
    levels = levels_at(voices.profile.horizontal, angles)
    for at, angle in enumerate(angles.tolist() if voices.measured.any else ()):
        voices.measured.overlay(levels[:, at], np.arange(len(levels)), HORIZONTAL, angle, voices.usable)
    spread, dip = coverage.spread(levels), coverage.deepest_dip(levels)
    each = (spread + np.abs(dip)) / 2
    row, worst = np.arange(len(each)), np.argmax(np.nan_to_num(each, nan=np.inf), axis=1)
    value = each[row, worst]
    why = "worst regular seat: {spread:.1f} dB rms, deepest dip {dip:.1f} dB"
    numbers = {"spread": spread[row, worst], "dip": dip[row, worst]}
    return criterion_values(definitions.COVERAGE, value, value, value, voices.stated, "modelled", why, **numbers)


def peaks(boxes: Boxes, setting: Setting, distance: FloatArray) -> Levels:
    """Peak levels of boxes at a distance, driven by the room's amplifier."""
    drive = setting.drive
    sensitivity = sensitivity_range(boxes.sensitivity, boxes.basis)
    lowest = drive.into if np.isnan(drive.lowest_load) else drive.lowest_load
    from_minimum = boxes.impedance_minimum / MINIMUM_TO_NOMINAL
    likely = np.where(np.isnan(from_minimum), drive.into, from_minimum)
    load = np.where(np.isnan(boxes.impedance_nominal), likely, boxes.impedance_nominal)
    unknown = np.full(len(boxes), np.nan)
    if np.isnan(drive.power) or np.isnan(drive.into):
        return Levels(sensitivity, unknown, unknown, unknown, unknown, (unknown, unknown))
    voltage = level.load_limited_voltage(drive.power, drive.into, lowest, load, boxes.power_handling)
    low, mid, high = (level.direct_level(value, voltage, distance, drive.room_gain) for value in sensitivity)
    return Levels(sensitivity, low, mid, high, unknown, (unknown, unknown))
