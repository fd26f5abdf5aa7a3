"""Which answer to what nobody stated would settle most between the leading candidates of a ranking."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.judge.certainty import CAUSES, Draws, Risk
from triptych.recommender.scene.arrays import FloatArray, IndexArray

BINS: Final = 20
"""Into how many answers of equal chance an unknown is divided when its worth is computed."""


@dataclass(frozen=True, slots=True)
class AnswerWorth:
    """What knowing one cause or condition of one candidate is worth: expected gain, and how often the choice changes.

    `candidate` is -1 for what all share; `row` is that of the risk, -1 for a cause.
    """

    cause: str
    candidate: int
    points: float
    changes: float
    row: int = -1


def worths(drawn: Draws, risks: Sequence[Risk] = ()) -> list[AnswerWorth]:
    """What each unknown is worth, dearest first.

    Notes
    -----
    Expected value of partial perfect information: the mean over possible answers of the best candidate's expected
    worth given the answer, less the best expected worth without it (Raiffa & Schlaifer 1961, from memory). The answers
    are bins of equal chance. An unknown of the mains is counted once, and one of a place once for all that stand there.
    """
    worth, found = drawn.worth, []
    for place, cause in enumerate(CAUSES):
        rows = np.flatnonzero(drawn.unknown[place] > 0)[: 1 if cause.shared else None]
        for candidate, points, changes in _worths(worth, drawn.causes[place], rows):
            found.append(AnswerWorth(cause.name, -1 if cause.shared else candidate, points, changes))
    for row, risk in enumerate(risks):
        for candidate, points, changes in _worths(worth, drawn.gates[row], _asked_once(risk)):
            found.append(AnswerWorth(risk.gate, candidate, points, changes, row))
    return sorted(found, key=lambda worth: -worth.points)


def _asked_once(risk: Risk) -> IndexArray:
    """The candidates that a condition may rule out, of those that share the answer the first."""
    rows = np.flatnonzero(risk.chance > 0)
    _, first = np.unique(np.where(risk.group[rows] < 0, -1.0 - rows, risk.group[rows]), return_index=True)
    return np.asarray(rows[np.sort(first)])


def _worths(scores: FloatArray, chances: FloatArray, candidates: IndexArray) -> Iterator[tuple[int, float, float]]:
    """Of some candidates what knowing the chance of each is worth, and how often it changes the choice."""
    if not len(candidates):
        return
    size = len(scores) // BINS
    # no two draws are equal, so any way of sorting gives the same order
    order = np.argsort(np.ascontiguousarray(chances[:, candidates].T), axis=1)[:, : size * BINS]
    given = np.einsum("rbdk->rbk", scores.take(order.reshape(len(candidates), BINS, size), axis=0)) / size
    chosen = np.argmax(given.mean(axis=1), axis=1)
    gain = given.max(axis=2) - np.take_along_axis(given, chosen[:, None, None], axis=2)[..., 0]
    yield from zip(candidates.tolist(), gain.mean(axis=1).tolist(), (gain > 0).mean(axis=1).tolist(), strict=True)
