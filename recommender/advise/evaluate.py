"""All gates and criteria, for every place and pose: arrays in, options out. No database, no words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from triptych.recommender.advise.gather import STAND_MOUNT_HEIGHT
from triptych.recommender.judge.criteria.placing import aim_of, bounce_elevation, bounces, surroundings
from triptych.recommender.judge.criteria.sound import coverage_of, timbre_of
from triptych.recommender.judge.criteria.value import balance, headroom, reach
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.gates import fit, terms
from triptych.recommender.judge.ranking import Scores, score
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict
from triptych.recommender.scene.aiming import Aim, aim
from triptych.recommender.scene.arrays import (
    BoolArray,
    Boxes,
    CodeArray,
    Drive,
    FloatArray,
    IndexArray,
    Mains,
    Picture,
    Place,
    Purse,
    Seats,
)
from triptych.recommender.scene.hearing import Listening, Voices, mains_aside, mains_at_primary, seat_azimuth
from triptych.recommender.scene.levels import Levels, levels

UPRIGHT_PLACES: Final = frozenset({"stand", "wall", "behind_screen"})
"""Kinds of place where a box made to lie may be stood on end."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One question, whole: N candidates, the mains, the room and the money.

    `voices_of` gives the voices of the candidates at some rows: they are asked for late, and only for those that the
    gates leave.
    """

    boxes: Boxes
    relation: CodeArray
    voices_of: Callable[[IndexArray], Voices]
    sealed: FloatArray
    mains: Mains
    mains_voice: Voices
    main_price: float
    main_currency: int
    seats: Seats
    places: tuple[Place, ...]
    picture: Picture
    drive: Drive
    purse: Purse
    in_stock: bool
    weights: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Placed:
    """One place and pose for the candidates at `index`, judged by the gates; `kept` are those worth measuring."""

    place: Place
    pose: str
    index: IndexArray
    boxes: Boxes
    aim: Aim
    azimuth: FloatArray
    levels: Levels
    gates: tuple[GateVerdicts, ...]
    verdict: CodeArray
    kept: IndexArray

    @property
    def on_side(self) -> bool:
        """Whether the boxes lie or stand otherwise than they were designed to."""
        return self.pose == "on_side"


@dataclass(frozen=True, slots=True)
class Option(Placed):
    """A place and pose with the criteria and scores of the candidates that are kept there."""

    criteria: tuple[CriterionValues, ...]
    scores: Scores

    def scored(self, count: int) -> FloatArray:
        """The score of each of all `count` candidates here; NaN where none was made."""
        spread = np.full(count, np.nan)
        spread[self.index[self.kept]] = self.scores.score
        return spread

    def judged(self, count: int) -> CodeArray:
        """The verdict on each of all `count` candidates here; `FAIL` for those that can't take this pose."""
        spread = np.full(count, Verdict.FAIL, dtype=np.int8)
        spread[self.index] = self.verdict
        return spread


def options(scene: Scene, keep_failed: bool = False) -> list[Option]:
    """Every place and pose with its gates, and the criteria of what isn't ruled out there (or of everything)."""
    anywhere = _anywhere(scene)
    placed = [
        _placed(scene, place, pose, index, boxes, anywhere, keep_failed)
        for place in scene.places
        for pose, index, boxes in _poses(scene, place)
    ]
    left = np.unique(np.concatenate([option.index[option.kept] for option in placed]))
    listening = Listening(
        scene.voices_of(left),
        _azimuths(option for option in placed if not option.on_side),
        _azimuths(option for option in placed if option.on_side),
    )
    mains_direct = mains_at_primary(scene.mains_voice, scene.mains, scene.seats)
    return [_measured(scene, option, left, listening, mains_direct) for option in placed]


def _azimuths(placed: Iterable[Placed]) -> set[float]:
    return {angle for option in placed for angle in option.azimuth.tolist()}


def _poses(scene: Scene, place: Place) -> Iterator[tuple[str, IndexArray, Boxes]]:
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
    place: Place,
    pose: str,
    index: IndexArray,
    boxes: Boxes,
    anywhere: tuple[GateVerdicts, ...],
    keep_failed: bool,
) -> Placed:
    placed = aim(boxes, place, scene.seats)
    loud = levels(boxes, placed, scene.seats, scene.drive, scene.mains)
    terms_here = anywhere if len(index) == len(scene.boxes) else tuple(judged.take(index) for judged in anywhere)
    gates = _judgements(scene, place, boxes, placed, loud, terms_here)
    verdict = np.max(np.vstack([gate.verdict for gate in gates]), axis=0)
    kept = np.arange(len(boxes)) if keep_failed else np.flatnonzero(verdict < Verdict.FAIL)
    azimuth = seat_azimuth(placed, scene.seats)
    return Placed(place, pose, index, boxes, placed, azimuth, loud, gates, verdict, kept)


