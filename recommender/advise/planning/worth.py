"""What a loudspeaker is worth in its role, from what it does there: headroom, reach, coverage.

Each is a physical quantity with a utility from 0 to 1 between two points; a role's own worth is their weighted
geometric mean, as a score is in `ranking`. The points and weights here are assumed unless a source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Self

import numpy as np

from triptych.recommender.advise.everybody import in_parts
from triptych.recommender.advise.setting import Setting
from triptych.recommender.judge.criteria import definitions
from triptych.recommender.judge.criteria.evenness import worst_seat
from triptych.recommender.judge.criteria.value import f3_range, headroom, reach
from triptych.recommender.judge.criterion import Criterion, CriterionValues, criterion_values
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.ranking import score
from triptych.recommender.judge.verdicts import GateVerdicts
from triptych.recommender.physics.piston import effective_radius
from triptych.recommender.scene.arrays import Boxes, Drive, FloatArray, IndexArray
from triptych.recommender.scene.hearing import WIDEST, Voices, levels_in, mains_angles
from triptych.recommender.scene.levels import Peaks, mains_distances, peaks
from triptych.recommender.scene.measured import HORIZONTAL
from triptych.recommender.scene.structures import joined

AROUND: Final = ("surrounds", "wides", "heights")

LEVEL_BELOW_FRONT: Final = 3.0
"""How far the peaks of one loudspeaker around the listener may stay below those of the front [dB]. Cinema practice:
surrounds are set to 82 dB(C) where the front has 85 (SMPTE RP 200, from memory)."""

BELOW_FRONT: Final = f"what is asked around the seats, {LEVEL_BELOW_FRONT:g} dB under the room's target"
"""How that is told."""

LOW_EFFECTS_ABOVE: Final = 10.0
"""How far low effects go above the front's peaks [dB]. In-band gain of the low-effects channel, ITU-R BS.775."""

NO_ROOM_ANGLE: Final = 30.0
"""The seats' angle from the axis where no room is given [deg]. The listening window of ANSI/CTA-2034-A."""

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

REFERENCE_PRESSURE: Final = 20e-6
"""The pressure of 0 dB [Pa]. IEC 61672."""


@dataclass(frozen=True, slots=True)
class RoleWorth:
    """What N loudspeakers are worth in a role, from 0 to 1, the criteria it is made of, and the gates they meet."""

    own: FloatArray
    criteria: tuple[CriterionValues, ...]
    gates: tuple[GateVerdicts, ...]

    def take(self, kept: IndexArray) -> RoleWorth:
        """Some of them; of the gates, which all that were offered met, nothing is told any more."""
        return RoleWorth(self.own[kept], tuple(one.take(kept) for one in self.criteria), ())


def of_sub(
    boxes: Boxes,
    sealed: FloatArray,
    size: FloatArray,
    count: FloatArray,
    setting: Setting | None,
    drive: Drive,
    pieces: int,
) -> RoleWorth:
    """Subwoofers: how low they go, and how loud so many of them can be at 40 Hz; no amplifier is judged."""
    low, likely, high = f3_range(boxes.low_limit, boxes.low_limit_drop, sealed)
    deep = criterion_values(SUB_REACH, likely, low, high, 1.0, "stated", "F3 {f3:.0f} Hz", f3=likely)
    peak = sub_peak(size, count, farthest(setting, "sub", boxes), pieces) + np.nan_to_num(drive.room_gain)
    over = peak - drive.target_peak - LOW_EFFECTS_ABOVE
    why = "about {peak:.0f} dB at 40 Hz, {value:+z.0f} dB against low effects, which go "
    why += f"{LOW_EFFECTS_ABOVE:g} dB over the room's target"
    loud = criterion_values(SUB_HEADROOM, over, over - 3, over + 3, 0.5, "modelled", why, peak=peak)
    known = bool(np.isfinite(drive.target_peak))
    return RoleWorth(_mean((deep, loud) if known else (deep,), PARTS["sub"]), (deep, loud) if known else (deep,), ())


