"""Centres beside mains: the score of every pair at once, and the whole account of one pair of mains."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.advise.evaluate import slices, together
from triptych.recommender.advise.everybody import evaluate
from triptych.recommender.advise.placed import Centres, Placed, Scene, from_the_ear
from triptych.recommender.judge.criteria.definitions import AIM, BALANCE, CRITERIA, TIMBRE
from triptych.recommender.judge.criteria.placing import aim_left, aim_of
from triptych.recommender.judge.criteria.sound import timbre_difference, timbre_of
from triptych.recommender.judge.criteria.value import balance, price_ratio
from triptych.recommender.judge.criterion import Criterion, CriterionValues
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.gates import terms
from triptych.recommender.judge.gates.speech import dead_seat
from triptych.recommender.judge.ranking import Scores, log_utility, score, score_of
from triptych.recommender.judge.verdicts import Verdict, as_likely_out, chance_to_stand
from triptych.recommender.scene.arrays import (
    BoolArray,
    CodeArray,
    CountArray,
    Drive,
    FloatArray,
    IndexArray,
    Mains,
    Seats,
)
from triptych.recommender.scene.levels import trims
from triptych.recommender.scene.structures import joined

BLOCK: Final = 65_536
"""So many pairs are scored at once; more would leave the processor's cache for nothing."""


def comparable(mains: Mains, price: FloatArray, currency: IndexArray) -> FloatArray:
    """Prices that can be compared with each mains', mains x centres; NaN for those in another currency."""
    theirs = mains.currency[:, None]
    return np.where((currency != theirs) & (currency >= 0) & (theirs >= 0), np.nan, price)


def likely_beside(mains: Mains, centres: Centres, seats: Seats | None) -> list[tuple[Criterion, FloatArray]]:
    """The likely values of the criteria that depend on the mains, mains x centres; no aim where no room is given."""
    timbre = (TIMBRE, timbre_difference(centres.sound, mains.sound))
    prices = comparable(mains, centres.price, centres.currency)
    money = (BALANCE, price_ratio(prices, mains.price, mains.surround, centres.open_tax))
    if seats is None or centres.aim is None:
        return [timbre, money]
    return [timbre, (AIM, aim_left(centres.aim, mains.stands, seats)), money]


