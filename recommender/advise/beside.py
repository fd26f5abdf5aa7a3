"""What depends on which mains a centre stands beside: trim, timbre, aim, balance; and the score of every such pair."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.advise.evaluate import Centres
from triptych.recommender.judge.criteria.definitions import AIM, BALANCE, CRITERIA, TIMBRE
from triptych.recommender.judge.criteria.placing import aim_left
from triptych.recommender.judge.criteria.sound import timbre_difference
from triptych.recommender.judge.criteria.value import price_ratio
from triptych.recommender.judge.criterion import Criterion
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.ranking import log_utility, score_of
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.scene.arrays import BoolArray, Drive, FloatArray, IndexArray, Mains, Seats
from triptych.recommender.scene.levels import trims

BLOCK: Final = 65_536
"""So many pairs are scored at once; more would leave the processor's cache for nothing."""


def comparable(mains: Mains, centres: Centres) -> FloatArray:
    """Prices that can be compared with each mains', mains x centres; NaN for those in another currency."""
    own, theirs = centres.currency, mains.currency[:, None]
    return np.where((own != theirs) & (own >= 0) & (theirs >= 0), np.nan, centres.price)


def likely_beside(mains: Mains, centres: Centres, seats: Seats | None) -> list[tuple[Criterion, FloatArray]]:
    """The likely values of the criteria that depend on the mains, mains x centres; no aim where no room is given."""
    timbre = (TIMBRE, timbre_difference(centres.sound, mains.sound))
    money = (BALANCE, price_ratio(comparable(mains, centres), mains.price))
    if seats is None or centres.aim is None:
        return [timbre, money]
    return [timbre, (AIM, aim_left(centres.aim, mains.stands, seats)), money]


@dataclass(frozen=True, slots=True)
class AllPairs:
    """M pairs of mains beside N centres in all places of a room, or in none where no room is given.

    `allowed` says which may stand together, mains x centres.
    """

    mains: Mains
    places: tuple[Centres, ...]
    allowed: BoolArray
    seats: Seats | None
    drive: Drive
    weights: Mapping[str, float]

    def scores(self, rows: IndexArray) -> FloatArray:
        """Scores from 0 to 100 of some mains beside every centre in its best place; -inf where there is none."""
        found = np.full((len(rows), self.allowed.shape[1]), -np.inf)
        step = max(1, BLOCK // max(1, found.shape[1]))
        for start in range(0, len(rows), step):
            self._fill(found[start : start + step], rows[start : start + step])
        return found

    def _fill(self, found: FloatArray, rows: IndexArray) -> None:
        """Put in the scores of a few mains; what none of them may stand beside is not looked at."""
        mains, allowed = self.mains.take(rows), self.allowed[rows]
        wanted = np.flatnonzero(allowed.any(axis=0))
        for place in self.places:
            centres = place.take(np.flatnonzero(np.isin(place.index, wanted)))
            found[:, centres.index] = np.maximum(found[:, centres.index], self.scores_in(mains, centres))
        found[~allowed] = -np.inf

    def scores_in(self, mains: Mains, centres: Centres) -> FloatArray:
        """Scores from 0 to 100 in one place, mains x centres; -inf where the trim is out of the processor's range."""
        likely = likely_beside(mains, centres, self.seats)
        judged = {one.criterion.name for one in centres.own} | {criterion.name for criterion, _ in likely}
        logs = log_utility(likely, self.weights, centres.logs)
        scores = score_of(logs, sum(self.weights[one.name] for one in CRITERIA if one.name in judged))
        if self.seats is None or centres.levels is None:
            return scores
        trim = drive_gates.trim(self.drive, trims(centres.levels, mains, self.seats))
        return np.where(trim.verdict == Verdict.FAIL, -np.inf, scores)

    def best_place(self, mains: int, centre: int) -> tuple[Centres, float] | None:
        """The place in which a centre scores best beside some mains, cut down to that centre, and the score."""
        row = self.mains.take(np.array([mains]))
        here = [place.take(np.flatnonzero(place.index == centre)) for place in self.places]
        found = [(place, float(self.scores_in(row, place)[0, 0])) for place in here if len(place.index)]
        return max(found, key=lambda entry: entry[1], default=None)
