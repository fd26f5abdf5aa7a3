"""No step of the page is forgotten: each has a test that drives it in a real Chromium."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.recommender.page.steps import DRIVEN, SENT
from triptych.recommender.page.counter_forms import WHATS
from triptych.recommender.page.counter_quotes import QUOTE_STEPS
from triptych.recommender.page.site import ROUTES

HERE = Path(__file__).parent


@pytest.mark.parametrize("named", sorted({*DRIVEN.values(), *filter(None, SENT.values())}))
def test_each_test_that_is_named_is_there(named: str) -> None:
    module, _, test = named.partition(".")
    assert f"def {test}(" in (HERE / f"{module}.py").read_text(encoding="utf-8")


def test_each_address_and_each_movement_is_named() -> None:
    assert {path for path, how, _ in ROUTES if how == "POST"} == set(SENT)
    day = (HERE / "test_counter_in_browser.py").read_text(encoding="utf-8")
    began = day.index("def test_a_day"), day.index("def test_each_refusal")
    taken = day[began[0] : began[1]]
    for title, _ in WHATS.values():
        assert any(f"{before}{title}" in taken for before in ('"', '"^')), f"nobody presses {title!r}"
    buttons = {"make": "Make the quote", "accept": "Accept and", "sell": "Sell all that is left", "lapse": "End it"}
    assert set(buttons) == set(QUOTE_STEPS)
    for words in buttons.values():
        assert f'"{words}' in taken, f"nobody presses {words!r}"