@dataclass(frozen=True, slots=True)
class AllPairs:
    """M pairs of mains beside N centres in all places of a room, or in none where no room is given.

    `models` are the centres', as `Kin` numbers them; those that are `third_only` stand beside two of themselves alone.
    Nothing of mains x centres is held, but for the runs that are asked for.
    """

    mains: Mains
    places: tuple[Centres, ...]
    models: CountArray
    third_only: BoolArray
    seats: Seats | None
    drive: Drive
    weights: Mapping[str, float]
    _everywhere: tuple[Centres, IndexArray] | None = field(init=False, repr=False, default=None)

    def __post_init__(self) -> None:
        if self.places:
            number = np.repeat(np.arange(len(self.places)), [len(place.index) for place in self.places])
            object.__setattr__(self, "_everywhere", (joined([_bare(place) for place in self.places]), number))

    def __len__(self) -> int:
        """The number of pairs."""
        return len(self.mains) * len(self.models)

    def among(self, mains: IndexArray, centres: IndexArray) -> AllPairs:
        """Some mains beside some centres, by their places in rising order."""
        return replace(
            self,
            mains=self.mains.take(mains),
            places=tuple(some for place in self.places if len((some := place.among(centres)).index)),
            models=self.models[centres],
            third_only=self.third_only[centres],
        )

    def scores(self, rows: IndexArray, some: IndexArray | None = None) -> FloatArray:
        """Scores from 0 to 100 of some mains beside some centres, or every one, each in its best place.

        -inf where there is none.
        """
        chosen = np.arange(len(self.models)) if some is None else some
        found = np.full((len(rows), len(chosen)), -np.inf)
        if self._everywhere is None:
            return found
        step = max(1, BLOCK // max(1, len(chosen) * len(self.places)))
        for start in range(0, len(rows), step):
            self._fill(found[start : start + step], rows[start : start + step], chosen, *self._everywhere)
        return found

    def _fill(
        self, found: FloatArray, rows: IndexArray, chosen: IndexArray, everywhere: Centres, number: IndexArray
    ) -> None:
        """Put in the scores of a few mains, in all places at once; what none of them may stand beside is left out."""
        mains, models = self.mains.take(rows), self.models[chosen]
        allowed = ~self.third_only[chosen] | (mains.sound.kin.model[:, None] == models)
        column = np.full(len(self.models), -1)
        wanted = np.flatnonzero(allowed.any(axis=0))
        column[chosen[wanted]] = wanted
        here = np.flatnonzero(column[everywhere.index] >= 0)
        centres, number = everywhere.take(here), number[here]
        scores, at, last = self.scores_in(mains, centres), column[centres.index], np.full_like(found, -np.inf)
        highs = [np.full(found.shape, np.inf, dtype=np.float32) for _ in range(2)]
        for place in range(len(self.places)):
            for best, high, there in zip((found, last), highs, (~centres.dead, centres.dead), strict=True):
                some = np.flatnonzero(there & (number == place))
                stood, from_ear, told = at[some], centres.high[some], scores[:, some]
                takes = _takes(told, from_ear, best[:, stood], high[:, stood])
                best[:, stood] = np.where(takes, told, best[:, stood])
                high[:, stood] = np.where(takes, from_ear, high[:, stood])
        # where it comes last only if it does in every place: as in the ranking
        found[...] = np.where(np.isneginf(found), last, found)
        found[~allowed] = -np.inf

    def scores_in(self, mains: Mains, centres: Centres) -> FloatArray:
        """Scores from 0 to 100 where they stand, mains x centres; -inf where the trim is out of range."""
        likely = likely_beside(mains, centres, self.seats)
        own = {one.criterion.name for place in self.places for one in place.own}
        judged = own | {criterion.name for criterion, _ in likely}
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

        def merit(entry: tuple[Centres, float]) -> tuple[bool, float, float, float]:
            place, scored = entry
            alive = scored > -np.inf and not place.dead[0]
            return alive, round(scored, TOLD) if scored > -np.inf else scored, -float(place.high[0]), scored

        return max(found, key=merit, default=None)


def _takes(scores: FloatArray, high: FloatArray, best: FloatArray, best_high: NDArray[np.float32]) -> BoolArray:
    """Which centres do better in a place than where they did best so far, mains x centres.

    Of what scores the same, as scores are told, the place nearer to the ear does.
    """
    takes = scores > best
    with np.errstate(invalid="ignore"):
        rows, columns = np.nonzero(np.abs(scores - best) <= 10.0**-TOLD)
    if len(rows):
        these, those = (np.round(side[rows, columns], TOLD) for side in (scores, best))
        nearer = np.sign(best_high[rows, columns] - high[columns].astype(np.float32))
        takes[rows, columns] = (these > those) | (
            (these == those) & ((nearer > 0) | ((nearer == 0) & takes[rows, columns]))
        )
    return np.asarray(takes)


def _bare(centres: Centres) -> Centres:
    """Centres without what is told in words of one place alone, so that those of several places can be joined."""
    aim = None if centres.aim is None else replace(centres.aim, ends=())
    return replace(centres, own=(), aim=aim)


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

    def last(self, count: int) -> BoolArray:
        """Which of all `count` candidates come after all others here, as a seat is lost."""
        spread = np.zeros(count, dtype=np.bool_)
        spread[self.index] = dead_seat(self.gates[-1])
        return spread

    def doubtful(self, count: int) -> BoolArray:
        """Which of all `count` candidates are as likely as not ruled out here by a condition."""
        spread = np.zeros(count, dtype=np.bool_)
        spread[self.index] = as_likely_out(chance_to_stand(self.gates))
        return spread

    def high(self, count: int) -> FloatArray:
        """How far from the ear the axis of each of all `count` candidates is here, up or down [deg]."""
        spread = np.full(count, np.inf)
        spread[self.index] = from_the_ear(self.aim)
        return spread

    def judged(self, count: int) -> CodeArray:
        """The verdict on each of all `count` candidates here; `FAIL` for those that can't take this pose."""
        spread = np.full(count, Verdict.FAIL, dtype=np.int8)
        spread[self.index] = self.verdict
        return spread


def options(scene: Scene, keep_failed: bool = False) -> list[Option]:
    """Every place and pose beside the first of the mains, with the criteria of what isn't ruled out (or of all)."""
    return options_of(scene, evaluate(scene, keep_failed), keep_failed)


def options_of(scene: Scene, evaluated: Iterable[tuple[Placed, Centres]], keep_failed: bool = False) -> list[Option]:
    """Places and poses as they were heard, beside the first of the mains."""
    parts = [_beside(scene, placed, centres, keep_failed) for placed, centres in evaluated]
    criteria: list[tuple[CriterionValues, ...]] = []
    for batch in together([len(centres.index) for _, centres, _ in parts]):
        criteria += _criteria(scene, [parts[number][:2] for number in batch])
    return [
        Option(
            **{entry.name: getattr(placed, entry.name) for entry in fields(Placed)},
            trim=trim,
            criteria=values,
            scores=score(values, scene.weights),
        )
        for (placed, _, trim), values in zip(parts, criteria, strict=True)
    ]


def _beside(scene: Scene, placed: Placed, centres: Centres, keep_failed: bool) -> tuple[Placed, Centres, FloatArray]:
    """A place and pose with the gate that the mains change, those whom that leaves, and the trims of all."""
    found = trims(placed.levels, scene.mains, scene.seats)
    trim = drive_gates.trim(scene.drive, found).take(0)
    gates = (*placed.gates[:TRIM_AFTER], trim, *placed.gates[TRIM_AFTER:])
    verdict = np.maximum(placed.verdict, trim.verdict)
    passing = np.arange(len(placed.kept)) if keep_failed else np.flatnonzero(verdict[placed.kept] < Verdict.FAIL)
    left = replace(placed, gates=gates, verdict=verdict, kept=placed.kept[passing])
    return left, centres.take(passing), found.likely[0]


def _criteria(scene: Scene, parts: Sequence[tuple[Placed, Centres]]) -> list[tuple[CriterionValues, ...]]:
    """All criteria of the centres in some places, in the order in which they are told."""
    mains = scene.mains
    price, currency, tax = (
        np.concatenate([getattr(one, name) for _, one in parts]) for name in ("price", "currency", "open_tax")
    )
    timbre = timbre_of(joined([centres.sound for _, centres in parts]), mains.sound).take(0)
    balanced = balance(comparable(mains, price, currency), mains.price, mains.surround, tax).take(0)
    told: list[tuple[CriterionValues, ...]] = []
    for (placed, centres), part in zip(parts, slices([len(centres.index) for _, centres in parts]), strict=True):
        coverage, headroom, surroundings, reach = centres.own
        here = placed.standing
        aim = aim_of(here.boxes, here.aim, mains.stands, scene.seats).take(0)
        told.append((timbre.take(part), coverage, headroom, aim, surroundings, balanced.take(part), reach))
    return told


def _known_price(scene: Scene) -> FloatArray:
    """The price of each candidate on the basis of the cap; NaN in another currency than the mains'."""
    own, theirs = scene.boxes.currency, scene.mains.currency[0]
    price = terms.comparable_price(scene.boxes, scene.purse)
    return np.where((own != theirs) & (own >= 0) & (theirs >= 0), np.nan, price)


@dataclass(frozen=True, slots=True)
class Ranking:
    """For each of N candidates: which group it is in and its best option (an index into the options; -1 for none).

    `scores`, `verdicts` and `last`, whether it comes after all others, have one row an option and one column a
    candidate.
    """

    ranked: IndexArray
    pending: IndexArray
    excluded: IndexArray
    best: IndexArray
    best_score: FloatArray
    scores: FloatArray
    verdicts: CodeArray
    last: BoolArray


DEAD_LAST: Final = 1_000.0
"""What is taken off a score so that a place in which a seat is dead comes last [points]."""

TOLD: Final = 1
"""Scores are told to so many digits: those that are equal so far are equal."""

YIELDS: Final = 1.0
"""So much more must what is as likely as not ruled out score to come first: a twin that can be had goes before, kin
that is better and can hardly be had stays what to look for [points]. Our own figure."""


def ranking(found: Sequence[Option], scene: Scene) -> Ranking:
    """Put each candidate in one group: ranked if some place passes it, pending if some place might, else excluded.

    Whoever takes the speech of a regular seat comes after all others, and stands elsewhere if that mends it; what was
    not heard comes last of what doesn't. What is as likely as not ruled out by a condition comes after what scores
    nearly as much. Between equals, as scores are told, the one without conditions comes first, then the cheaper; of two
    places that score the same the one nearer to the ear is taken.
    """
    count = len(scene.boxes)
    scores = np.vstack([option.scored(count) for option in found])
    verdicts = np.vstack([option.judged(count) for option in found])
    passes, waits = verdicts <= Verdict.CONDITIONAL, verdicts == Verdict.UNKNOWN
    is_ranked: BoolArray = np.asarray(passes.any(axis=0))
    is_pending: BoolArray = np.asarray(~is_ranked & waits.any(axis=0))
    # whom no place takes is not put in order
    alive = np.flatnonzero(is_ranked | is_pending)
    here = scores[:, alive]
    usable = np.where(np.where(is_ranked, passes, waits)[:, alive] & ~np.isnan(here), here, -np.inf)
    last = np.vstack([option.last(count) for option in found])
    order = np.round(usable - np.where(last[:, alive], DEAD_LAST, 0.0), TOLD)
    high = np.vstack([option.high(count) for option in found])[:, alive]
    chosen, everyone = np.lexsort((-usable, high, -order), axis=0)[0], np.arange(len(alive))
    best, best_score = np.full(count, -1), np.full(count, np.nan)
    best[alive], best_score[alive] = chosen, here[chosen, everyone]
    exact, verdict = usable[chosen, everyone], verdicts[chosen, alive]
    # what has no price in the mains' currency comes after what has
    price = np.nan_to_num(_known_price(scene), nan=np.inf)[alive]
    doubtful = np.vstack([option.doubtful(count) for option in found])[chosen, alive]
    told = np.round(exact - np.where(doubtful, YIELDS, 0.0), TOLD)
    by_score = alive[np.lexsort((-exact, price, verdict, -told, last[chosen, alive]))]
    return Ranking(
        ranked=by_score[is_ranked[by_score]],
        pending=by_score[is_pending[by_score]],
        excluded=np.flatnonzero(~is_ranked & ~is_pending),
        best=best,
        best_score=best_score,
        scores=scores,
        verdicts=verdicts,
        last=last,
    )
