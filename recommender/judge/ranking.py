"""From criteria to scores: utilities, the weighted geometric mean, the confidence in it, and the order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.judge.criterion import Criterion, CriterionValues
from triptych.recommender.scene.arrays import FloatArray

LEAST_UTILITY: Final = 0.02
"""The lowest utility up to `worst`, so that one hopeless criterion spoils a score and doesn't erase it."""

BEYOND_WORST: Final = 5.0
"""Beyond `worst` a utility falls by a factor of e for each fifth of the scale: what is worse than hopeless isn't bought
back by being good elsewhere. Our own figure."""

NO_UTILITY: Final = 1e-4
"""Where that ends, a little over a scale beyond `worst`."""


@dataclass(frozen=True, slots=True)
class Scores:
    """Scores of N boxes from 0 to 100, and the share of weight that rests on stated figures."""

    score: FloatArray
    confidence: FloatArray


def utility(criterion: Criterion, value: FloatArray) -> FloatArray:
    """The utility of a value: 1 at `best`, linear to the least at `worst`, and falling on beyond where it is heard."""
    linear = (value - criterion.worst) / (criterion.best - criterion.worst)
    within = np.clip(linear, LEAST_UTILITY, 1.0)
    if not criterion.falls_on:
        return within
    return np.maximum(within * np.exp(BEYOND_WORST * np.minimum(linear, 0.0)), NO_UTILITY)


def log_utility(
    values: Iterable[tuple[Criterion, FloatArray]], weights: Mapping[str, float], start: FloatArray | float = 0.0
) -> FloatArray:
    """The weighted sum of the logarithms of the utilities of some criteria, added to `start` in their order."""
    logs = (weights[criterion.name] * np.log(utility(criterion, value)) for criterion, value in values)
    return np.asarray(sum(logs, start))


def score_of(logs: FloatArray, total: float) -> FloatArray:
    """The weighted geometric mean from 0 to 100, from logarithms whose weights add up to `total`."""
    return np.asarray(100 * np.exp(logs / total))


def score(criteria: Sequence[CriterionValues], weights: Mapping[str, float]) -> Scores:
    """The weighted geometric mean of the utilities at the likely values.

    What depends on the mains is added last, so that the sum is to the last digit that of all pairs at once.
    """
    total = sum(weights[one.criterion.name] for one in criteria)
    added = sorted(criteria, key=lambda one: one.criterion.beside_mains)
    return Scores(
        score=score_of(log_utility([(one.criterion, one.value) for one in added], weights), total),
        confidence=np.asarray(sum(weights[one.criterion.name] / total * one.stated for one in criteria)),
    )
