"""A pair's score is the same however it is asked for, and is asked for once."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from triptych.recommender.advise.planning import scored_once
from triptych.recommender.advise.planning.scored_once import ScoredOnce
from triptych.recommender.scene.arrays import FloatArray, IndexArray

WHOLE = np.random.default_rng(1).uniform(0, 100, (30, 40))
WHOLE[WHOLE < 5] = -np.inf


class Pairs:
    """Scores that are known beforehand, and how often each was asked for."""

    def __init__(self) -> None:
        self.mains, self.models = np.arange(30), np.arange(40)
        self.asked = np.zeros(WHOLE.shape, dtype=int)

    def scores(self, rows: IndexArray, some: IndexArray) -> FloatArray:
        self.asked[np.ix_(rows, some)] += 1
        return np.asarray(WHOLE[np.ix_(rows, some)])


def ask_for(once: ScoredOnce, seed: int) -> None:
    draw = np.random.default_rng(seed)
    rows = draw.permutation(30)[: draw.integers(1, 9)]
    some = np.sort(draw.permutation(40)[: draw.integers(1, 12)])
    np.testing.assert_array_equal(once.scores(rows, some), WHOLE[np.ix_(rows, some)])


@pytest.mark.parametrize("most", [10_000_000, 600])
def test_scores_are_those_of_the_pairs_and_what_is_kept_is_not_asked_again(
    monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    monkeypatch.setattr(scored_once, "HELD_AT_MOST", most)
    pairs: Any = Pairs()
    once = ScoredOnce(pairs)
    for seed in range(60):
        ask_for(once, seed)
    before = pairs.asked.sum()
    for seed in range(60):
        ask_for(once, seed)
    again = pairs.asked.sum() - before
    assert (again == 0) == (most > WHOLE.size)
    assert again < before
