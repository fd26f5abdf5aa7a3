"""Two or three centres side by side, each where it does best, with the differences that decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.errors import BadInput
from triptych.catalog.ways_told import Told
from triptych.recommender.advise.account import Account
from triptych.recommender.advise.advice import Figure, Points, Standing
from triptych.recommender.advise.match import Question, as_third_main, ask
from triptych.recommender.advise.voices import Fresh
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.scene.arrays import IndexArray

DECIDES = 0.25
"""A criterion that makes up at least this share of a difference between two scores decides it."""

MOST_COMPARED = 3
"""So many candidates stand side by side in a terminal, and can be looked at together."""


@dataclass(frozen=True, slots=True)
class CriterionDifference:
    """One criterion across the candidates: how many points of the score each gains or loses by it against the first."""

    criterion: str
    unit: str
    values: tuple[Figure, ...]
    points: tuple[Points, ...]
    decides: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Candidates, the best first, and their differences, the one that decides most first."""

    mains: str
    room: str
    standings: Annotated[tuple[Standing, ...], Told(key="speakers")]
    differences: tuple[CriterionDifference, ...]
    cautions: tuple[str, ...] = ()


def compare(
    session: Session, question: Question, centres: Sequence[str], place: str | None = None
) -> tuple[Comparison, Fresh]:
    """Compare centres, each at its best place or all at one.

    Raises
    ------
    BadInput
        Fewer than two different centres are named, or more than three.
    NotFound
        The catalogue or the room has nothing of a name; the nearest are told.
    """
    if len(centres) > MOST_COMPARED:
        raise BadInput(f"name two or three different centres to compare, not {len(centres)}")
    account = ask(session, question, centres)
    if len(set(account.rows.tolist())) < max(2, len(centres)):
        raise BadInput("name two or three different centres to compare")
    candidates = list(range(len(centres)))
    standings = account.stood(candidates, _best_options(account, account.options_at(place)).tolist())
    ordered = sorted(standings, key=Standing.merit)
    told = Comparison(account.mains, account.room, tuple(ordered), _differences(ordered), as_third_main(account))
    return told, account.book.fresh


def _best_options(account: Account, among: list[int]) -> IndexArray:
    """The option in which each candidate does best: passing, then waiting; not last of all; then by score."""
    result = account.result
    scores, verdicts = (result.scores - 100.0 * result.last)[among], result.verdicts[among]
    rank = np.where(verdicts == Verdict.FAIL, 0.0, np.where(verdicts == Verdict.UNKNOWN, 200.0, 400.0))
    options = np.array(among, dtype=np.intp)
    return np.asarray(options[np.argmax(np.where(np.isnan(scores), -101.0, rank + scores), axis=0)])


def _differences(standings: Sequence[Standing]) -> tuple[CriterionDifference, ...]:
    """Each criterion's part of the difference in score, in points, the largest first."""
    leader = standings[0]
    rows = []
    for place, criterion in enumerate(leader.criteria):
        values = tuple(standing.criteria[place].value for standing in standings)
        points = tuple(_points(leader, standing, place) for standing in standings)
        decides = any(_decides(leader, standing, place) for standing in standings[1:])
        rows.append(CriterionDifference(criterion.criterion, criterion.unit, values, points, decides))
    return tuple(sorted(rows, key=lambda row: -max(abs(points) for points in row.points)))


def _log_part(leader: Standing, other: Standing, place: int) -> float:
    weight = leader.criteria[place].weight / sum(criterion.weight for criterion in leader.criteria)
    return float(weight * np.log(other.criteria[place].utility / leader.criteria[place].utility))


def _points(leader: Standing, other: Standing, place: int) -> float:
    """The points of score that one criterion makes: the logarithmic mean of both scores times its logarithmic part."""
    if leader is other:
        return 0.0
    ratio = np.log(other.score / leader.score)
    mean = leader.score if abs(ratio) < 1e-12 else (other.score - leader.score) / ratio
    return float(mean * _log_part(leader, other, place))


def _decides(leader: Standing, other: Standing, place: int) -> bool:
    whole = sum(abs(_log_part(leader, other, row)) for row in range(len(leader.criteria)))
    return whole > 0 and abs(_log_part(leader, other, place)) >= DECIDES * whole
