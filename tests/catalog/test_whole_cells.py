"""Cells in which more stands than one figure, and prices as people write them, at every door that reads a cell."""

from __future__ import annotations

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.catalog.exchange_records import all_or_nothing
from tests.catalog.plain_workbook import plain_workbook
from triptych.catalog.cli import datasheet, speaker, stock_words
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files.loudspeakers import Reading, read_loudspeakers
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.files.tables import csv_text
from triptych.catalog.numbers import write
from triptych.catalog.problems import Problem
from triptych.catalog.quantities import Kind

with (Path(__file__).parent / "whole_cells.csv").open(encoding="utf-8", newline="") as _cells:
    CELLS = [(row["column"], row["text"]) for row in csv.DictReader(_cells)]

PRICES = {
    "1 299": "1299",
    "1\u00a0299": "1299",
    "1\u202f299,50": "1299.5",
    "€1299": "1299",
    "€ 1 299,00": "1299",
    "1'299.00": "1299",
    "1’299.–": "1299",
    "1299,-": "1299",
    "1.299,00 €": "1299",
    "1,299.00 EUR": "1299",
    "EUR 1299": "1299",
    "1299 euro": "1299",
    "1,234,567.89": "1234567.89",
    "899,5": "899.5",
}


def _named(column: str, text: str, **more: str) -> dict[str, str]:
    named = {"maker": "Oatfell", "model": "Wren", "roles": "centre", column: text} | more
    return named | ({"currency": "EUR"} if column == "price" else {})


def _read(folder: Path, content: bytes) -> Reading:
    path = folder / "shop"
    path.write_bytes(content)
    return read_loudspeakers(path)


def _files(folder: Path, *named: dict[str, str]) -> tuple[Reading, Reading]:
    rows = [list(named[0]), *(list(one.values()) for one in named)]
    return _read(folder, csv_text(rows).encode()), _read(folder, plain_workbook(rows))


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> list[list[Problem]]:
    """What is told of each of the cells, which stand in as many rows of one file of either kind."""
    columns = dict.fromkeys(name for cell in CELLS for name in _named(*cell))
    rows = [dict.fromkeys(columns, "") | _named(*cell, model=f"Wren {place}") for place, cell in enumerate(CELLS)]
    found: list[list[Problem]] = [[] for _ in CELLS]
    for reading in _files(tmp_path_factory.mktemp("cells"), *rows):
        assert not reading.records
        for problem in reading.problems:
            line = re.search(r"\d+", problem.where)
            assert line is not None
            found[int(line[0]) - 2].append(problem)
    return found


@pytest.mark.parametrize("place", range(len(CELLS)), ids=lambda place: "-".join(CELLS[place]))
def test_a_cell_that_is_not_one_figure_is_refused_in_every_file(place: int, told: list[list[Problem]]) -> None:
    column, text = CELLS[place]
    assert [problem.column for problem in told[place]] == [f"column {column}"] * 2
    for problem in told[place]:
        assert repr(text) in problem.complaint or text.replace(" ", "") in problem.complaint


@pytest.mark.parametrize("text", [text for column, text in CELLS if column == "width"])
def test_a_room_refuses_what_a_file_of_loudspeakers_does(text: str) -> None:
    quoted = text.replace("\\", "\\\\").replace('"', '\\"')
    seat = '[[seat]]\nname = "s"\ndistance = "3 m"'
    with pytest.raises(BadInput):
        room_from_toml(f'name = "r"\n{seat}\n[[place]]\nname = "p"\nkind = "top"\nwidth = "{quoted}"\n', "room.toml")


@pytest.mark.parametrize("text", [text for column, text in CELLS if column == "price"])
def test_a_cost_refuses_what_a_price_does(text: str) -> None:
    # a cost of nothing is one, as is a great one
    if text not in ("0", "999 999 999"):
        with pytest.raises(BadInput):
            stock_words.money(text, "--cost")


