"""One question whole, and who stands where in it: what is judged, as arrays; no database and no words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triptych.recommender.judge.criteria.sound import relations
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.verdicts import GateVerdicts
from triptych.recommender.physics.loudspeaker import Sources
from triptych.recommender.scene.aiming import Aim
from triptych.recommender.scene.arrays import (
    BoolArray,
    Boxes,
    CodeArray,
    Drive,
    FloatArray,
    IndexArray,
    Kin,
    Mains,
    Picture,
    PlaceFigures,
    Purse,
    Seats,
    Sound,
)
from triptych.recommender.scene.hearing import Voices
from triptych.recommender.scene.levels import Levels
from triptych.recommender.scene.structures import Arrays, joined


@dataclass(frozen=True, slots=True)
class Scene:
    """One question, whole: M pairs of mains, N candidates, the room and the money.

    `bases` is how high each candidate stands where each has a surface of its own, the one place then [m].
    `voices_of` gives the voices of the candidates at some rows: they are asked for late, and only for those that the
    gates leave. `drivers_of` gives their drivers, and of which of them nothing is measured, so that these tell all.
    The spacing of the mains is the room's.
    """

    boxes: Boxes
    kin: Kin
    voices_of: Callable[[IndexArray], Voices]
    drivers_of: Callable[[IndexArray], tuple[Sources, BoolArray]]
    sealed: FloatArray
    mains: Mains
    seats: Seats
    places: tuple[PlaceFigures, ...]
    picture: Picture
    drive: Drive
    purse: Purse
    in_stock: bool
    weights: Mapping[str, float]
    bases: FloatArray | None = None

    @property
    def relation(self) -> CodeArray:
        """The kinship of every candidate with the first of the mains."""
        return np.asarray(relations(self.mains.sound.kin, self.kin)[0])


@dataclass(frozen=True, slots=True)
class Placed:
    """One place and pose for the candidates at `index`, judged by the gates that no mains change.

    `kept` are those worth hearing.
    """

    place: PlaceFigures
    pose: str
    index: IndexArray
    boxes: Boxes
    aim: Aim
    levels: Levels
    gates: tuple[GateVerdicts, ...]
    verdict: CodeArray
    kept: IndexArray

    @property
    def on_side(self) -> bool:
        """Whether the boxes lie or stand otherwise than they were designed to."""
        return self.pose != "as_designed"

    @property
    def standing(self) -> StoodBoxes:
        """Those that are kept, as they stand here."""
        kept = self.kept
        return StoodBoxes(self.index[kept], self.boxes.take(kept), self.aim.take(kept), self.levels.take(kept))


@dataclass(frozen=True, slots=True)
class StoodBoxes(Arrays):
    """The candidates at `index` as they stand somewhere."""

    index: IndexArray
    boxes: Boxes
    aim: Aim
    levels: Levels


@dataclass(frozen=True, slots=True)
class Centres(Arrays):
    """K centres where they stand, with all that no mains change; `index` are theirs among the candidates.

    `own` are the criteria that no mains change, `logs` their part of the logarithm of a score. `aim` and `levels` are
    None where no room is given; trim and aim then are not judged. `dead` says which take the speech of a regular seat,
    and come after all others, `open_tax` what part of a price may come on top.
    """

    place: str
    pose: str
    index: IndexArray
    price: FloatArray
    currency: IndexArray
    open_tax: FloatArray
    sound: Sound
    aim: Aim | None
    levels: Levels | None
    own: tuple[CriterionValues, ...]
    logs: FloatArray
    dead: BoolArray

    @property
    def high(self) -> FloatArray:
        """How far from the ear the axis of each is, up or down; nothing where no room is given [deg]."""
        return np.zeros(len(self.index)) if self.aim is None else from_the_ear(self.aim)

    @classmethod
    def joined(cls, parts: Sequence[Centres]) -> Centres:
        """Those of several parts in one place, one part after the other."""
        own = tuple(joined(values) for values in zip(*(part.own for part in parts), strict=True))
        return replace(joined(parts), own=own)

    def among(self, kept: IndexArray) -> Centres:
        """Those that are kept of all candidates, whose places are given in rising order and counted anew."""
        here = np.flatnonzero(np.isin(self.index, kept))
        return replace(self.take(here), index=np.searchsorted(kept, self.index[here]))


def from_the_ear(aim: Aim) -> FloatArray:
    """How far from the ear the axis of each box is before it is tilted, up or down, to a tenth [deg]."""
    return np.asarray(np.round(np.abs(aim.elevation), 1))
