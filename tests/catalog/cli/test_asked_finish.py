"""At a prompt a finish that was forgotten is asked for; what may be promised and used ones' prices at the terminal."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.catalog.cli.conftest import application
from tests.catalog.stock_shop import CENTRE, TOWER

pytestmark = pytest.mark.whole

Run = Callable[..., Any]


@pytest.fixture
def asked(run: Run, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A shop with two finishes, and somebody at its terminal who answers what is given."""
    monkeypatch.setattr("triptych.catalog.cli.makers.somebody_there", lambda: True)
    for finish in ("oak", "walnut"):
        run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "shop", "--finish", finish)

    def answer(*words: str, given: str, code: int = 0) -> Any:
        result = CliRunner().invoke(application(), list(words), input=given)
        assert result.exit_code == code, result.output
        return result

    return answer


def test_a_forgotten_finish_is_asked_for_and_taken(asked: Run) -> None:
    said = asked("stock", "sell", CENTRE.name, "--location", "shop", given="pine\n2\n").stderr
    assert "there are 2 in 'oak' at 'shop' and 2 in 'walnut' at 'shop': say which with --finish" in said
    assert "Which is meant: 1 = 2 in 'oak', 2 = 2 in 'walnut'; empty = none" in said
    assert "'pine' is none of them" in said
    assert "sold 1: Oatfell Linden Centre, walnut at shop" in said
    assert (
        "sold 1: Oatfell Linden Centre, oak" in asked("stock", "sell", CENTRE.name, "-l", "shop", given="OAK\n").stderr
    )


@pytest.mark.parametrize("given", ["\n", ""])
def test_who_means_none_of_them_writes_nothing(asked: Run, run: Run, given: str) -> None:
    result = CliRunner().invoke(application(), ["stock", "sell", CENTRE.name, "-l", "shop"], input=given)
    assert "0 on hand" in str(result.exception) or "0 on hand" in result.output
    assert [one["on_hand"] for one in json.loads(run("stock", "list", "--format", "json").stdout)] == [2, 2]


def test_each_line_of_a_quote_and_a_part_of_it_is_asked_about(asked: Run, run: Run) -> None:
    run("stock", "receive", TOWER.name, "--quantity", "2", "--location", "shop", "--finish", "black")
    items = (f"2 x {CENTRE.name}", TOWER.name, f"{CENTRE.name}, walnut")
    made = asked("quote", "make", *items, "--job", "Barn", "--format", "json", given="oak\nblack\n")
    lines = json.loads(made.stdout)["lines"]
    assert [(one["speaker"], one["finish"]) for one in lines] == [
        (CENTRE.name, "oak"), (TOWER.name, "black"), (CENTRE.name, "walnut"),
    ]  # fmt: skip
    run("quote", "accept", "1")
    said = asked("quote", "sell", "1", CENTRE.name, given="1\n").stderr
    assert "sold 1: Oatfell Linden Centre, oak" in said


def test_what_is_available_is_said_with_prices_of_other_grades(run: Run) -> None:
    run("stock", "receive", CENTRE.name, "--location", "shop", "--grade", "demo")
    run("stock", "price", CENTRE.name, "--grade", "demo", "--price", "400 EUR")
    said = run("stock", "available", CENTRE.name).stdout.splitlines()
    assert said == [
        "Oatfell Linden Centre: 0 available now",
        "1: no new one in stock, and no supplier has stated when",
        "1 demo free at 'shop' for 400.00 EUR each",
    ]
    assert run("stock", "available", CENTRE.name, "--grade", "demo").stdout == (
        "Oatfell Linden Centre, demo: 1 available now\n"
    )
    data = json.loads(run("stock", "available", CENTRE.name, "--format", "json").stdout)
    assert (data["available"], data["when"]) == (0, None)
    assert data["others"] == [
        {
            "grade": "demo", "units": 1, "finish": None, "pack": 1, "location": "shop", "free_on": None, "price": 400.0,
            "currency": "EUR", "per": "each",
        }
    ]  # fmt: skip
    head, row = run("stock", "available", CENTRE.name, "--format", "csv").stdout.splitlines()
    assert head == "speaker,available,when,why"
    assert "1 demo free at 'shop'" in row


def test_prices_of_grades_at_the_terminal(run: Run) -> None:
    assert "no grade has a price" in run("stock", "price").stderr
    priced = ("stock", "price", TOWER.name, "--grade", "b_stock", "--price", "900 EUR")
    assert "say --per pair or each" in run(*priced, code=1).stderr
    assert "Tower, b stock: 900.00 EUR a pair" in run(*priced, "--per", "pair").stderr
    assert "900.00" in run("stock", "price").stdout
    for words in ((TOWER.name,), (TOWER.name, "--grade", "demo"), ("--grade", "demo"), (TOWER.name, "--none")):
        run("stock", "price", *words, code=1)
    assert "no price" in run("stock", "price", TOWER.name, "--grade", "b_stock", "--none").stderr
