"""What the stock's commands say: where it is, for whom, until when, and at any width."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.catalog.filling import untouched
from tests.catalog.stock_shop import CENTRE, LAST, TOWER
from tests.quick_ones import quick_of

Run = Callable[..., Any]
FAR = "2999-12-31"


@pytest.mark.parametrize(
    "words",
    [
        ("receive", CENTRE.name, "--location", "shpo"),
        ("return", CENTRE.name, "--location", "shpo", "--before"),
        ("count", CENTRE.name, "--quantity", "1", "--location", "shpo", "--reason", "June count"),
        ("transfer", CENTRE.name, "--location", "shop", "--to", "shpo"),
        ("transfer", CENTRE.name, "--location", "shop", "--to", "shpo", "--send"),
    ],
)
def test_a_mistyped_location_is_refused_and_can_be_made_on_purpose(
    run: Run, sqlite_path: Path, words: tuple[str, ...]
) -> None:
    run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "shop")
    with untouched(sqlite_path):
        said = run("stock", *words, code=1).stderr
    assert "no location is named 'shpo'; did you mean 'shop'?" in said
    assert "triptych stock location shpo" in said
    assert said.count("\n") == 1
    run("stock", "location", "shpo")
    run("stock", *words)


def test_locations_that_numbers_tell_apart_are_made_as_they_come(run: Run) -> None:
    for name in ("shop 1", "shop 2", "A1", "A2", "store", "van"):
        said = run("stock", "receive", CENTRE.name, "--location", name).stderr
        assert f"new location: {name}" in said
        assert "did you mean" not in said
    assert "no location is named 'nowhere'" in run("stock", "list", "--location", "nowhere").stderr


def test_a_count_of_none_where_nothing_is_known_is_refused(run: Run) -> None:
    words = ("stock", "count", CENTRE.name, "--quantity", "0", "--reason", "June count", "--location")
    assert "no location is named 'loft'" in run(*words, "loft", code=1).stderr
    assert json.loads(run("stock", "location", "--format", "json").stdout) == []
    run("stock", "location", "loft")
    assert "now 0 on hand" in run(*words, "loft").stderr


def _a_quote(run: Run) -> None:
    run("stock", "receive", TOWER.name, "--quantity", "4", "--location", "shop")
    run("stock", "receive", LAST.name, "--quantity", "2", "--location", "store")
    run("quote", "make", TOWER.name, f"1 x {LAST.name}", "--job", "Mill House")


WARNED = "warning: the line ends, and {} mains of Linden are sold and {} in stock: 1 to match them is left"


@pytest.mark.whole
def test_a_quote_says_what_it_reserves_sells_and_releases(run: Run) -> None:
    _a_quote(run)
    assert "no location is named 'stroe'" in run("quote", "accept", "1", "--location", "stroe", code=1).stderr
    said = run("quote", "accept", "1", "--until", FAR).stderr.splitlines()
    held = "for Mill House until the end of 31 Dec 2999"
    assert said == [
        WARNED.format(0, 4),
        f"reserved 2: Oatfell Linden Tower at shop {held}; now 4 on hand, 2 reserved, 2 available (line 3)",
        f"reserved 1: Oatfell Linden Old Centre at store {held}; now 2 on hand, 1 reserved, 1 available (line 4)",
        "quote 1 for Mill House: accepted",
    ]
    said = run("quote", "sell", "1").stderr.splitlines()
    assert said[0] == WARNED.format(2, 2)
    assert said[1].startswith("sold 2: Oatfell Linden Tower at shop for Mill House; now 2 on hand")
    assert said[2].startswith("sold 1: Oatfell Linden Old Centre at store for Mill House; now 1 on hand")
    run("quote", "make", CENTRE.name, "--job", "Sail Loft")
    assert "quote 2 for Sail Loft: lapsed, nothing was reserved for it" in run("quote", "lapse", "2").stderr


@pytest.mark.whole
def test_a_quote_says_it_to_programs(run: Run) -> None:
    _a_quote(run)
    done = json.loads(run("quote", "accept", "1", "--until", FAR, "--format", "json").stdout)
    assert (done["number"], done["job"], done["state"]) == (1, "Mill House", "accepted")
    assert [(row["speaker"], row["quantity"], row["location"], row["until"]) for row in done["movements"]] == [
        (TOWER.name, 2, "shop", "3000-01-01T00:00:00+00:00"),
        (LAST.name, 1, "store", "3000-01-01T00:00:00+00:00"),
    ]
    assert len(done["warnings"]) == 1
    rows = run("quote", "lapse", "1", "--format", "csv").stdout.splitlines()
    assert len(rows) == 3
    assert rows[0].startswith("done,speaker,quantity,location")


@pytest.mark.whole
def test_a_reservation_says_the_day_to_whose_end_it_holds(run: Run) -> None:
    run("stock", "location", "Berlin", "--zone", "Europe/Berlin")
    run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "Berlin")
    words = ("stock", "reserve", CENTRE.name, "--location", "Berlin", "--job", "Mill House", "--until", "2999-06-30")
    assert "for Mill House until the end of 30 Jun 2999; now" in run(*words).stderr
    done = json.loads(run(*words, "--format", "json").stdout)
    assert (done["job"], done["until"], done["zone"]) == ("Mill House", "2999-06-30T22:00:00+00:00", "Europe/Berlin")
    for view in (("reservations",), ("ledger", CENTRE.name)):
        shown = run("stock", *view)
        assert "the end of 30 Jun 2999" in shown.stdout
        assert json.loads(run("stock", *view, "--format", "json").stdout)[-1]["until"] == "2999-06-30T22:00:00+00:00"
    made = run("quote", "make", CENTRE.name, "--job", "Sail Loft", "--until", "2999-06-30")
    assert "until the end of 30 Jun 2999" in made.stderr
    passed = run("quote", "make", CENTRE.name, "--job", "Sail Loft", "--until", "2020-06-30", code=1)
    assert "until the end of 30 Jun 2020: that has passed" in passed.stderr
    assert "the end of 30 Jun 2999" in run("quote", "list").stdout


def _busy(run: Run) -> None:
    at = ("--location", "Harbour store", "--finish", "dark walnut veneer")
    run("stock", "receive", TOWER.name, "--quantity", "123456", *at, "--note", "the first delivery of the year")
    run("stock", "reserve", TOWER.name, "--quantity", "98766", *at, "--job", "Mill House", "--until", FAR)
    run("stock", "sell", TOWER.name, "--quantity", "98764", *at, "--job", "Mill House")
    run("stock", "transfer", TOWER.name, "--quantity", "24682", *at, "--to", "van", "--send")


@pytest.mark.parametrize("width", quick_of([60, 80, 100, 160, 250], [60, 100]))
def test_no_number_is_cut_at_any_width(run: Run, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    _busy(run)
    monkeypatch.setenv("COLUMNS", str(width))
    ledger, listed = run("stock", "ledger", TOWER.name).stdout, run("stock", "list").stdout
    assert max(map(len, (ledger + listed).splitlines())) <= width
    words = set(re.findall(r"\w+", ledger))  # a narrow table's sentences part them by semicolons
    assert {"quantity", "123456", "98766", "98764", "24682"} <= words
    assert {"reserved", "available", "10", "2", "8", "24682"} <= set(re.findall(r"\w+", listed))


def test_a_narrow_ledger_tells_all_in_words(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _busy(run)
    monkeypatch.setenv("COLUMNS", "140")
    said = " ".join(run("stock", "ledger", TOWER.name).stdout.split())
    for told in ("dark walnut veneer, in pairs", "for Mill House", "of reservation 2", "to van", "by anna"):
        assert told in said


def test_what_was_sent_and_comes_is_told(run: Run) -> None:
    run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "shop")
    sent = run(
        "stock", "transfer", CENTRE.name, "--quantity", "2", "--location", "shop", "--to", "van", "--send"
    ).stderr
    assert "sent 2 to van: Oatfell Linden Centre at shop" in sent
    assert "triptych stock arrive 2" in sent
    come = run("stock", "arrive", "2", "--quantity", "1").stderr
    assert come == "arrived 1: Oatfell Linden Centre at van; now 1 on hand, 0 reserved, 1 available (line 3)\n"


def test_an_advised_price_is_told_with_a_command_that_sets_it(run: Run, tmp_path: Path) -> None:
    import shlex

    path = tmp_path / "prices.csv"
    path.write_text(f"speaker,cost,retail,currency\n{CENTRE.name},310,499,EUR\n")
    run("supplier", "add", "Harbour")
    said = run("supplier", "prices", "Harbour", str(path)).stderr
    assert "the catalogue's own price stays" in said
    command = said.splitlines()[0].partition("with: triptych ")[2]
    run(*shlex.split(command))
    assert json.loads(run("speaker", "show", CENTRE.name, "--format", "json").stdout)["price"] == 499
    assert "own price stays" not in run("supplier", "prices", "Harbour", str(path)).stderr


def test_an_empty_list_says_so(run: Run) -> None:
    for view in (("quote", "list"), ("supplier", "list"), ("supplier", "orders"), ("stock", "location")):
        shown = run(*view)
        assert (shown.stdout, shown.stderr.count("\n")) == ("", 1), view
        assert json.loads(run(*view, "--format", "json").stdout) == []
    assert run("stock", "reservations").stderr == "nothing is reserved\n"


def test_a_supplier_that_is_nearly_another_is_asked_about(run: Run) -> None:
    assert run("supplier", "add", "Harbour Trading").stderr == "supplier Harbour Trading: new\n"
    assert "beside Harbour Trading: are they two?" in run("supplier", "add", "Harbor Trading").stderr
    assert run("supplier", "add", "harbour trading").stderr == "supplier harbour trading\n"


@pytest.mark.parametrize("width", [60, 80, 100, 250])
def test_a_quote_keeps_its_words_whole_at_any_width(run: Run, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    run(
        "stock",
        "receive",
        TOWER.name,
        "--quantity",
        "4",
        "--location",
        "shop",
        "--cost",
        "310 EUR",
        "--per",
        "each",
        "--finish",
        "walnut",
    )
    monkeypatch.setenv("COLUMNS", str(width))
    items = (f"2 x {TOWER.name}, walnut", f"{CENTRE.name}, dark oak veneer")
    made = run("quote", "make", *items, "--job", "Barn", "--discount", "10")
    assert max(map(len, made.stdout.splitlines())) <= width
    words = set(made.stdout.replace(",", " ").replace(";", " ").split())
    assert {"Oatfell", "Linden", "Tower", "Centre", "walnut", "veneer", "1080.00", "432.00"} <= words
    assert ("left out for want of room: tax and what each cost" in made.stderr) == (width < 120)
    assert ("310.00" in words) == (width > 120)
