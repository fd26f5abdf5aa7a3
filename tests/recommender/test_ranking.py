"""Scores: a published product model, axioms, limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.judge.criteria.definitions import CRITERIA, DEFAULT_WEIGHTS, LEAST_OF_MONEY
from triptych.recommender.judge.criterion import (
    LEAST_UTILITY,
    Criterion,
    CriterionValues,
    at_most_middle,
    criterion_values,
    utility,
)
from triptych.recommender.judge.ranking import score
from triptych.recommender.scene.arrays import FloatArray

UNIT = st.floats(0.0, 1.0)


def best_first(scores: FloatArray) -> list[int]:
    return [int(place) for place in np.argsort(-scores, kind="stable")]


def plain(
    name: str, values: FloatArray, low: FloatArray | None = None, high: FloatArray | None = None
) -> CriterionValues:
    """A criterion whose value is its own utility."""
    criterion = Criterion(name, "1", 1.0, 0.0, 0.0, "", "")
    none_low, none_high = values if low is None else low, values if high is None else high
    return criterion_values(criterion, values, none_low, none_high, 1.0, "stated", "")


def test_weighted_geometric_mean() -> None:
    # own closed form of published_values 12b: utilities .9 .6 .8 .4, weights .4 .3 .2 .1 -> 0.717739
    weights = {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}
    values = zip(weights, (0.9, 0.6, 0.8, 0.4), strict=True)
    found = score([plain(name, np.array([value])) for name, value in values], weights)
    assert found.score[0] == pytest.approx(71.7739, abs=5e-5)


def test_default_weights_sum_to_one() -> None:
    assert sum(DEFAULT_WEIGHTS.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda criterion: criterion.name)
def test_utility_is_one_at_best_and_the_floor_at_worst(criterion: Criterion) -> None:
    ends = utility(criterion, np.array([criterion.best, (criterion.best + criterion.worst) / 2, criterion.worst]))
    assert ends == pytest.approx([1.0, 0.5, criterion.least])


def test_beyond_worst_what_is_heard_falls_on_and_money_does_not() -> None:
    # own closed form: at twice the scale the least times e^-5, which 16 dB of coverage are
    coverage, balance = (next(one for one in CRITERIA if one.name == name) for name in ("coverage", "balance"))
    assert utility(coverage, np.array([16.0]))[0] == pytest.approx(LEAST_UTILITY * np.exp(-5.0))
    assert utility(coverage, np.array([8.0, 9.0, 12.0])).tolist() == sorted(
        utility(coverage, np.array([8.0, 9.0, 12.0])), reverse=True
    )
    assert utility(balance, np.array([2.0, 5.0])).tolist() == [LEAST_OF_MONEY] * 2


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda criterion: criterion.name)
@given(ends=st.tuples(UNIT, UNIT), along=UNIT)
def test_a_likely_value_is_at_most_the_middle_of_what_its_ends_make_of_a_score(
    criterion: Criterion, ends: tuple[float, float], along: float
) -> None:
    # a score is a product of utilities to the power of their weights, so the middle of two is that of these powers
    one, other, value = (
        np.array([criterion.worst + part * (criterion.best - criterion.worst)]) for part in (*ends, along)
    )
    parts = [utility(criterion, each)[0] ** criterion.weight for each in (one, other, value)]
    taken = at_most_middle(criterion, value, one, other)
    expected = min(parts[2], (parts[0] + parts[1]) / 2)
    assert utility(criterion, taken)[0] ** criterion.weight == pytest.approx(expected)


@given(values=st.lists(UNIT, min_size=7, max_size=7), better=UNIT, which=st.integers(0, 6))
def test_a_better_value_never_lowers_a_score(values: list[float], better: float, which: int) -> None:
    def total(given_values: list[float]) -> float:
        criteria = []
        for criterion, share in zip(CRITERIA, given_values, strict=True):
            value = np.array([criterion.worst + share * (criterion.best - criterion.worst)])
            criteria.append(criterion_values(criterion, value, value, value, 1.0, "stated", ""))
        return float(score(criteria, DEFAULT_WEIGHTS).score[0])

    improved = [max(value, better) if place == which else value for place, value in enumerate(values)]
    assert total(improved) >= total(values) - 1e-12


@given(values=st.lists(UNIT, min_size=2, max_size=30))
def test_a_hopeless_candidate_never_reorders_the_rest(values: list[float]) -> None:
    alone = score([plain("a", np.array(values))], {"a": 1.0}).score
    with_it = score([plain("a", np.array([*values, 0.0]))], {"a": 1.0}).score
    assert [i for i in best_first(with_it) if i < len(values)] == best_first(alone)


def test_one_hopeless_criterion_cannot_be_bought_back() -> None:
    hopeless = score([plain("a", np.array([0.0])), plain("b", np.array([1.0]))], {"a": 0.3, "b": 0.7})
    even = score([plain("a", np.array([0.5])), plain("b", np.array([0.5]))], {"a": 0.3, "b": 0.7})
    assert hopeless.score[0] < even.score[0]
