"""What a ranking is worth when figures are missing: draws of every score, and which answer would settle most.

Everything here is arrays of K leading candidates; it knows no database and no terminal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.ranking import utility
from triptych.recommender.scene.arrays import FloatArray

DRAWS: Final = 2_000
"""How often every score is drawn."""

SEED: Final = 1_959
"""The draws are the same each time, so an answer can be repeated."""

BINS: Final = 20
"""Into how many answers of equal chance an unknown is divided when its worth is computed."""

INTERVAL: Final = (5.0, 95.0)
"""The percentiles between which a drawn score is shown."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One number nobody stated: the criteria it enters, and whether all candidates share it (it is the mains')."""

    name: str
    criteria: tuple[str, ...]
    shared: bool = False


CAUSES: Final = (
    Cause("voicing", ("timbre",)),
    Cause("drivers", ("coverage", "timbre")),
    Cause("mains' drivers", ("timbre",), shared=True),
    Cause("floor", ("timbre",), shared=True),
    Cause("furniture", ("surroundings",), shared=True),
    Cause("sensitivity", ("headroom",)),
    Cause("axis", ("aim",)),
    Cause("mains' axis", ("aim",), shared=True),
    Cause("port", ("surroundings",)),
    Cause("price", ("balance",)),
    Cause("mains' price", ("balance",), shared=True),
    Cause("low limit", ("reach",)),
)
"""Every unknown that enters a criterion. One that enters two moves both the same way."""


@dataclass(frozen=True, slots=True)
class Draws:
    """Scores drawn for K candidates, with the standard normal that each cause had in each draw."""

    scores: FloatArray
    causes: FloatArray
    unknown: FloatArray


def normal_distribution(value: FloatArray) -> FloatArray:
    """The distribution function of the standard normal. Abramowitz & Stegun 26.2.17, to 7.5e-8."""
    size = np.abs(value)
    t = 1 / (1 + 0.2316419 * size)
    series = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail = np.exp(-(size**2) / 2) / np.sqrt(2 * np.pi) * series
    return np.asarray(np.where(value < 0, tail, 1 - tail))


def triangular(chance: FloatArray, low: FloatArray, likely: FloatArray, high: FloatArray) -> FloatArray:
    """The value that a triangular distribution reaches with a chance; the likely value where it has no width."""
    width = high - low
    below = np.sqrt(np.maximum(chance * width * (likely - low), 0))
    above = np.sqrt(np.maximum((1 - chance) * width * (high - likely), 0))
    at_likely = np.divide(likely - low, width, out=np.zeros_like(likely), where=width > 0)
    drawn = np.where(chance < at_likely, low + below, high - above)
    return np.where(width > 0, drawn, likely)


def draw(
    criteria: Sequence[CriterionValues],
    weights: Mapping[str, float],
    unknown: Mapping[str, FloatArray],
    draws: int = DRAWS,
) -> Draws:
    """Draw the scores of K candidates from the ranges of their criteria.

    Parameters
    ----------
    criteria : sequence of CriterionValues
        The criteria, each for K candidates.
    weights : mapping
        Weight of each criterion. [1]
    unknown : mapping of str to array
        For each cause, how much of it is unknown for each candidate: 0 for a stated figure, [K]. [1]
    draws : int
        How often. [1]

    Notes
    -----
    Each criterion follows a triangular distribution over its low, likely and high value. Its chance comes from the
    normals of its causes, weighted so that it stays a standard normal (a Gaussian copula): a cause that enters two
    criteria moves both, and one that is the mains' moves all candidates alike.
    """
    count = len(criteria[0].value)
    shares = np.vstack([np.broadcast_to(unknown.get(cause.name, np.zeros(count)), count) for cause in CAUSES])
    causes = np.zeros((len(CAUSES), draws, count))
    for place, cause in enumerate(CAUSES):
        # what is known everywhere needs no draws
        if shares[place].any():
            causes[place] = _normals(place, draws, 1 if cause.shared else count)
    total = sum(weights[values.criterion.name] for values in criteria)
    logs = np.zeros((draws, count))
    for row, values in enumerate(criteria):
        if not (values.high > values.low).any():
            logs += weights[values.criterion.name] / total * np.log(utility(values.criterion, values.value))
            continue
        mixed = _mixed(values.criterion.name, causes, shares, _normals(len(CAUSES) + row, draws, count))
        value = triangular(normal_distribution(mixed), values.low, values.value, values.high)
        logs += weights[values.criterion.name] / total * np.log(utility(values.criterion, value))
    return Draws(100 * np.exp(logs), causes, shares)


def _normals(stream: int, draws: int, count: int) -> FloatArray:
    """Standard normals; each stream is its own, and the same each time."""
    return np.random.default_rng((SEED, stream)).standard_normal((draws, count))


def _mixed(criterion: str, causes: FloatArray, shares: FloatArray, noise: FloatArray) -> FloatArray:
    """The standard normal of one criterion, from its causes; its own noise where none of them is unknown."""
    own = [place for place, cause in enumerate(CAUSES) if criterion in cause.criteria]
    share = shares[own]
    total = share.sum(axis=0)
    weight = np.sqrt(np.divide(share, total, out=np.zeros_like(share), where=total > 0))
    return np.asarray(np.where(total > 0, np.einsum("ck,cnk->nk", weight, causes[own]), noise))


@dataclass(frozen=True, slots=True)
class DrawnScores:
    """For each of K candidates: a score interval, and the chances that it is truly first and in the first three."""

    low: FloatArray
    high: FloatArray
    first: FloatArray
    top_three: FloatArray


def standing(drawn: Draws, likely: FloatArray) -> DrawnScores:
    """The intervals and chances of K candidates; the interval always holds the likely score."""
    scores = drawn.scores
    low, high = np.percentile(scores, INTERVAL, axis=0)
    order = np.argsort(-scores, axis=1, kind="stable")
    place = np.argsort(order, axis=1, kind="stable")
    return DrawnScores(
        np.minimum(low, likely), np.maximum(high, likely), (place == 0).mean(axis=0), (place < 3).mean(axis=0)
    )


@dataclass(frozen=True, slots=True)
class AnswerWorth:
    """What knowing one cause of one candidate is worth: expected gain of the choice, and how often it changes."""

    cause: str
    candidate: int
    points: float
    changes: float


def worths(drawn: Draws) -> list[AnswerWorth]:
    """What each unknown is worth, dearest first.

    Notes
    -----
    Expected value of partial perfect information: the mean over possible answers of the best candidate's expected
    score given the answer, less the best expected score without it (Raiffa & Schlaifer 1961, from memory). The answers
    are bins of equal chance. An unknown of the mains is counted once.
    """
    found = []
    for place, cause in enumerate(CAUSES):
        rows = np.flatnonzero(drawn.unknown[place] > 0)
        for candidate in rows[:1] if cause.shared else rows:
            points, changes = _worth(drawn.scores, drawn.causes[place, :, candidate])
            found.append(AnswerWorth(cause.name, -1 if cause.shared else int(candidate), points, changes))
    return sorted(found, key=lambda worth: -worth.points)


def _worth(scores: FloatArray, cause: FloatArray) -> tuple[float, float]:
    order = np.argsort(cause, kind="stable")
    size = len(order) // BINS
    given = scores[order[: size * BINS]].reshape(BINS, size, -1).mean(axis=1)
    overall = given.mean(axis=0)
    chosen = int(np.argmax(overall))
    gain = given.max(axis=1) - given[:, chosen]
    return float(gain.mean()), float((gain > 0).mean())
