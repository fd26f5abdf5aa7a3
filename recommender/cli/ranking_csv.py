"""The ranking as CSV, one loudspeaker a row, and the differences of a comparison."""

from __future__ import annotations

from collections.abc import Iterator

from triptych.catalog.ways_told import cell, rounded
from triptych.recommender.advise.advice import Advice, Standing
from triptych.recommender.advise.compare import Comparison

RANKING_HEAD = (
    *("rank", "speaker", "place", "pose", "verdict"),
    *("score", "score_low", "score_high", "confidence"),
    *("price", "currency", "available"),
)


def ranking(answer: Advice) -> Iterator[list[str]]:
    """The ranking as rows of text, the heading first."""
    leader = answer.ranked[0] if answer.ranked else None
    criteria = [criterion.criterion for criterion in leader.criteria] if leader else []
    yield [*RANKING_HEAD, *criteria, *(leader.quantities if leader else ())]
    for entry in answer.ranked:
        yield [cell(value) for value in _row(entry)]


def comparison(answer: Comparison) -> Iterator[list[str]]:
    """The differences as rows of text: one a criterion, then the score of each."""
    yield ["criterion", "unit", *(entry.speaker for entry in answer.standings)]
    for difference in answer.differences:
        yield [difference.criterion, difference.unit, *(cell(rounded(value, 3)) for value in difference.values)]
    yield ["score", "", *(cell(rounded(entry.score, 1)) for entry in answer.standings)]


def _row(entry: Standing) -> list[object]:
    own = [entry.rank, entry.speaker, entry.place, entry.pose, entry.verdict]
    scores = (entry.score, entry.score_low, entry.score_high, entry.confidence, entry.price)
    figures = (*(criterion.value for criterion in entry.criteria), *entry.quantities.values())
    return [
        *own, *(rounded(value, 2) for value in scores), entry.currency, entry.available,
        *(rounded(value, 3) for value in figures),
    ]  # fmt: skip