def sub_peak(size: FloatArray, count: FloatArray, distance: FloatArray, pieces: int) -> FloatArray:
    """The peak level of subwoofers in half space [dB]; NaN where the size of the cone or the distance isn't known.

    Boxes add in pressure below the frequency at which they are half a wave apart (closed form).
    """
    area = np.pi * effective_radius(size) ** 2 * np.where(np.isnan(count), 1.0, count)
    pressure = AIR * (2 * np.pi * SUB_FREQUENCY) ** 2 * area * SUB_EXCURSION / (2 * np.pi * distance * np.sqrt(2))
    return np.asarray(20 * np.log10(pressure * pieces / REFERENCE_PRESSURE))


@dataclass(frozen=True, slots=True)
class Unheard:
    """Mains, or what stands around the listener, before anybody hears them: how loud they get, and their gates.

    `angles` are those within which the seats lie.
    """

    role: str
    boxes: Boxes
    sealed: FloatArray
    drive: Drive
    loud: Peaks
    angles: FloatArray
    gates: tuple[GateVerdicts, ...]

    @classmethod
    def of(cls, role: str, boxes: Boxes, sealed: FloatArray, setting: Setting | None, drive: Drive) -> Self:
        """Some loudspeakers in a room, or in none, where no gates are."""
        target = drive.target_peak - (LEVEL_BELOW_FRONT if role in AROUND else 0.0)
        asked = replace(drive, target_peak=target)
        loud = peaks(boxes, asked, farthest(setting, role, boxes))
        gates = (drive_gates.amplifier(boxes, asked), drive_gates.level(boxes, asked, loud)) if setting else ()
        return cls(role, boxes, sealed, asked, loud, seat_angles(setting, role, boxes), gates)

    def heard_by(
        self, kept: IndexArray, voices: Callable[[IndexArray], Voices], with_sub: bool, until: float
    ) -> tuple[IndexArray, RoleWorth]:
        """Those of some that there is time to hear, in their order, and what they are worth."""
        parts = [(some, self.heard(some, voices(some), with_sub)) for some in in_parts(kept, until)]
        if len(parts) < 2:
            return parts[0] if parts else (kept, self.heard(kept, voices(kept), with_sub))
        rows = np.concatenate([some for some, _ in parts])
        order = np.argsort(rows)
        criteria = tuple(joined(same) for same in zip(*(one.criteria for _, one in parts), strict=True))
        found = RoleWorth(np.concatenate([one.own for _, one in parts]), criteria, ())
        return rows[order], replace(found.take(order), gates=self.gates)

    def most(self, some: IndexArray, with_sub: bool) -> FloatArray:
        """What some are worth at most before anybody hears them: as much as if nothing were lost at any seat."""
        boxes, sealed = self.boxes.take(some), self.sealed[some]
        criteria = [reach(boxes, sealed) if self.role in AROUND else _mains_reach(boxes, sealed, with_sub)]
        criteria += [self._loud(boxes, some)] if self._loud_is_known else []
        weights = PARTS["around" if self.role in AROUND else "mains"]
        known = sum(weights[one.criterion.name] for one in criteria)
        return np.asarray(_mean(criteria, weights) ** (known / (known + weights["coverage"])))

    @property
    def _loud_is_known(self) -> bool:
        asked = self.drive
        return bool(self.gates) and not np.isnan([asked.power, asked.into, asked.target_peak]).any()

    def heard(self, kept: IndexArray, voices: Voices, with_sub: bool) -> RoleWorth:
        """What those that are kept are worth, by their voices."""
        boxes, sealed = self.boxes.take(kept), self.sealed[kept]
        low = reach(boxes, sealed) if self.role in AROUND else _mains_reach(boxes, sealed, with_sub)
        covers = coverage_at(voices, self.angles)
        criteria = (self._loud(boxes, kept), low, covers) if self._loud_is_known else (low, covers)
        return RoleWorth(_mean(criteria, PARTS["around" if self.role in AROUND else "mains"]), criteria, self.gates)

    def _loud(self, boxes: Boxes, kept: IndexArray) -> CriterionValues:
        """The headroom of those that are kept, against the target of the role."""
        found = headroom(boxes, self.drive, self.loud.take(kept))
        return replace(found, why=found.why.replace("the target", BELOW_FRONT)) if self.role in AROUND else found


