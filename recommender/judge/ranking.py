"""From criteria to scores: utilities, the weighted geometric mean, the confidence in it, and the order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triptych.recommender.judge.criterion import Criterion, CriterionValues, utility
from triptych.recommender.scene.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Scores:
    """Scores of N boxes from 0 to 100, and the share of weight that rests on figures."""

    score: FloatArray
    confidence: FloatArray


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
        confidence=np.asarray(sum(weights[one.criterion.name] / total * one.relied for one in criteria)),
    )
