"""The planner's own simplex against scipy's HiGHS, on small choices with rows that may be missed at a price."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triptych.recommender.money.planner.problem import FloatArray, IntArray
from triptych.recommender.money.planner.simplex import cheapest

Programme = tuple[FloatArray, FloatArray, FloatArray, IntArray]


@st.composite
def programmes(draw: st.DrawFn) -> Programme:
    """One part of each block, rows that are kept, missed at a price or have too much; often with many ties."""
    generator = np.random.default_rng(draw(st.integers(0, 2**32)))
    many = generator.integers(1, 15, draw(st.integers(1, 5)))
    blocks, rows, items = len(many), draw(st.integers(1, 8)), int(many.sum())
    if draw(st.booleans()):
        use, worth = generator.integers(-3, 4, (rows, items)) / 4, generator.integers(0, 4, items) / 4
        need = generator.integers(-4, 4, rows) / 4
    else:
        use, worth = generator.uniform(-1, 1, (rows, items)), generator.uniform(0, 1, items)
        need = generator.uniform(-blocks, blocks, rows) / 3
    price = np.where(generator.random(rows) < 0.5, 1e4, generator.uniform(0, 3, rows))
    own = np.repeat(np.arange(blocks), many) == np.arange(blocks)[:, None]
    matrix = np.block([[use, np.eye(rows), -np.eye(rows)], [own, np.zeros((blocks, 2 * rows))]])
    first = np.cumsum([0, *many[:-1]])
    slack = items + np.arange(rows) + rows * (use[:, first].sum(axis=1) >= need)
    cost = np.concatenate([-worth, price, np.zeros(rows)])
    return cost, matrix, np.concatenate([need, np.ones(blocks)]), np.concatenate([slack, first])


@pytest.mark.examples
@given(programme=programmes())
@settings(deadline=None)
def test_it_costs_what_highs_says_and_its_prices_prove_it(programme: Programme) -> None:
    from scipy.optimize import linprog

    cost, rows, need, corner = programme
    found = cheapest(cost, rows, need, corner)
    assert found is not None
    assert found.cost == pytest.approx(linprog(cost, A_eq=rows, b_eq=need, method="highs").fun, rel=1e-7, abs=1e-7)
    assert found.part.min() >= -1e-9
    assert rows @ found.part == pytest.approx(need, abs=1e-8)
    # no column is cheaper than what it adds to the rows is worth, so none could make it cheaper
    assert (cost - found.prices @ rows).min() >= -1e-8 * np.abs(cost).max()
    assert found.prices @ need == pytest.approx(found.cost, rel=1e-7, abs=1e-7)


def test_a_corner_that_comes_again_and_again_is_left_in_the_end() -> None:
    # Beale's example, on which the rule of the steepest column goes round for ever
    cost = np.array([-0.75, 150.0, -0.02, 6.0, 0.0, 0.0, 0.0])
    rows = np.array([[0.25, -60, -0.04, 9, 1, 0, 0], [0.5, -90, -0.02, 3, 0, 1, 0], [0, 0, 1, 0, 0, 0, 1.0]])
    found = cheapest(cost, rows, np.array([0.0, 0.0, 1.0]), np.array([4, 5, 6]))
    assert found is not None
    assert found.cost == pytest.approx(-0.05)


def test_what_has_no_end_and_what_is_no_corner_has_no_answer() -> None:
    endless = cheapest(np.array([-1.0, 0.0]), np.array([[0.0, 1.0]]), np.ones(1), np.array([1]))
    assert endless is None
    assert cheapest(np.zeros(2), np.zeros((1, 2)), np.ones(1), np.array([0])) is None
