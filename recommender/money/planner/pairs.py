"""Every pair of mains and centre bounded once, in runs of rows, so that the whole matrix is never held.

With multipliers l, a pair's bound is what the pair is worth, plus its priced use, plus the most the other roles can
add beside its mains. The pairs with the highest bounds are kept; of the rest only the highest bound is, and no system
with one of them is worth more than that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray, PlanProblem

# A run of this many pairs stays in the processor's cache.
_RUN = 200_000


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs that were kept, and the highest bound of those that were not."""

    mains: IntArray
    centre: IntArray
    value: FloatArray
    bound: FloatArray
    dropped: float


def runs(mains: IntArray, centres: int) -> Iterator[IntArray]:
    """Some mains in runs of about `_RUN` pairs."""
    step = max(1, _RUN // max(1, centres))
    for first in range(0, len(mains), step):
        yield mains[first : first + step]


def best_pairs(
    problem: PlanProblem, mains: IntArray, mains_add: FloatArray, centre_add: FloatArray, floor: float, keep: int
) -> Pairs:
    """The pairs with the highest bounds, at most `keep`, none that is not above `floor`.

    Parameters
    ----------
    problem : PlanProblem
        Whose `match` is asked.
    mains : array of int
        Which mains to look at.
    mains_add : array of float, (all mains,)
        What is added to the bound for the mains: priced use, and what the others can add beside them.
    centre_add : array of float, (centres,)
        The same for the centre.
    floor : float
        What a bound must be above.
    keep : int
        How many pairs to keep at most.
    """
    found: list[tuple[FloatArray, IntArray, FloatArray]] = []
    held, dropped = 0, floor if np.isfinite(floor) else -np.inf
    for run in runs(mains, len(problem.centre)):
        rows = problem.match_rows(run)
        bounds = rows + centre_add
        bounds += mains_add[run][:, None]
        good = np.flatnonzero(bounds > max(floor, -np.finfo(np.float64).max))
        place = run[good // len(problem.centre)] * len(problem.centre) + good % len(problem.centre)
        found.append((bounds.ravel()[good], place, rows.ravel()[good]))
        held += len(good)
        if held > 2 * keep:
            found = [_highest(found, keep)]
            held, floor = keep, max(floor, float(found[0][0].min()))
            dropped = max(dropped, floor)
    bound, place, match = _highest(found, keep)
    if held > keep:
        dropped = max(dropped, float(bound.min()))
    at, centre = np.divmod(place, len(problem.centre))
    return Pairs(at, centre, match + problem.mains.worth[at] + problem.centre.worth[centre], bound, dropped)


def _highest(
    found: list[tuple[FloatArray, IntArray, FloatArray]], keep: int
) -> tuple[FloatArray, IntArray, FloatArray]:
    bound, place, match = (np.concatenate(parts) for parts in zip(*found, strict=True))
    if len(bound) <= keep:
        return bound, place, match
    top = np.argpartition(-bound, keep - 1)[:keep]
    return bound[top], place[top], match[top]
