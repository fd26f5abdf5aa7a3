"""All gates and criteria for M pairs of mains, N centres and every place: arrays in, arrays out. No database, no words.

What no mains change is found once for each place and pose. What depends on the mains (trim, timbre, aim, balance)
takes them as a leading axis: `match` has one pair of them, a plan all there are, in runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.catalogue import STAND_MOUNT_HEIGHT
from triptych.recommender.judge.criteria.placing import bounce_elevation, bounces, surroundings
from triptych.recommender.judge.criteria.sound import coverage_of, relations
from triptych.recommender.judge.criteria.value import headroom, reach
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.gates import fit, speech, terms
from triptych.recommender.judge.ranking import log_utility
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict, worst
from triptych.recommender.scene.aiming import Aim, aim
from triptych.recommender.scene.arrays import (
    Arrays,
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
from triptych.recommender.scene.boundaries import centre_images, floor_elevation
from triptych.recommender.scene.hearing import Heard, Voices, at_seats, downward
from triptych.recommender.scene.levels import Levels, SensitivityRange, levels, sensitivity_range

PORT: Final = 2
"""Where the gate of ports stands among those of a place."""

UPRIGHT_PLACES: Final = frozenset({"stand", "wall", "behind_screen"})
"""Kinds of place where a box made to lie may be stood on end."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One question, whole: M pairs of mains, N candidates, the room and the money.

    `bases` is how high each candidate stands where each has a surface of its own, the one place then [m].
    `voices_of` gives the voices of the candidates at some rows: they are asked for late, and only for those that the
    gates leave. The spacing of the mains is the room's.
    """

    boxes: Boxes
    kin: Kin
    voices_of: Callable[[IndexArray], Voices]
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
        return self.pose == "on_side"


@dataclass(frozen=True, slots=True)
class Centres(Arrays):
    """K centres where they stand, with all that no mains change; `index` are theirs among the candidates.

    `own` are the criteria that no mains change, `logs` their part of the logarithm of a score. `aim` and `levels` are
    None where no room is given; trim and aim then are not judged. `dead` says which take the speech of a regular seat.
    """

    place: str
    pose: str
    index: IndexArray
    price: FloatArray
    currency: IndexArray
    sound: Sound
    aim: Aim | None
    levels: Levels | None
    own: tuple[CriterionValues, ...]
    logs: FloatArray
    dead: BoolArray


def evaluate(scene: Scene, keep_failed: bool = False, passing: bool = False) -> list[tuple[Placed, Centres]]:
    """Every place and pose with its gates, and what isn't ruled out there (or everything) as it is heard.

    With `passing`, only those places and poses that do not rule everybody out.
    """
    placed = placings(scene, keep_failed)
    return heard(scene, [one for one in placed if len(one.kept)] if passing else placed)


def placings(scene: Scene, keep_failed: bool = False) -> list[Placed]:
    """Every place and pose with the gates that no mains change and that need not listen."""
    anywhere = _anywhere(scene)
    sensitivity = sensitivity_range(scene.boxes)
    return [
        _placed(scene, place, pose, index, boxes, anywhere, sensitivity, keep_failed)
        for place in scene.places
        for pose, index, boxes in _poses(scene, place)
    ]


@dataclass(frozen=True, slots=True)
class Voiced:
    """The voices of the candidates at `rows`, which rise."""

    rows: IndexArray
    voices: Voices

    def at(self, candidates: IndexArray) -> IndexArray:
        """Where the voices of some of the candidates are."""
        return np.searchsorted(self.rows, candidates)


def voiced(scene: Scene, placed: Sequence[Placed]) -> Voiced:
    """The voices of all that are `kept` somewhere."""
    left = np.unique(np.concatenate([np.zeros(0, dtype=np.intp), *(one.index[one.kept] for one in placed)]))
    return Voiced(left, scene.voices_of(left))


def listened(scene: Scene, placed: Sequence[Placed], known: Voiced) -> list[Heard]:
    """What the seats hear of those that are `kept` in places and poses, before any room; `known` are their voices."""
    return [
        at_seats(known.voices, known.at(one.index[one.kept]), one.aim.take(one.kept), scene.seats, one.on_side)
        for one in placed
    ]


def heard(
    scene: Scene, placed: Sequence[Placed], known: Voiced | None = None, told: Sequence[Heard | None] | None = None
) -> list[tuple[Placed, Centres]]:
    """Places and poses with those that are `kept` there as they are heard.

    Their voices, and what the seats hear of them before any room, need not be found again where they are given.
    """
    if not placed:
        return []
    known = known or voiced(scene, placed)
    return [_heard(scene, one, known, free) for one, free in zip(placed, told or [None] * len(placed), strict=True)]


def _poses(scene: Scene, place: PlaceFigures) -> Iterator[tuple[str, IndexArray, Boxes]]:
    boxes = scene.boxes
    yield "as_designed", np.arange(len(boxes)), boxes
    small = np.fmax(boxes.height, boxes.width) <= STAND_MOUNT_HEIGHT
    turnable = np.flatnonzero(small & (~boxes.lying | (place.kind in UPRIGHT_PLACES)))
    if len(turnable):
        yield "on_side", turnable, boxes.take(turnable).on_side()


def _anywhere(scene: Scene) -> tuple[GateVerdicts, ...]:
    """The gates that no place changes."""
    return (
        drive_gates.amplifier(scene.boxes, scene.drive),
        terms.money(scene.boxes, scene.purse),
        terms.supply(scene.boxes, scene.in_stock),
    )


def _placed(
    scene: Scene,
    place: PlaceFigures,
    pose: str,
    index: IndexArray,
    boxes: Boxes,
    anywhere: tuple[GateVerdicts, ...],
    sensitivity: SensitivityRange,
    keep_failed: bool,
) -> Placed:
    base = None if scene.bases is None else scene.bases[index]
    stood = aim(boxes, place, scene.seats, base, scene.picture)
    low, likely, high = (part[index] for part in sensitivity)
    loud = levels(boxes, stood, scene.seats, scene.drive, (low, likely, high))
    amplifier, money, supply = (one.take(index) for one in anywhere)
    gates = (
        fit.envelope(boxes, place),
        fit.tilt(boxes, stood),
        fit.port(boxes, place, stood),
        fit.sight(boxes, place, stood, scene.picture, base),
        fit.load(boxes, place),
        amplifier,
        drive_gates.level(boxes, scene.drive, loud.peaks),
        fit.height(boxes, stood),
        money,
        supply,
        terms.hazard(boxes, place),
    )
    verdict = worst(gates)
    kept = np.arange(len(boxes)) if keep_failed else np.flatnonzero(verdict < Verdict.FAIL)
    return Placed(place, pose, index, boxes, stood, loud, gates, verdict, kept)


def _heard(scene: Scene, placed: Placed, known: Voiced, free: Heard | None) -> tuple[Placed, Centres]:
    rows = placed.index[placed.kept]
    boxes, stood, loud = placed.boxes.take(placed.kept), placed.aim.take(placed.kept), placed.levels.take(placed.kept)
    there, voices = known.at(rows), known.voices
    heard = free or at_seats(voices, there, stood, scene.seats, placed.on_side)
    sent = _sent_down(scene, placed, there, voices, stood)
    below = downward(voices, there, floor_elevation(stood), stood, scene.seats, placed.on_side)
    floor = scene.mains.stands.floor
    images = centre_images(boxes, placed.place, scene.places, stood, scene.seats, below, floor)
    own = (
        coverage_of(heard, scene.seats),
        headroom(boxes, scene.drive, loud.peaks),
        surroundings(boxes, placed.place, stood, scene.picture, scene.mains.stands.spacing, sent, scene.places),
        reach(boxes, scene.sealed[rows], fit.plugged(placed.boxes, placed.gates[PORT])[placed.kept]),
    )
    gates = (*placed.gates, speech.seats(heard, placed.kept, len(placed.boxes), scene.seats))
    centres = Centres(
        place=placed.place.name,
        pose=placed.pose,
        index=rows,
        price=terms.comparable_price(boxes, scene.purse),
        currency=boxes.currency.astype(np.intp),
        sound=replace(heard.sound, room=images.around(heard.sound.room)),
        aim=stood,
        levels=loud,
        own=own,
        logs=log_utility([(one.criterion, one.value) for one in own], scene.weights),
        dead=speech.dead_seat(gates[-1])[placed.kept],
    )
    return replace(placed, gates=gates, verdict=worst(gates)), centres


def _sent_down(scene: Scene, placed: Placed, rows: IndexArray, voices: Voices, stood: Aim) -> FloatArray:
    """What each box sends towards the surface in front of it, where there is one [dB]; boxes x bands."""
    if not bounces(placed.place):
        return np.zeros((len(rows), 0))
    elevation = bounce_elevation(stood)
    return downward(voices, rows, elevation, stood, scene.seats, placed.on_side).astype(np.float64)
