"""Names that a movement brings: what hides in one is refused, whatever it names."""

from __future__ import annotations

import pytest

from tests.catalog.cli.conftest import Run
from tests.catalog.stock_shop import CENTRE

FAR = "2999-12-31"


@pytest.mark.parametrize("hidden", ["\x1b[31m", "\x07", "\t", "\n", "\u202e", "\u200b", "\ufeff", "\ufe0f"])
@pytest.mark.parametrize("option", ["--location", "--finish", "--serial", "--job"])
def test_what_hides_in_a_name_is_refused(run: Run, option: str, hidden: str) -> None:
    named = {"--location": "shop"} | {option: f"a{hidden}b"}
    movement = ("reserve", "--until", FAR) if option == "--job" else ("receive",)
    words = [word for pair in named.items() for word in pair]
    told = run("stock", *movement, CENTRE.name, "--quantity", "1", *words, code=1).stderr
    assert "characters that do not print; take them out" in told
    assert hidden not in told.rstrip()