def _judgements(
    scene: Scene, place: Place, boxes: Boxes, placed: Aim, loud: Levels, anywhere: tuple[GateVerdicts, ...]
) -> tuple[GateVerdicts, ...]:
    amplifier, money, supply = anywhere
    return (
        fit.envelope(boxes, place),
        fit.tilt(boxes, placed),
        fit.port(boxes, place, placed),
        fit.sight(boxes, place, placed, scene.picture),
        fit.load(boxes, place),
        amplifier,
        drive_gates.level(boxes, scene.drive, loud),
        drive_gates.trim(boxes, scene.drive, loud),
        fit.height(boxes, placed),
        money,
        supply,
        terms.hazard(boxes, place),
    )


def _measured(scene: Scene, placed: Placed, left: IndexArray, listening: Listening, mains_direct: FloatArray) -> Option:
    rows = placed.index[placed.kept]
    own, here, loud = placed.boxes.take(placed.kept), placed.aim.take(placed.kept), placed.levels.take(placed.kept)
    heard = listening.at_seats(np.searchsorted(left, rows), placed.azimuth, here, scene.seats, placed.on_side)
    sent = _sent_down(scene, placed, np.searchsorted(left, rows), listening, here)
    criteria = (
        timbre_of(
            heard,
            scene.seats.primary,
            scene.mains_voice,
            mains_direct,
            mains_aside(scene.mains_voice, scene.mains, scene.seats),
        ),
        coverage_of(heard, scene.seats),
        headroom(own, scene.drive, loud),
        aim_of(own, here, scene.mains, scene.seats),
        surroundings(own, placed.place, here, scene.picture, scene.mains, sent),
        balance(_in_mains_currency(own, scene), scene.main_price),
        reach(own, scene.sealed[rows]),
    )
    parts = {entry.name: getattr(placed, entry.name) for entry in fields(Placed)}
    return Option(**parts, criteria=criteria, scores=score(criteria, scene.weights))


def _sent_down(scene: Scene, placed: Placed, rows: IndexArray, listening: Listening, here: Aim) -> FloatArray:
    """What each box sends towards the surface in front of it, where there is one [dB]; boxes x bands."""
    if not bounces(placed.place):
        return np.zeros((len(rows), 0))
    return listening.downward(rows, bounce_elevation(here), here, scene.seats, placed.on_side).astype(np.float64)


def _in_mains_currency(boxes: Boxes, scene: Scene) -> FloatArray:
    """Prices that can be compared with the mains'; NaN for those in another currency."""
    foreign = (boxes.currency != scene.main_currency) & (boxes.currency >= 0) & (scene.main_currency >= 0)
    return np.where(foreign, np.nan, terms.comparable_price(boxes, scene.purse))


@dataclass(frozen=True, slots=True)
class Outcome:
    """For each of N candidates: which group it is in and its best option (an index into the options; -1 for none).

    `scores` and `verdicts` have one row an option and one column a candidate.
    """

    ranked: IndexArray
    pending: IndexArray
    excluded: IndexArray
    best: IndexArray
    best_score: FloatArray
    scores: FloatArray
    verdicts: CodeArray


def outcome(found: list[Option], count: int) -> Outcome:
    """Put each candidate in one group: ranked if some place passes it, pending if some place might, else excluded."""
    scores = np.vstack([option.scored(count) for option in found])
    verdicts = np.vstack([option.judged(count) for option in found])
    passes, waits = verdicts <= Verdict.CONDITIONAL, verdicts == Verdict.UNKNOWN
    is_ranked: BoolArray = np.asarray(passes.any(axis=0))
    is_pending: BoolArray = np.asarray(~is_ranked & waits.any(axis=0))
    usable = np.where(np.where(is_ranked, passes, waits), scores, -np.inf)
    best = np.argmax(usable, axis=0)
    best_score = scores[best, np.arange(count)]
    # of equal scores the one without conditions comes first
    by_score = np.lexsort((verdicts[best, np.arange(count)], -usable[best, np.arange(count)]))
    return Outcome(
        ranked=by_score[is_ranked[by_score]],
        pending=by_score[is_pending[by_score]],
        excluded=np.flatnonzero(~is_ranked & ~is_pending),
        best=np.where(is_ranked | is_pending, best, -1),
        best_score=best_score,
        scores=scores,
        verdicts=verdicts,
    )
