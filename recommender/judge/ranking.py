"""From measures to scores: utilities, the weighted geometric mean, the confidence in it, and the order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.judge.measures import Criterion, Measure
from triptych.recommender.scene.arrays import FloatArray

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


def score(measures: Sequence[Measure], weights: Mapping[str, float]) -> Scores:
    """The weighted geometric mean of the utilities, at the likely values and at both ends of every range."""
    total = sum(weights[measure.criterion.name] for measure in measures)
    logs = np.zeros((3, len(measures[0].value)))
    confidence = np.zeros(len(measures[0].value))
    for measure in measures:
        share = weights[measure.criterion.name] / total
        ends = utility(measure.criterion, np.vstack([measure.low, measure.high]))
        logs[0] += share * np.log(ends.min(axis=0))
        logs[1] += share * np.log(utility(measure.criterion, measure.value))
        logs[2] += share * np.log(ends.max(axis=0))
        confidence += share * measure.stated
    low, likely, high = 100 * np.exp(logs)
    return Scores(likely, low, high, confidence)
