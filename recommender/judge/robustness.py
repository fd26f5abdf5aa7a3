"""How far a first place survives other weights: the smallest change of weights that would dethrone it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triptych.recommender.scene.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Dethroning:
    """The rival that the least moved weight would put first, how much of it, and from which criteria to which."""

    rival: int
    moved: float
    taken: tuple[tuple[str, float], ...]
    given_to: str


def smallest_change(criteria: Sequence[str], weights: FloatArray, utilities: FloatArray) -> Dethroning | None:
    """The smallest share of weight to move so that another candidate comes first; None where no weights would do it.

    Parameters
    ----------
    criteria : sequence of str
        Their names, [C].
    weights : array
        Weights that sum to 1, [C]. [1]
    utilities : array
        Utilities of the candidates, the first of them leading, [K, C]. [1]

    Notes
    -----
    The logarithm of the score is linear in the weights, so a rival is level when the weighted mean of its advantages in
    ln u is zero. Weight is taken where the leader's advantage is largest and given where the rival's is: that is the
    fractional knapsack's greedy order, which is exact.
    """
    logs = np.log(utilities)
    found = [
        change
        for rival in range(1, len(utilities))
        if (change := _change(rival, criteria, weights, logs[0] - logs[rival])) is not None
    ]
    return min(found, key=lambda change: (change.moved, change.rival), default=None)


def _change(rival: int, criteria: Sequence[str], weights: FloatArray, advantage: FloatArray) -> Dethroning | None:
    lead = float(weights @ advantage)
    target = int(np.argmin(advantage))
    if advantage[target] >= 0:
        return None
    taken: list[tuple[str, float]] = []
    for place in np.argsort(-advantage, kind="stable").tolist():
        gain = float(advantage[place] - advantage[target])
        if lead <= 0 or gain <= 0:
            break
        part = min(float(weights[place]), lead / gain)
        if part > 0:
            taken.append((criteria[place], part))
            lead -= part * gain
    return Dethroning(rival, sum(part for _, part in taken), tuple(taken), criteria[target])
