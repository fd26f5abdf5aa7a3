"""CSV that a spreadsheet opens: nothing in it is run, and it reads back exactly."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.catalog.cli.conftest import Run
from tests.catalog.stock_shop import CENTRE
from triptych.catalog.files.tables import csv_text, read_table
from triptych.catalog.formulas import guarded, unguarded

RUN = ("=", "+", "-", "@", "\t", "\r")


def cells(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


EVILS = ("=1+1", "+SUM(A1)", "-2+3", "@now", "'=1", "''=1", "'tis", "-", "=HYPERLINK(a;b)")


@pytest.mark.whole
def test_an_export_runs_nothing_and_comes_back_exactly(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "out.csv"
    for evil in EVILS:
        run("speaker", "add", "--maker", evil, "--model", evil, "--roles", "centre", f"--note={evil}", "--feet", "3 mm")
    before = run("speaker", "list", "--format", "json").stdout
    run("speaker", "export", str(file))
    found = [cell for row in cells(file.read_text()) for cell in row]
    assert not [cell for cell in found if cell.startswith(RUN)]
    assert {guarded(evil) for evil in EVILS} <= set(found)
    assert "added 0" in run("speaker", "import", str(file)).stderr
    assert run("speaker", "list", "--format", "json").stdout == before
    for words in (
        ("list", "--format", "csv"),
        *(("show", "--format", "csv", "--", f"{evil} {evil}") for evil in EVILS),
    ):
        shown = cells(run("speaker", *words).stdout)
        assert not [cell for row in shown for cell in row if cell.startswith(RUN)]


@pytest.mark.whole
def test_stock_and_suppliers_files_read_what_exports_mark(run: Run, tmp_path: Path) -> None:
    run("stock", "receive", CENTRE.name, "--quantity", "2", "--location", "=van")
    listed = run("stock", "list", "--format", "csv").stdout
    assert [row["location"] for row in csv.DictReader(io.StringIO(listed))] == ["'=van"]
    counts = tmp_path / "counts.csv"
    counts.write_text(csv_text([["speaker", "quantity", "location"], [CENTRE.name, "1", "=van"]]))
    assert "'=van" in counts.read_text()
    run("stock", "import", str(counts), "--reason", "counted")
    assert '"on_hand": 1' in run("stock", "list", "--format", "json").stdout
    run("supplier", "add", "@Harbour")
    prices = tmp_path / "prices.csv"
    prices.write_text(csv_text([["@Article", "Trade", "currency"], [CENTRE.name, "310", "EUR"]]))
    mapped = ("--map", "@Article=speaker", "--map", "Trade=cost")
    assert "1" in run("supplier", "prices", "@Harbour", str(prices), *mapped).stderr


def test_numbers_stay_numbers() -> None:
    for number in ("-3", "+3", "-0.5", "-85.2", "-1e-05", "-.5", "-3 dB", "-650 mm", "-30 °"):
        assert guarded(number) == number
    assert guarded("-3 SUM(A1)") == "'-3 SUM(A1)"
    assert guarded("-3,5+1") == "'-3,5+1"


@given(st.text(st.sampled_from("=+-@\t\r'ab1. "), max_size=6))
def test_every_cell_reads_back_and_none_is_run(text: str) -> None:
    cell = guarded(text)
    assert unguarded(cell) == text
    if cell.startswith(RUN):
        assert float(cell.rstrip("ab ")) is not None  # a number, with a unit or without, is none that is run


@given(
    st.lists(st.text(st.sampled_from("=+-@'ab1,;\" "), min_size=1, max_size=6).map(str.strip), min_size=2, max_size=4)
)
def test_a_table_of_them_reads_back(tmp_path_factory: pytest.TempPathFactory, row: list[str]) -> None:
    path = tmp_path_factory.mktemp("csv") / "a.csv"
    path.write_text(csv_text([["a", "b", "c", "d"][: len(row)], [*row[:-1], "x"]]), encoding="utf-8")
    assert read_table(path, lambda name: name in "abcd").rows[0].cells == (*row[:-1], "x")
