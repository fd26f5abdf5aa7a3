"""From criteria to scores: utilities, the weighted geometric mean, the confidence in it, and the order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.judge.criterion import Criterion, CriterionValues
from triptych.recommender.scene.arrays import FloatArray, IndexArray

FLOOR: Final = 0.02
"""The lowest utility, so that one hopeless criterion spoils a score and doesn't erase it."""


@dataclass(frozen=True, slots=True)
class Scores:
    """Scores of N boxes from 0 to 100, their range, and the share of weight that rests on stated figures."""

    score: FloatArray
    low: FloatArray
    high: FloatArray
    confidence: FloatArray


def utility(criterion: Criterion, value: FloatArray) -> FloatArray:
    """The utility of a value: 1 at `best`, 0 at `worst`, linear between them, never under the floor."""
    linear = (value - criterion.worst) / (criterion.best - criterion.worst)
    return np.clip(linear, FLOOR, 1.0)


def score(criteria: Sequence[CriterionValues], weights: Mapping[str, float]) -> Scores:
    """The weighted geometric mean of the utilities, at the likely values and at both ends of every range."""
    total = sum(weights[values.criterion.name] for values in criteria)
    logs = np.zeros((3, len(criteria[0].value)))
    confidence = np.zeros(len(criteria[0].value))
    for values in criteria:
        share = weights[values.criterion.name] / total
        ends = utility(values.criterion, np.vstack([values.low, values.high]))
        logs[0] += share * np.log(ends.min(axis=0))
        logs[1] += share * np.log(utility(values.criterion, values.value))
        logs[2] += share * np.log(ends.max(axis=0))
        confidence += share * values.stated
    low, likely, high = 100 * np.exp(logs)
    return Scores(likely, low, high, confidence)


def order(scores: FloatArray) -> IndexArray:
    """Indices from the highest score down; equal scores keep their order, and NaN comes last."""
    return np.argsort(-np.where(np.isnan(scores), -np.inf, scores), kind="stable")