def _mean(criteria: Sequence[CriterionValues], weights: Mapping[str, float]) -> FloatArray:
    return score(criteria, weights).score / 100


def _mains_reach(boxes: Boxes, sealed: FloatArray, with_sub: bool) -> CriterionValues:
    low, likely, high = f3_range(boxes.low_limit, boxes.low_limit_drop, sealed)
    criterion = MAINS_REACH if with_sub else MAINS_ALONE
    return criterion_values(criterion, likely, low, high, 1.0, "stated", "F3 {f3:.0f} Hz", f3=likely)


def coverage_at(voices: Voices, angles: FloatArray) -> CriterionValues:
    """What is lost of each loudspeaker at the worst of some angles against its own axis [dB]."""
    towards = levels_in(voices, HORIZONTAL, set(angles.tolist()))
    worst = worst_seat(np.stack([towards[angle] for angle in angles.tolist()], axis=1))
    why = "worst regular seat: {spread:.1f} dB rms, deepest dip {dip:.1f} dB"
    numbers = {"spread": worst.spread, "dip": worst.dip}
    return criterion_values(
        definitions.COVERAGE, worst.loss, worst.loss, worst.loss, voices.stated, "modelled", why, **numbers
    )


def farthest(setting: Setting | None, role: str, boxes: Boxes) -> FloatArray:
    """From a role's loudspeakers to the farthest regular ear [m].

    What stands around the listener is taken to be as far from the primary seat as the mains are, all on one circle
    (ITU-R BS.775), and on the far side of the farthest regular seat.
    """
    if setting is None:
        return np.full(len(boxes), np.nan)
    if role == "mains":
        stands = setting.stands(boxes)
        distances = [mains_distances(stands, setting.seats, seat) for seat in _regular(setting)]
        return np.asarray(np.max(distances, axis=(0, 2)))
    return np.full(len(boxes), _radius(setting) + _spread(setting))


def _regular(setting: Setting) -> list[int]:
    return np.flatnonzero(setting.seats.regular).tolist()


def _radius(setting: Setting) -> float:
    """From the primary seat to the circle on which all loudspeakers stand [m]."""
    along = setting.seats.distance[setting.seats.primary] - (setting.room.mains.from_wall or 0.0)
    return float(np.hypot(setting.spacing / 2, max(along, 0.5)))


def _spread(setting: Setting) -> float:
    """From the primary seat to the regular seat farthest from it [m]."""
    seats = setting.seats
    apart = np.hypot(seats.x - seats.x[seats.primary], seats.distance - seats.distance[seats.primary])
    return float(apart[seats.regular].max())


def seat_angles(setting: Setting | None, role: str, boxes: Boxes) -> FloatArray:
    """The angles from a role's axis within which the regular seats lie [deg], one list for all of the role."""
    if setting is None:
        return np.array([-NO_ROOM_ANGLE, NO_ROOM_ANGLE])
    if role == "mains":
        stands = setting.stands(boxes)
        middle = stands.take(np.argsort(np.nan_to_num(stands.from_wall))[[len(boxes) // 2]])
        told = [mains_angles(middle, setting.seats, seat)[0] for seat in _regular(setting)]
        return np.unique(np.concatenate(told).round(6))
    half = np.degrees(np.arctan2(_spread(setting), _radius(setting)))
    return np.unique(np.clip([-half, half], -WIDEST, WIDEST))
