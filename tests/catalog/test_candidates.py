"""Columns for the recommender: what is coded, named and packed is what was stored."""

from __future__ import annotations

import numpy as np
from sqlalchemy.orm import Session

from tests.catalog.columns_told import columns_told
from tests.catalog.test_queries import filled as filled
from triptych.catalog.database.candidates import candidate_columns
from triptych.catalog.database.gathering import Names, Words


def test_a_name_is_put_together_with_and_without_a_series() -> None:
    makers, series = Words(("Oatfell", "Wren"), np.array([0, 1, 0])), Words(("Linden", None), np.array([0, 1, 1]))
    names = Names(makers, series, ["One", "Two", "Three"])
    assert list(names) == ["Oatfell Linden One", "Wren Two", "Oatfell Three"]
    assert names[1:] == ["Wren Two", "Oatfell Three"]


def test_words_give_each_row_its_own_and_know_none() -> None:
    words = Words(("a", None), np.array([1, 0, 0]))
    assert (list(words), words[:2], len(words)) == ([None, "a", "a"], [None, "a"], 3)
    np.testing.assert_array_equal(words.each(lambda word: word is None, np.bool_), [True, False, False])


def test_what_is_not_wanted_is_not_read_and_the_rest_is_as_it_was(filled: Session) -> None:
    unwanted = {"high_limit", "tweeter_material"}
    some = columns_told(filled, without=unwanted)
    assert some == {name: column for name, column in columns_told(filled).items() if name not in unwanted}


def test_a_figure_that_nobody_stated_is_no_number_and_an_amount_stays_exact(filled: Session) -> None:
    columns = candidate_columns(filled)
    known = columns_told(filled)
    for name in ("width", "crossover_3", "woofer_count"):
        np.testing.assert_array_equal(np.isnan(columns[name]), [value is None for value in known[name]])
    assert all(value is None or type(value) is int for value in columns["price_minor"])
