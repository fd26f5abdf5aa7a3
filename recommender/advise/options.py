"""The account of one pair of mains: each place and pose with all gates, criteria and scores, and the ranking."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from triptych.recommender.advise.beside import comparable
from triptych.recommender.advise.evaluate import Centres, Placed, Scene, evaluate
from triptych.recommender.judge.criteria.placing import aim_of
from triptych.recommender.judge.criteria.sound import timbre_of
from triptych.recommender.judge.criteria.value import balance
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.ranking import Scores, score
from triptych.recommender.judge.verdicts import Verdict, worst
from triptych.recommender.scene.arrays import BoolArray, CodeArray, FloatArray, IndexArray
from triptych.recommender.scene.levels import trims

TRIM_AFTER: Final = 7
"""After so many gates the trim is told, which alone of them depends on the mains."""


@dataclass(frozen=True, slots=True)
class Option(Placed):
    """A place and pose with everything that was found of the candidates there, `kept` by all gates.

    `trim` is that of all, `criteria` and `scores` of those kept.
    """

    trim: FloatArray
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
    """Every place and pose beside the first of the mains, with the criteria of what isn't ruled out (or of all)."""
    return [_option(scene, placed, centres, keep_failed) for placed, centres in evaluate(scene, keep_failed)]


def _option(scene: Scene, placed: Placed, centres: Centres, keep_failed: bool) -> Option:
    found = trims(placed.levels, scene.mains, scene.seats)
    trim = drive_gates.trim(scene.drive, found).take(0)
    gates = (*placed.gates[:TRIM_AFTER], trim, *placed.gates[TRIM_AFTER:])
    verdict = worst(gates)
    passing = np.arange(len(placed.kept)) if keep_failed else np.flatnonzero(verdict[placed.kept] < Verdict.FAIL)
    kept = placed.kept[passing]
    criteria = _criteria(scene, placed, centres.take(passing), kept)
    changed = {"gates": gates, "verdict": verdict, "kept": kept}
    parts = {entry.name: getattr(placed, entry.name) for entry in fields(Placed)} | changed
    return Option(**parts, trim=found.likely[0], criteria=criteria, scores=score(criteria, scene.weights))


def _criteria(scene: Scene, placed: Placed, centres: Centres, kept: IndexArray) -> tuple[CriterionValues, ...]:
    """All criteria of the centres that are kept, in the order in which they are told."""
    mains = scene.mains
    timbre, aim, balanced = (
        timbre_of(centres.sound, mains.sound),
        aim_of(placed.boxes.take(kept), placed.aim.take(kept), mains.stands, scene.seats),
        balance(comparable(mains, centres), mains.price),
    )
    coverage, headroom, surroundings, reach = centres.own
    return (timbre.take(0), coverage, headroom, aim.take(0), surroundings, balanced.take(0), reach)


@dataclass(frozen=True, slots=True)
class Ranking:
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


def ranking(found: Sequence[Option], count: int) -> Ranking:
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
    return Ranking(
        ranked=by_score[is_ranked[by_score]],
        pending=by_score[is_pending[by_score]],
        excluded=np.flatnonzero(~is_ranked & ~is_pending),
        best=np.where(is_ranked | is_pending, best, -1),
        best_score=best_score,
        scores=scores,
        verdicts=verdicts,
    )
