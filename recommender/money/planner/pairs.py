"""Pairs of mains and centre bounded in runs of rows, so that the whole matrix is never held.

With multipliers l, a pair's bound is what the pair is worth, plus its priced use, plus the most the other roles can
add beside its mains. The pairs with the highest bounds are kept; of the rest only the highest bound is, and no system
with one of them is worth more than that. What a pair is worth is asked for only where the most that its centre can be
worth beside mains of that kin could bring it among the best.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from time import monotonic

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray, PlanProblem

# A run of this many pairs stays in the processor's cache.
_RUN = 200_000
# So many pairs are asked for at once rather than in two parts, and so many times as many as could matter.
_LITTLE = 20_000
_WASTE = 2


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs that were kept with what they are worth together, and the highest bound of those that were not."""

    mains: IntArray
    centre: IntArray
    together: FloatArray
    bound: FloatArray
    dropped: float


@dataclass(slots=True)
class Promising:
    """The pairs with the highest bounds so far, at most `keep` in the end, none that is not above `floor`."""

    floor: float
    keep: int
    parts: list[tuple[FloatArray, IntArray, FloatArray]]
    dropped: float
    held: int = 0

    def add(self, bound: FloatArray, place: IntArray, together: FloatArray) -> None:
        """Take some more pairs."""
        self.parts.append((bound, place, together))
        self.held += len(bound)
        if self.held > 2 * self.keep:
            self._cut()

    def _cut(self) -> None:
        bound, place, together = (np.concatenate(part) for part in zip(*self.parts, strict=True))
        if len(bound) > self.keep:
            top = np.argpartition(-bound, self.keep - 1)[: self.keep]
            bound, place, together = bound[top], place[top], together[top]
            self.floor = max(self.floor, float(bound.min()))
            self.dropped = max(self.dropped, self.floor)
        self.parts, self.held = [(bound, place, together)], len(bound)

    def pairs(self, centres: int) -> Pairs:
        """What was kept."""
        self._cut()
        ((bound, place, together),) = self.parts
        mains, centre = np.divmod(place, centres)
        return Pairs(mains, centre, together, bound, self.dropped)


def best_pairs(
    problem: PlanProblem,
    mains: IntArray,
    mains_add: FloatArray,
    centre_add: FloatArray,
    floor: float,
    keep: int,
    deadline: float = inf,
) -> Pairs:
    """The pairs with the highest bounds, at most `keep`, none that is not above `floor`. [grains].

    Where the time is up, what was not looked at is dropped with the most that any of it could reach.

    Parameters
    ----------
    problem : PlanProblem
        Whose `match` is asked.
    mains : array of int
        Which mains to look at.
    mains_add : array of float, (all mains,)
        What is added to the bound for the mains: their worth, priced use, and what the others can add beside them.
    centre_add : array of float, (centres,)
        The same for the centre.
    floor : float
        What a bound must be above.
    keep : int
        How many pairs to keep at most.
    """
    nothing = np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0)
    found = Promising(max(floor, -np.finfo(np.float64).max), keep, [nothing], floor if np.isfinite(floor) else -np.inf)
    for run, some in runs(problem, mains, mains_add, centre_add, found):
        if monotonic() > deadline:
            found.dropped = max(found.dropped, _reach(problem, mains, mains_add, centre_add))
            break
        together = problem.grains(problem.match_rows(run, some))
        bounds = together + centre_add[some]
        bounds += mains_add[run][:, None]
        row, column = np.nonzero(bounds > found.floor)
        place = run[row] * len(problem.centre) + some[column]
        found.add(bounds[row, column], place, together[row, column])
    return found.pairs(len(problem.centre))


def _reach(problem: PlanProblem, mains: IntArray, mains_add: FloatArray, centre_add: FloatArray) -> float:
    """No pair of some mains has a higher bound."""
    if problem.most is None:
        return inf
    return float(mains_add[mains].max() + (problem.grains(problem.most) + centre_add).max())


def runs(
    problem: PlanProblem, mains: IntArray, mains_add: FloatArray, centre_add: FloatArray, found: Promising
) -> Iterator[tuple[IntArray, IntArray]]:
    """Some mains in runs of about `_RUN` pairs, the most promising first, with the centres that could matter."""
    centres = np.arange(len(problem.centre))
    if problem.most is None:
        step = max(1, _RUN // max(1, len(centres)))
        for first in range(0, len(mains), step):
            yield mains[first : first + step], centres
        return
    waiting: list[tuple[IntArray, IntArray]] = []
    for rows, some in _by_kin(problem, mains, mains_add, centre_add, found):
        if problem.most_of is not None:
            most = problem.grains(problem.most_of(rows, some)) + centre_add[some] + mains_add[rows]
            rows, some = rows[most > found.floor], some[most > found.floor]
        waiting.append((rows, some))
        if sum(len(part) for part, _ in waiting) >= _RUN:
            yield from _in_runs(*_joined(waiting))
            waiting = []
    yield from _in_runs(*_joined(waiting))


def _by_kin(
    problem: PlanProblem, mains: IntArray, mains_add: FloatArray, centre_add: FloatArray, found: Promising
) -> Iterator[tuple[IntArray, IntArray]]:
    """Single pairs that could matter by the most that a centre can be worth beside mains of their kin.

    A mains and a centre each, those of a few mains at a time. Mains of a kin come together, and the kin whose best
    could be the best first: a floor that rises early spares most.
    """
    assert problem.most is not None
    most = problem.grains(problem.most) + centre_add
    kin = np.zeros(len(mains), dtype=np.int64) if problem.kin is None else problem.kin[mains]
    order = np.lexsort((-mains_add[mains], kin))
    groups = np.split(order, np.flatnonzero(np.diff(kin[order])) + 1)
    best = most.max(axis=1, initial=-np.inf)
    tops = [float(mains_add[mains[group[0]]] + best[kin[group[0]]]) for group in groups if len(group)]
    for at in np.argsort(-np.array(tops), kind="stable"):
        group = mains[groups[at]]
        reach = most[kin[groups[at][0]]]
        first = 0
        while first < len(group):
            some = np.flatnonzero(reach + mains_add[group[first]] > found.floor)
            if not len(some):
                break
            run = group[first : first + max(1, _RUN // len(some))]
            row, column = np.nonzero(reach[some] + mains_add[run][:, None] > found.floor)
            yield run[row], some[column]
            first += len(run)


def _joined(parts: list[tuple[IntArray, IntArray]]) -> tuple[IntArray, IntArray]:
    nobody = np.zeros(0, dtype=np.int64)
    mains, centres = (np.concatenate([nobody, *(part[end] for part in parts)]) for end in (0, 1))
    return mains, centres


def _in_runs(mains: IntArray, centres: IntArray) -> Iterator[tuple[IntArray, IntArray]]:
    """Single pairs as some mains with some centres, no mains twice, of which few were not among the pairs."""
    if not len(mains):
        return
    _, first, place = np.unique(mains, return_index=True, return_inverse=True)
    # as they come, as those of a kin have centres in common
    rank = np.argsort(np.argsort(first))[place]
    yield from _halved(mains, centres, rank)


def _halved(mains: IntArray, centres: IntArray, rank: IntArray) -> Iterator[tuple[IntArray, IntArray]]:
    rows, some = np.unique(mains), np.unique(centres)
    if len(rows) == 1 or len(rows) * len(some) <= max(_LITTLE, _WASTE * len(mains)):
        yield rows, some
        return
    low = rank <= (rank.min() + rank.max()) // 2
    for half in (low, ~low):
        yield from _halved(mains[half], centres[half], rank[half])
