"""What centres lose at the one seat that is farthest aside, by their drivers alone: no profile is read for it.

The worst seat loses no less than any other, so this bounds the score of most centres of a large catalogue well enough
to leave them, at a fifth of the work of hearing them at five seats.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triptych.recommender.advise.evaluate import in_each_pose, slices
from triptych.recommender.advise.placed import Placed, Scene
from triptych.recommender.judge.criteria.evenness import modelled_loss
from triptych.recommender.judge.gates.speech import DEAD_DIP
from triptych.recommender.physics.coverage import deepest_dip
from triptych.recommender.physics.geometry import azimuth
from triptych.recommender.physics.loudspeaker import Sources, take, turned
from triptych.recommender.physics.spherical import power_at
from triptych.recommender.scene.aiming import seat_points
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, Seats
from triptych.recommender.scene.hearing import decibels_of
from triptych.recommender.scene.structures import joined


@dataclass(frozen=True, slots=True)
class Aside:
    """What candidates lose at one seat [dB], NaN where their drivers don't tell; `dead` where it loses its speech."""

    lost: FloatArray
    dead: BoolArray


def lost_aside(scene: Scene, placed: Sequence[Placed]) -> list[Aside]:
    """What those that are `kept` in places and poses lose at the seat that is farthest aside, of all regular ones."""
    seats = scene.seats.only(_widest(scene.seats))
    left = np.unique(np.concatenate([np.zeros(0, dtype=np.intp), *(one.index[one.kept] for one in placed)]))
    drawn = scene.drivers_of(left)

    def of(some: Sequence[int]) -> list[Aside]:
        return _lost(scene, [placed[number] for number in some], left, drawn, seats)

    found = in_each_pose(placed, range(len(placed)), of)
    return [found[number] for number in range(len(placed))]


def _widest(seats: Seats) -> int:
    aside = np.where(seats.regular, np.abs(azimuth(seats.x, seats.distance)), -1.0)
    return int(np.argmax(aside))


def _lost(
    scene: Scene, placed: Sequence[Placed], left: IndexArray, drawn: tuple[Sources, BoolArray], seats: Seats
) -> list[Aside]:
    """The same of places in one pose."""
    rows = np.concatenate([one.index[one.kept] for one in placed])
    there = np.searchsorted(left, rows)
    sources, told = take(drawn[0], there), drawn[0].usable[there] & drawn[1][there]
    points = seat_points(joined([one.aim.take(one.kept) for one in placed]), seats)
    levels = decibels_of(power_at(turned(sources) if placed[0].on_side else sources, points))
    lost = np.where(told, modelled_loss(levels, sources.assumed, scene.kin.take(rows)), np.nan)
    dead = told & (-deepest_dip(levels)[:, 0] > DEAD_DIP)
    return [Aside(lost[part], dead[part]) for part in slices([len(one.kept) for one in placed])]
