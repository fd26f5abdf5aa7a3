"""The ranking as CSV, one loudspeaker a row."""

from __future__ import annotations

from triptych.recommender.advise.advice import Advice, Standing
from triptych.recommender.advise.compare import Comparison
from triptych.recommender.cli.as_json import rounded

HEAD = (
    *("rank", "speaker", "place", "pose", "verdict"),
    *("score", "score_low", "score_high", "confidence"),
    *("price", "currency", "available"),
)


def ranking(answer: Advice, top: int | None) -> list[list[str]]:
    """The ranking as rows of text, the heading first."""
    entries = answer.ranked if top is None else answer.ranked[:top]
    criteria = [criterion.criterion for criterion in entries[0].criteria] if entries else []
    quantities = list(entries[0].quantities) if entries else []
    return [[*HEAD, *criteria, *quantities], *([_cell(value) for value in _row(entry)] for entry in entries)]


def comparison(answer: Comparison) -> list[list[str]]:
    """The differences as rows of text: one a criterion, then the score of each."""
    speakers = [entry.speaker for entry in answer.standings]
    rows = [
        [difference.criterion, difference.unit, *(_cell(rounded(value)) for value in difference.values)]
        for difference in answer.differences
    ]
    scores = [_cell(rounded(entry.score, 1)) for entry in answer.standings]
    return [["criterion", "unit", *speakers], *rows, ["score", "", *scores]]


def _row(entry: Standing) -> list[object]:
    own = [entry.rank, entry.speaker, entry.place, entry.pose, entry.verdict]
    figures = [rounded(value, 2) for value in (entry.score, entry.score_low, entry.score_high, entry.confidence)]
    stock = [rounded(entry.price, 2), entry.currency, entry.available]
    measured = [rounded(criterion.value) for criterion in entry.criteria]
    return [*own, *figures, *stock, *measured, *(rounded(value) for value in entry.quantities.values())]


def _cell(value: object) -> str:
    return "" if value is None else str(value)