@pytest.mark.parametrize(("column", "text"), CELLS[::5])
def test_options_and_answers_refuse_it_too(
    column: str, text: str, sqlite_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    sheet = tmp_path / "wren.txt"
    sheet.write_text("Maker: Oatfell\nModel: Wren\nRoles: centre\n", encoding="utf-8")
    answers = [part for name, value in _named(column, text).items() for part in ("--set", f"{name}={value}")]
    options = [f"--{name.replace('_', '-')}={value}" for name, value in _named(column, text).items()]
    for app, command in (
        (speaker.app, ["add", *options]),
        (datasheet.app, ["read", str(sheet), "--save", "--yes", *answers]),
    ):
        result = CliRunner().invoke(app, command)
        assert isinstance(result.exception, BadInput | SystemExit)
        assert result.exit_code != 0
    assert CliRunner().invoke(speaker.app, ["list"]).stdout == ""


@pytest.mark.parametrize(("text", "price"), PRICES.items())
def test_prices_as_people_write_them(text: str, price: str, tmp_path: Path) -> None:
    for reading in _files(tmp_path, _named("price", text)):
        (record,) = all_or_nothing(reading)
        assert (record.price, record.currency) == (Decimal(price), "EUR")


@pytest.mark.parametrize(
    ("column", "value", "number_format", "told"),
    [
        ("price", 1299, "#,##0.00 [$€-407]", 1299),
        ("price", 1299, '_-* #,##0.00\\ "€"_-;-* #,##0.00\\ "€"_-', 1299),
        ("price", 1299.5, "€#,##0.00", Decimal("1299.5")),
        ("price", 1299, "[$£-809]#,##0.00", None),
        ("price", 1299, "$#,##0", None),
        ("price", 1299000, "#,##0,", None),
        ("width", 1290, "#,##0", 1.29),
        ("width", 1.29, '0.00" m"', 1.29),
        ("width", 1.29, "General", None),
        ("width", 0.178, "0.000", None),
        ("width", 178000, "0,", None),
        ("width", 178, '0" pcs"', None),
        ("width", 178, '"ca. "0', None),
        ("width", 178, '0" kg"', None),
        ("width", True, "General", None),
        ("tax_rate", 0.2, "0%", 20.0),
        ("tax_rate", 0.2, "General", None),
        ("tax_rate", 20, "0.0", 20.0),
        ("woofer_count", 2, '0" x"', None),
        ("woofer_count", 2.5, "0", None),
        ("weight", 14.2, '0.0" lb"', 14.2 * 0.45359237),
    ],
)
def test_a_number_cell_is_what_it_shows(
    tmp_path: Path, column: str, value: float, number_format: str, told: Decimal | float | None
) -> None:
    from openpyxl import Workbook

    book = Workbook()
    page = book.active
    assert page is not None
    named = _named(column, "")
    for place, (name, text) in enumerate(named.items(), start=1):
        page.cell(1, place, name)
        page.cell(2, place, value if name == column else text)
        if name == column:
            page.cell(2, place).number_format = number_format
    book.save(tmp_path / "shop.xlsx")
    reading = read_loudspeakers(tmp_path / "shop.xlsx")
    if told is None:
        assert [problem.column for problem in reading.problems] == [f"column {column}"]
    else:
        (record,) = all_or_nothing(reading)
        assert getattr(record, column) == told


@pytest.mark.parametrize("column", [name for name, one in COLUMNS.items() if one.quantity])
def test_every_column_of_numbers_refuses_what_is_more_than_one(column: str, tmp_path: Path) -> None:
    quantity = COLUMNS[column].quantity
    assert quantity is not None
    middle = (quantity.low + quantity.high) / 2
    figure = write(round(middle) if quantity.kind is Kind.COUNT else middle, quantity)
    texts = (f"{figure}¹", f"2 × {figure} q", f"{figure} see 3", f"ca. {figure}", f"{figure} or {figure}", "1/0")
    rows = [_named(column, text, model=f"Wren {number}") for number, text in enumerate(texts)]
    for reading in _files(tmp_path, *rows):
        assert not reading.records
        assert [problem.column for problem in reading.problems] == [f"column {column}"] * len(texts)
