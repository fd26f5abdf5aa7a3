"""What the stock's commands refuse: in one line, with nothing written, and whatever hides in a name."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.cli.conftest import Run, open_shop
from tests.catalog.filling import filled, untouched
from tests.catalog.stock_shop import CENTRE, TOWER
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request

FAR = "2999-12-31"


def _receive(engine: sa.Engine) -> None:
    open_shop(engine)
    desk.receive(engine, Request(CENTRE.name, "shop", 2))


@pytest.fixture
def stocked(run: Run, sqlite_path: Path) -> Run:
    """Commands on a catalogue with two centres in the shop."""
    filled(open_engine(as_url(str(sqlite_path))), _receive).dispose()
    return run


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("sell", CENTRE.name, "--quantity", "3"),
            "cannot sell 3 at 'shop': 2 on hand, 0 reserved; nothing was written",
        ),
        (("sell", CENTRE.name, "--quantity", "-1"), "quantity -1"),
        (("sell", CENTRE.name, "--quantity", "0"), "quantity 0"),
        (("receive", CENTRE.name, "--quantity", "9" * 40), "quantity 9999"),
        (("receive", TOWER.name, "--quantity", "3"), "sold in pairs"),
        (("sell", "Oatfell Lindn Centre"), "the nearest: 'Oatfell Linden Centre'"),
        (("reserve", CENTRE.name, "--until", FAR), "needs a job"),
        (("reserve", CENTRE.name, "--job", " ", "--until", FAR), "job is blank"),
        (("reserve", CENTRE.name, "--job", "J", "--until", "2027-02-30"), "--until '2027-02-30': there is no such day"),
        (("reserve", CENTRE.name, "--job", "J", "--until", "2020-01-01"), "that has passed"),
        (("release", CENTRE.name, "--job", "J"), "0 reserved for 'J'"),
        (("regrade", CENTRE.name, "--grade", "new"), "cannot regrade 1 at 'shop': none available"),
        (("sell", CENTRE.name, "--serial", "nothing"), "a serial is in one place: it is not here"),
        (("transfer", CENTRE.name, "--to", "shop"), "is at 'shop' as new already"),
        (("transfer", CENTRE.name, "--to", " "), "blank"),
        (("count", CENTRE.name, "--quantity", "1"), "needs a reason"),
        (("count", CENTRE.name, "--quantity", "-1", "--reason", "x"), "quantity -1"),
        (("write-off", CENTRE.name), "needs a reason"),
        (("split", TOWER.name), "0 on hand"),
        (("receive", CENTRE.name, "--cost", "free"), "--cost 'free' is no number"),
        (("receive", CENTRE.name, "--cost", "310"), "an amount and its currency"),
        (("receive", CENTRE.name, "--order", "7"), "no order has the number 7"),
        (("receive", CENTRE.name, "--serial", "x" * 501), "501 characters"),
        (("receive", CENTRE.name, "--note", "a\0b"), "holds control characters; take them out"),
    ],
)
def test_a_refusal_is_one_line_and_writes_nothing(
    stocked: Run, sqlite_path: Path, words: tuple[str, ...], told: str
) -> None:
    with untouched(sqlite_path):
        result = stocked("stock", *words, "--location", "shop", code=1)
    assert told in result.stderr
    assert result.stderr.count("\n") == 1, result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("hidden", ["\x1b[31m", "\x07", "\t", "\n", "\u202e", "\u200b", "\ufeff", "\ufe0f"])
@pytest.mark.parametrize("option", ["--location", "--finish", "--serial", "--job"])
def test_what_hides_in_a_name_is_refused(run: Run, option: str, hidden: str) -> None:
    named = {"--location": "shop"} | {option: f"a{hidden}b"}
    movement = ("reserve", "--until", FAR) if option == "--job" else ("receive",)
    words = [word for pair in named.items() for word in pair]
    told = run("stock", *movement, CENTRE.name, "--quantity", "1", *words, code=1).stderr
    assert "characters that do not print; take them out" in told
    assert hidden not in told.rstrip()
