"""The smallest change of weights that dethrones the first: against a general linear programme, then by hand."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from hypothesis import assume, given
from hypothesis import strategies as st

from triptych.recommender.judge.robustness import smallest_change

NAMES = ("a", "b", "c", "d")
UTILITY = st.floats(0.02, 1.0)


def by_linear_programme(weights: np.ndarray, advantage: np.ndarray) -> float | None:
    """The least weight to move so that the rival is level: a general solver's answer."""
    count = len(weights)
    # new weights = weights - taken + given; least sum of taken
    cost = np.concatenate([np.ones(count), np.zeros(count)])
    level = np.concatenate([-advantage, advantage])[None, :]
    done = scipy.optimize.linprog(
        cost,
        A_ub=level,
        b_ub=[-float(weights @ advantage)],
        A_eq=np.concatenate([np.ones(count), -np.ones(count)])[None, :],
        b_eq=[0.0],
        bounds=[*((0.0, float(weight)) for weight in weights), *((0.0, 1.0) for _ in weights)],
    )
    return None if done.fun is None or done.status else float(done.fun)


@pytest.mark.examples
@given(
    leader=st.lists(UTILITY, min_size=4, max_size=4),
    rival=st.lists(UTILITY, min_size=4, max_size=4),
    raw=st.lists(st.floats(0.05, 1.0), min_size=4, max_size=4),
)
def test_no_linear_programme_finds_a_smaller_change(leader: list[float], rival: list[float], raw: list[float]) -> None:
    weights = np.array(raw) / sum(raw)
    advantage = np.log(np.array(leader)) - np.log(np.array(rival))
    assume(float(weights @ advantage) > 1e-6)
    assume(np.abs(advantage).min() > 1e-3)
    found = smallest_change(NAMES, weights, np.array([leader, rival]))
    expected = by_linear_programme(weights, advantage)
    if found is None:
        assert expected is None
    else:
        assert found.moved == pytest.approx(expected, abs=1e-7)


def test_by_hand() -> None:
    # ln u: leader better by 2 in a, rival by 1 in b, equal weights: lead 0.5 x 2 - 0.5 x 1 = 0.5; each part moved from
    # a to b gains 3, so 1/6 of the weight does it
    utilities = np.exp(np.array([[0.0, -2.0], [-2.0, -1.0]]))
    found = smallest_change(("a", "b"), np.array([0.5, 0.5]), utilities)
    assert found is not None
    assert found.moved == pytest.approx(1 / 6)
    assert found.taken[0][0] == "a"
    assert found.given_to == "b"


def test_one_that_is_ahead_in_everything_cannot_be_dethroned() -> None:
    assert smallest_change(("a", "b"), np.array([0.5, 0.5]), np.array([[0.9, 0.9], [0.8, 0.8]])) is None


def test_the_nearest_rival_is_named() -> None:
    utilities = np.array([[0.9, 0.2], [0.3, 0.9], [0.89, 0.21]])
    found = smallest_change(("a", "b"), np.array([0.9, 0.1]), utilities)
    assert found is not None
    assert found.rival == 2
