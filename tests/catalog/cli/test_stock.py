"""`triptych stock`, `quote`, `supplier`, `backup` and `restore` as a person or a program uses them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.catalog.stock_shop import CENTRE, EVIL, LAST, TOWER

Run = Callable[..., Any]
HEAVY = {"sqlalchemy", "alembic", "pandas", "numpy", "scipy", "openpyxl", "rich", "psycopg"}
FAR = "2999-12-31"


def _stock(run: Run) -> list[dict[str, Any]]:
    found = json.loads(run("stock", "list", "--format", "json").stdout)
    assert isinstance(found, list)
    return found


def _numbers(run: Run, speaker: str = CENTRE.name, location: str = "shop", grade: str = "new") -> tuple[int, int, int]:
    for row in _stock(run):
        if (row["speaker"], row["location"], row["grade"]) == (speaker, location, grade):
            return row["on_hand"], row["reserved"], row["available"]
    return 0, 0, 0


@pytest.mark.whole
def test_the_commands_of_the_contract(run: Run) -> None:
    at = ("--location", "shop")
    run("stock", "receive", CENTRE.name, "--quantity", "5", *at)
    run("stock", "receive", "OATFELL linden centre", "--quantity", "1", *at, "--serial", "A1")
    assert _numbers(run) == (6, 0, 6)
    run("stock", "reserve", CENTRE.name, "--quantity", "2", *at, "--job", "Mill House", "--until", FAR)
    assert _numbers(run) == (6, 2, 4)
    run("stock", "release", CENTRE.name, "--quantity", "1", *at, "--job", "mill house")
    run("stock", "sell", CENTRE.name, "--quantity", "3", *at, "--job", "Mill House")
    assert _numbers(run) == (3, 0, 3)
    run("stock", "return", CENTRE.name, "--quantity", "1", *at)
    assert _numbers(run, grade="quarantine") == (1, 0, 0)
    run("stock", "regrade", CENTRE.name, "--quantity", "1", *at, "--grade", "open_box")
    assert _numbers(run, grade="open_box") == (1, 0, 1)
    run("stock", "transfer", CENTRE.name, "--quantity", "1", *at, "--to", "van")
    assert (_numbers(run), _numbers(run, location="van")) == ((2, 0, 2), (1, 0, 1))
    run("stock", "count", CENTRE.name, "--quantity", "1", *at, "--reason", "one is missing")
    assert _numbers(run) == (1, 0, 1)
    proof = json.loads(run("stock", "check", "--format", "json").stdout)
    assert all(finding["holds"] for finding in proof)
    ledger = json.loads(run("stock", "ledger", CENTRE.name, "--format", "json").stdout)
    assert [line["kind"] for line in ledger][:4] == ["receive", "receive", "reserve", "release"]
    assert {line["who"] for line in ledger} == {"anna"}
    assert sum(line["quantity"] for line in ledger if line["kind"] == "receive") == 6


@pytest.mark.whole
def test_an_unknown_location_is_made_only_where_units_come(run: Run) -> None:
    assert "new location: shop" in run("stock", "receive", CENTRE.name, "--location", "shop").stderr
    assert "did you mean 'shop'" in run("stock", "sell", CENTRE.name, "--location", "shoop", code=1).stderr
    assert "new location: van (known are shop)" in run("stock", "receive", CENTRE.name, "--location", "van").stderr
    run("stock", "location", "Lisbon", "--zone", "Europe/Lisbon")
    run("stock", "location", "Atlantis", "--zone", "Sea/Bottom", code=1)
    rows = json.loads(run("stock", "location", "--format", "json").stdout)
    assert {"name": "Lisbon", "zone": "Europe/Lisbon"} in rows


@pytest.mark.whole
def test_what_a_day_is_depends_on_where_the_units_are(run: Run) -> None:
    run("stock", "location", "Berlin", "--zone", "Europe/Berlin")
    run("stock", "receive", CENTRE.name, "--location", "Berlin")
    ask = ("stock", "reserve", CENTRE.name, "--location", "Berlin", "--job", "J", "--until")
    assert "no such time" in run(*ask, "2027-03-28 02:30", code=1).stderr
    assert "comes twice" in run(*ask, "2027-10-31 02:30", code=1).stderr
    run(*ask, "2027-10-31")
    held = json.loads(run("stock", "reservations", "--format", "json").stdout)
    assert held[0]["until"] == "2027-10-31T23:00:00+00:00"


@pytest.mark.whole
def test_any_text_is_stored_as_it_is_and_shown_harmless(run: Run) -> None:
    model, note = f"Oatfell Linden {EVIL}", f"{EVIL}\nand so on"
    serial = EVIL.replace(";", ":")  # a semicolon parts one serial from the next
    words = ("--location", EVIL, "--finish", EVIL)
    run("stock", "receive", model, "--quantity", "2", *words, "--serial", serial, "--single", "--note", note, code=1)
    run("stock", "receive", model, "--quantity", "1", *words, "--serial", serial, "--note", note)
    run("stock", "reserve", model, *words, "--job", EVIL, "--until", FAR)
    for view in (("list",), ("ledger", model), ("reservations",)):
        for style in ("table", "json"):
            run("stock", *view, "--format", style)
    entry = json.loads(run("stock", "ledger", model, "--format", "json").stdout)[0]
    assert (entry["note"], entry["finish"], entry["serial"], entry["location"]) == (note, EVIL, serial, EVIL)
    run("stock", "check")


@pytest.mark.whole
def test_every_view_is_data_in_every_format(run: Run) -> None:
    run("supplier", "add", "Harbour", "--lead-time", "21")
    run("supplier", "order", CENTRE.name, "--supplier", "Harbour", "--quantity", "2", "--expected", "2027-05-01")
    run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "shop", "--order", "1", "--cost", "300 EUR")
    run("stock", "reserve", CENTRE.name, "--location", "shop", "--job", "J")
    run("quote", "make", f"1 x {CENTRE.name}", "--job", "J")
    views = (
        ("stock", "list"),
        ("stock", "ledger", CENTRE.name),
        ("stock", "reservations"),
        ("stock", "check"),
        ("stock", "location"),
        ("supplier", "list"),
        ("supplier", "orders", "--all"),
        ("quote", "list"),
    )
    for view in views:
        found = json.loads(run(*view, "--format", "json").stdout)
        rows = list(csv.DictReader(io.StringIO(run(*view, "--format", "csv").stdout)))
        assert len(found) == len(rows) > 0, view
        assert set(rows[0]) <= set(found[0]), view
        assert run(*view).stdout.strip(), view
    done = json.loads(run("stock", "receive", CENTRE.name, "--location", "shop", "--format", "json").stdout)
    assert (done["on_hand"], done["reserved"], done["available"]) == (3, 1, 2)


@pytest.mark.whole
def test_a_quote_from_offer_to_sale(run: Run) -> None:
    run("stock", "receive", TOWER.name, "--quantity", "2", "--location", "shop", "--cost", "350 EUR", "--per", "each")
    run("stock", "receive", CENTRE.name, "--quantity", "1", "--location", "shop", "--cost", "300 EUR")
    made = json.loads(
        run("quote", "make", TOWER.name, f"1 × {CENTRE.name}", "--job", "Mill", "--format", "json").stdout
    )
    assert (made["number"], made["state"], made["total"]) == (1, "open", 1680.0)
    # 1200 and 480 with 20 % tax are 1000 and 400 net; cost 700 and 300
    assert made["margin"] == pytest.approx((1400 - 1000) / 1400)
    run("quote", "accept", "1")
    assert "cannot sell" in run("stock", "sell", CENTRE.name, "--location", "shop", code=1).stderr
    run("quote", "sell", "1")
    assert json.loads(run("quote", "show", "1", "--format", "json").stdout)["state"] == "sold"
    assert "no quote has the number 9" in run("quote", "show", "9", code=1).stderr
    assert "sold already" in run("quote", "lapse", "1", code=1).stderr


@pytest.mark.whole
def test_the_last_of_a_line_is_warned_of_and_never_ordered(run: Run) -> None:
    run("supplier", "add", "Harbour")
    order = ("supplier", "order", LAST.name, "--supplier", "Harbour", "--quantity", "1")
    assert "never back-ordered" in run(*order, code=1).stderr
    run("stock", "receive", TOWER.name, "--quantity", "2", "--location", "shop")
    run("stock", "receive", LAST.name, "--quantity", "2", "--location", "shop")
    assert "warning" not in run("stock", "sell", CENTRE.name, "--location", "shop", code=1).stderr
    said = run("stock", "sell", LAST.name, "--location", "shop").stderr
    assert "warning: the line ends, and 0 mains of Linden are sold and 2 in stock: 1 to match them is left" in said


@pytest.mark.whole
def test_files_are_shown_before_they_are_taken(run: Run, tmp_path: Path) -> None:
    prices, counts = tmp_path / "prices.csv", tmp_path / "counts.csv"
    prices.write_text(f"Article;Trade\n{CENTRE.name};310\n")
    counts.write_text(f"speaker,quantity\n{CENTRE.name},3\n")
    run("supplier", "add", "Harbour")
    take = ("supplier", "prices", "Harbour", str(prices), "--currency", "EUR", "--from", "2027-01-01")
    named = ("--map", "Article=speaker", "--map", "Trade=cost")
    assert "would have changed 1" in run(*take, *named, "--dry-run").stderr
    assert "is none of our columns" in run(*take, code=1).stderr
    assert "changed 1, unchanged 0" in run(*take, *named).stderr
    assert "changed 0, unchanged 1" in run(*take).stderr
    count = ("stock", "import", str(counts), "--location", "shop", "--reason", "June count")
    assert "would have changed 1" in run(*count, "--dry-run").stderr
    assert _stock(run) == []
    assert "changed 1, unchanged 0" in run(*count).stderr
    assert "changed 0, unchanged 1" in run(*count).stderr
    assert _numbers(run) == (3, 0, 3)


@pytest.mark.whole
def test_a_backup_and_back(run: Run, tmp_path: Path) -> None:
    run("stock", "receive", CENTRE.name, "--location", "shop")
    run("backup", str(tmp_path / "copy.db"))
    assert "is there already" in run("backup", str(tmp_path / "copy.db"), code=1).stderr
    run("stock", "sell", CENTRE.name, "--location", "shop")
    assert "what was there" in run("restore", str(tmp_path / "copy.db")).stderr
    assert _numbers(run) == (1, 0, 1)


def test_help_loads_nothing_heavy() -> None:
    modules = ", ".join(f"triptych.catalog.cli.{name}" for name in ("stock", "quote", "supplier", "backup"))
    check = f"import sys, {modules}; print(sorted({HEAVY!r} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
