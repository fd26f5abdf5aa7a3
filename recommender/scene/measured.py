"""What was measured of loudspeakers, as arrays that take the place of the model where they are known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Self

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics import erb
from triptych.recommender.physics.curve import at_angles
from triptych.recommender.physics.kernel import Single
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray

MEASURED_STEP: Final = 2.5
"""Between two angles of a measured plane [deg]: sets in steps of 2.5, 5, 7.5, 10 and 15 deg fall on it."""

MEASURED_ANGLES: Final[FloatArray] = np.arange(-90.0, 90.0 + MEASURED_STEP, MEASURED_STEP)
"""Angles of a measured plane, to the right in the horizontal one, up in the vertical one [deg]."""

HORIZONTAL, VERTICAL = 0, 1

NEEDED: Final = (500.0, 6000.0)
"""A curve that does not cover all bands between these takes no part in a match [Hz]."""


def needed_bands() -> BoolArray:
    """Which of the ear's bands a curve must cover to take part."""
    return np.asarray((erb.bands() >= NEEDED[0]) & (erb.bands() <= NEEDED[1]))


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured of N loudspeakers, M of which have a set of angles.

    Attributes
    ----------
    axis : [N, B]
        Level on the axis, 0 where nothing was measured; NaN in a band that the curve does not cover. [dB]
    direct : [N]
        Whether the response on the axis, or over the listening window, was measured.
    power : [N, B]
        Sound power against the axis; NaN where it was not measured. [dB]
    whole : [N]
        Whether the sound power was measured: a full set of 70 curves.
    row : [N]
        Row of each loudspeaker in `planes`; -1 for none.
    planes : [M, 2, A, B]
        Levels against the axis in both planes at `MEASURED_ANGLES`; NaN where nothing was measured. [dB]
    reach : [M, 2, 2]
        Lowest and highest measured angle in both planes; NaN where there is no set. [deg]
    """

    axis: Single
    direct: BoolArray
    power: Single
    whole: BoolArray
    row: IndexArray
    planes: Single
    reach: FloatArray

    @classmethod
    def none(cls, count: int) -> Self:
        """Nothing measured of `count` loudspeakers."""
        shape = (count, erb.BANDS)
        no = np.zeros(count, dtype=np.bool_)
        return cls(
            np.zeros(shape, np.float32),
            no,
            np.full(shape, np.nan, np.float32),
            no.copy(),
            np.full(count, -1, dtype=np.intp),
            np.empty((0, 2, MEASURED_ANGLES.size, erb.BANDS), np.float32),
            np.empty((0, 2, 2)),
        )

    def take(self, rows: IndexArray) -> Measured:
        """Those of the loudspeakers at `rows`, in that order."""
        axis, direct, power, whole = self.axis[rows], self.direct[rows], self.power[rows], self.whole[rows]
        return Measured(axis, direct, power, whole, self.row[rows], self.planes, self.reach)

    def beside(self, other: Measured) -> Measured:
        """These, then those of others."""
        row = np.concatenate([self.row, np.where(other.row < 0, -1, other.row + len(self.planes))])
        names = ("axis", "direct", "power", "whole", "planes", "reach")
        named: dict[str, Any] = {name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in names}
        return Measured(row=row, **named)

    @property
    def any(self) -> bool:
        """Whether anything was measured of any of them."""
        return bool(self.direct.any() or len(self.planes))

    def over(
        self, levels: Single, rows: IndexArray, plane: int, angle: FloatArray | float, usable: BoolArray
    ) -> Single:
        """The modelled levels of the loudspeakers at `rows`, at one angle or one each, with what was measured over it.

        A model that is not usable leaves a band that was not measured at 0 dB: as on the axis.
        """
        own = self.row[rows]
        places = np.flatnonzero(own >= 0)
        if not len(places):
            return levels
        angles = np.broadcast_to(np.asarray(angle, dtype=np.float64), len(rows))[places]
        found = _between(self.planes[own[places], plane], angles)
        model = np.where(usable[rows[places], None], levels[places], np.float32(0))
        some = ~np.isnan(found).all(axis=1)
        merged = np.where(np.isnan(found), model, found)
        result = levels.copy()
        result[places[some]] = merged[some]
        return result

    def reaches(
        self, rows: IndexArray, plane: int, lowest: FloatArray | float, highest: FloatArray | float
    ) -> BoolArray:
        """Whether the set of each loudspeaker at `rows` holds all angles between two, of all or of each."""
        held = np.zeros(len(rows), dtype=np.bool_)
        own = self.row[rows]
        places = np.flatnonzero(own >= 0)
        if len(places):
            low, high = self.reach[own[places], plane].T
            least, most = (np.broadcast_to(end, len(rows))[places] for end in (lowest, highest))
            held[places] = (low <= least + 1e-6) & (high >= most - 1e-6)
        return held


def _between(plane: Single, angle: FloatArray) -> Single:
    """Levels [M, B] of planes [M, A, B], each at its own angle, straight between two neighbours; NaN at NaN."""
    lowest, highest = MEASURED_ANGLES[[0, -1]]
    place = (np.clip(np.nan_to_num(angle), lowest, highest) - lowest) / MEASURED_STEP
    low = np.clip(np.floor(place + 1e-6).astype(np.intp), 0, MEASURED_ANGLES.size - 2)
    share = np.clip(place - low, 0.0, 1.0).astype(np.float32)[:, None]
    row = np.arange(len(plane))
    first, second = plane[row, low], plane[row, low + 1]
    # at the outermost measured angle the neighbour is unknown and counts nothing
    between = first + share * (second - first)
    found = np.select([share < 1e-5, share > 1 - 1e-5], [first, second], between)
    return np.asarray(np.where(np.isnan(angle)[:, None], np.nan, found), dtype=np.float32)


def plane_of(angle: FloatArray, level: NDArray[np.float64], mirrored: bool) -> tuple[Single, tuple[float, float]]:
    """One measured plane from levels against the axis [A, B] at rising angles, and the angles it reaches from and to.

    Where only one side was measured and the plane is `mirrored`, the other side is taken to be like it.
    """
    if mirrored and (angle[0] >= 0.0 or angle[-1] <= 0.0):
        other = angle != 0.0
        angle, level = np.concatenate([angle, -angle[other]]), np.concatenate([level, level[other]])
        order = np.argsort(angle)
        angle, level = angle[order], level[order]
    return at_angles(angle, level, MEASURED_ANGLES).astype(np.float32), (float(angle[0]), float(angle[-1]))
