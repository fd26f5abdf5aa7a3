"""What the stock's commands say beside what they do: serials, doubts, warnings, money, and what a terminal gets."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.catalog.cli.conftest import application
from tests.catalog.stock_shop import CENTRE, LAST, TOWER

Run = Callable[..., Any]
AT = ("--location", "shop")


@pytest.mark.whole
def test_a_quote_for_units_with_serials_says_which_it_takes(run: Run) -> None:
    for serial in ("A1", "A2"):
        run("stock", "receive", CENTRE.name, *AT, "--serial", serial)
    run("quote", "make", CENTRE.name, "--job", "Mill House")
    assert "Oatfell Linden Centre, A1 at shop" in run("quote", "accept", "1").stderr
    assert "'B7' is not among what is kept" in run("quote", "sell", "1", "--serial", "B7", code=1).stderr
    assert "sold 1: Oatfell Linden Centre, A2 at shop" in run("quote", "sell", "1", "--serial", "A2").stderr
    run("quote", "make", CENTRE.name, "--job", "Mill House")
    sold = json.loads(run("quote", "accept", "2", "--serial", "A1", "--format", "json").stdout)
    assert [row["serial"] for row in sold["movements"]] == ["A1"]


@pytest.mark.whole
def test_a_quote_tells_what_went_out_and_came_back_and_with_tax_or_without(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    run("stock", "receive", CENTRE.name, *AT, "--quantity", "5")
    assert "open, 1440.00 EUR with tax" in run("quote", "make", f"3 x {CENTRE.name}", "--job", "Barn").stderr
    run("quote", "accept", "1")
    run("quote", "sell", "1", f"2 x {CENTRE.name}")
    monkeypatch.setattr("triptych.catalog.cli.quote.somebody_there", lambda: True)
    unsaid = run("quote", "lapse", "1", code=1).stderr
    assert "quote 1: 2 of 3 were delivered and stay sold. Let go of the rest for good?" in unsaid
    answer = CliRunner().invoke(application(), ["quote", "lapse", "1"], input=b"\xff\xfe\n")
    assert (answer.exit_code, "the answer is not text in UTF-8; nothing was ended" in answer.stderr) == (1, True)
    assert json.loads(run("quote", "show", "1", "--format", "json").stdout)["state"] == "accepted"
    monkeypatch.setattr("triptych.catalog.cli.quote.somebody_there", lambda: False)
    assert "quote 1: 2 of 3 were delivered and stay sold; the rest" in run("quote", "lapse", "1").stderr
    shown = run("quote", "show", "1").stdout
    assert "2 delivered" in " ".join(shown.split())
    run("quote", "print", "1", "--out", str(tmp_path / "quote.html"))
    assert "<br>2 delivered" in (tmp_path / "quote.html").read_text(encoding="utf-8")
    assert "refunded" not in run("quote", "list").stdout, "nothing came back yet"
    run("stock", "return", CENTRE.name, *AT, "--job", "Barn", "--refund")
    (row,) = csv.DictReader(io.StringIO(run("quote", "list", "--format", "csv").stdout))
    assert (row["returned"], row["refunded"]) == ("0", "1")
    assert "refunded" in run("quote", "list").stdout
    assert "2 delivered, 1 came back" in run("quote", "show", "1").stdout
    sold = run("stock", "sell", CENTRE.name, *AT, "--price", "400 EUR").stderr
    assert "sold at 400.00 EUR each, without tax" in sold


@pytest.mark.whole
def test_a_single_of_a_pair_is_quoted(run: Run) -> None:
    run("stock", "receive", TOWER.name, *AT)
    run("stock", "split", TOWER.name, *AT)
    refused = run("quote", "make", TOWER.name, "--job", "J", "--finish", "oak").stderr
    assert "0 available now; 2 singles, not a pair" not in refused, "they are in no stated finish"
    assert "0 available now; 2 singles, not a pair" in run("quote", "make", TOWER.name, "--job", "J").stderr
    made = json.loads(run("quote", "make", TOWER.name, "--single", "--job", "J", "--format", "json").stdout)
    assert (made["total"], made["lines"][0]["quantity"]) == (600, 1)


@pytest.mark.whole
def test_a_job_that_is_nearly_another_is_asked_about(run: Run) -> None:
    run("stock", "receive", CENTRE.name, *AT, "--quantity", "9")
    run("supplier", "add", "Harbour")
    run("stock", "reserve", CENTRE.name, *AT, "--job", "Mill House")
    for words in (
        ("stock", "reserve", CENTRE.name, *AT, "--job"),
        ("quote", "make", CENTRE.name, "--job"),
        ("stock", "sell", CENTRE.name, *AT, "--job"),
        ("supplier", "order", CENTRE.name, "--supplier", "Harbour", "--quantity", "1", "--job"),
    ):
        for name in ("Mill House", "MILL house", "Sail Loft"):
            run(*words, name)
        refused = run(*words, "Mil House", code=1).stderr
        assert "no job is named 'Mil House'; did you mean 'Mill House'?" in refused
        assert "make it first: triptych job new 'Mil House'; nothing was written" in refused
    assert "did you mean 'Sail Loft'" in run("quote", "make", CENTRE.name, "--job", "Sial Loft", code=1).stderr
    run("job", "new", " Mil  House ")
    run("stock", "sell", CENTRE.name, *AT, "--job", "Mil House")
    assert "a job is named 'Mil House' already" in run("job", "new", "mil house", code=1).stderr


@pytest.mark.whole
def test_a_count_below_what_is_promised_tells_to_whom_and_how_many_are_short(run: Run) -> None:
    run("stock", "receive", CENTRE.name, *AT, "--quantity", "3")
    run("stock", "reserve", CENTRE.name, *AT, "--quantity", "2", "--job", "Mill House", "--until", "2030-01-31")
    refused = run("stock", "count", CENTRE.name, *AT, "--quantity", "1", "--reason", "lost", code=1).stderr
    assert "1 at 'shop' would be 1 too few: of the 3 there by the ledger 2 are promised, 2 to Mill House" in refused
    assert "-2" not in refused


@pytest.mark.whole
def test_an_order_that_brings_nothing_of_it_is_told(run: Run) -> None:
    run("supplier", "add", "Harbour")
    run("supplier", "order", CENTRE.name, "--supplier", "Harbour", "--quantity", "2")
    for model, number, quantity, said in (
        (CENTRE.name, "9", "1", "no order has the number 9: see triptych supplier orders"),
        (LAST.name, "1", "1", f"order 1 is for {CENTRE.name}, not {LAST.name}"),
        (CENTRE.name, "1", "3", "order 1 brings what was ordered, and no more: 2 of 2 are still to come"),
    ):
        refused = run("stock", "receive", model, *AT, "--order", number, "--quantity", quantity, code=1).stderr
        assert said in refused


@pytest.mark.whole
def test_what_comes_back_unsold_and_what_is_written_off_is_warned_of(run: Run) -> None:
    run("stock", "receive", LAST.name, *AT, "--quantity", "2")
    run("stock", "receive", TOWER.name, *AT)
    refused = run("stock", "return", CENTRE.name, *AT, "--serial", "A1", code=1).stderr
    assert "the ledger did not sell Oatfell Linden Centre A1: say --before" in refused
    back = run("stock", "return", CENTRE.name, *AT, "--serial", "A1", "--before").stderr
    assert "warning: the ledger did not sell Oatfell Linden Centre A1, so it is taken as sold before" in back
    assert "now 1 on hand" in back
    assert "sold 0 that did not come back, not 1" in run("stock", "return", CENTRE.name, *AT, code=1).stderr
    lost = run("stock", "write-off", LAST.name, *AT, "--reason", "fell").stderr
    assert "warning: the line ends, and 0 mains of Linden are sold and 2 in stock: 1 to match them is left" in lost


@pytest.mark.whole
def test_the_ledger_has_the_money_the_quote_and_the_order(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    run("supplier", "add", "Harbour")
    run("supplier", "order", CENTRE.name, "--supplier", "Harbour", "--quantity", "2")
    run("stock", "receive", CENTRE.name, *AT, "--quantity", "2", "--order", "1", "--cost", "310.50 EUR")
    run("quote", "make", CENTRE.name, "--job", "Mill House")
    run("quote", "accept", "1")
    run("quote", "sell", "1")
    names = ("amount", "currency", "quote", "order")
    lines = json.loads(run("stock", "ledger", CENTRE.name, "--format", "json").stdout)
    assert [[line[name] for name in names] for line in lines] == [
        [310.5, "EUR", None, 1],
        [None, None, 1, None],
        [400.0, "EUR", 1, None],
    ]
    rows = list(csv.DictReader(io.StringIO(run("stock", "ledger", CENTRE.name, "--format", "csv").stdout)))
    assert [rows[0][name] for name in names] == ["310.50", "EUR", "", "1"]
    assert list(rows[0])[-6:] == [*names, "undoes", "speaker"]
    assert "310.50" in run("stock", "ledger", CENTRE.name).stdout
    monkeypatch.setenv("COLUMNS", "80")
    assert "310.50" in " ".join(run("stock", "ledger", CENTRE.name).stdout.split())


def test_money_that_does_not_exist_is_refused_with_what_would_do(run: Run, tmp_path: Path) -> None:
    receive = ("stock", "receive", CENTRE.name, *AT, "--cost")
    said = run(*receive, "310 XQZ", code=1).stderr
    assert said == "error: --cost '310 XQZ': currency 'XQZ' is no code of ISO 4217: give one such as EUR, GBP or USD\n"
    assert "did you mean EUR?" in run(*receive, "310 EUX", code=1).stderr
    path = tmp_path / "prices.csv"
    path.write_text(f"speaker,cost,currency\n{CENTRE.name},310,XQZ\n")
    run("supplier", "add", "Harbour")
    prices = ("supplier", "prices", "Harbour", str(path))
    assert "line 2, currency: currency 'XQZ' is no code" in run(*prices, code=1).stderr
    path.write_text(f"speaker,cost\n{CENTRE.name},310\n")
    assert "currency 'XQZ' is no code" in run(*prices, "--currency", "xqz", code=1).stderr


@pytest.mark.whole
def test_a_price_before_another_says_until_when_it_holds(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "prices.csv"
    run("supplier", "add", "Harbour")

    def take(cost: int, start: str) -> str:
        path.write_text(f"speaker,cost,currency\n{CENTRE.name},{cost},EUR\n")
        done = run("supplier", "prices", "Harbour", str(path), "--from", start, "--format", "json")
        return str(json.loads(done.stdout)[0]["after"])

    assert take(330, "2027-03-01") == "cost 330.00 EUR"
    assert take(310, "2027-01-01") == "cost 310.00 EUR, until 2027-02-28: another begins on 2027-03-01"
    assert take(311, "2027-01-01") == "cost 311.00 EUR, until 2027-02-28: another begins on 2027-03-01"
    assert take(320, "2027-02-01") == "cost 320.00 EUR, until 2027-02-28: another begins on 2027-03-01"


def test_a_day_too_far_off_is_said_to_be(run: Run) -> None:
    run("stock", "receive", CENTRE.name, *AT)
    said = run("stock", "reserve", CENTRE.name, *AT, "--job", "J", "--until", "9999-12-31", code=1).stderr
    assert said == "error: --until '9999-12-31': that is too far off; give a day before 9999-12-31\n"


def test_csv_on_a_terminal_commands_it_nothing_and_in_a_pipe_is_exact() -> None:
    typed = "a\n\x1b[31m\x07 ½"
    program = f"from triptych.catalog.cli.options import print_csv; print_csv([['a'], [{typed!r}]])"
    exact = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True).stdout
    assert list(csv.reader(io.StringIO(exact.decode(), newline="")))[1] == [typed]
    master, slave = pty.openpty()
    try:
        subprocess.run([sys.executable, "-c", program], stdout=slave, check=True)
        shown = os.read(master, 10_000)
    finally:
        os.close(slave)
        os.close(master)
    assert b"\x1b" not in shown
    assert b"\x07" not in shown
    assert rb"\x1b[31m\x07" in shown
