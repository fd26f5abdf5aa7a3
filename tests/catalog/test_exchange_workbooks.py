"""Workbooks of loudspeakers: what a cell shows is what is read, and what Excel made of it is refused."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.catalog.exchange_records import CATALOGUES, all_or_nothing
from tests.conftest import example_count
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files.loudspeakers import Reading, read_loudspeakers, write_loudspeakers
from triptych.catalog.records import LoudspeakerRecord, Role


def problems(reading: Reading) -> list[str]:
    return [str(problem) for problem in reading.problems]


def book(folder: Path, rows: Sequence[Sequence[object]], formats: dict[str, str] | None = None) -> Path:
    from openpyxl import Workbook

    workbook = Workbook()
    page = workbook.active
    assert page is not None
    for row in rows:
        page.append(list(row))
    for place, number_format in (formats or {}).items():
        page[place].number_format = number_format
    path = folder / "shop.xlsx"
    workbook.save(path)
    return path


@pytest.mark.examples
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=example_count(1 / 3))
@given(CATALOGUES)
def test_a_workbook_reads_back_identical(tmp_path: Path, records: list[LoudspeakerRecord]) -> None:
    path = tmp_path / "all.xlsx"
    write_loudspeakers(path, records)
    reading = read_loudspeakers(path)
    assert problems(reading) == []
    assert list(reading.records) == records


def test_text_that_looks_like_a_formula_stays_text_in_a_workbook(tmp_path: Path) -> None:
    from openpyxl import load_workbook

    record = LoudspeakerRecord("=1+1", "#N/A", roles=frozenset({Role.MAIN}), width=0.1785)
    write_loudspeakers(tmp_path / "a.xlsx", [record])
    page = load_workbook(tmp_path / "a.xlsx").worksheets[0]
    assert [page["A2"].data_type, page["B2"].data_type] == ["s", "s"]
    assert page.cell(2, list(COLUMNS).index("width") + 1).value == 178.5


def test_an_archive_that_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "shop.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.txt", "a")
    with pytest.raises(BadInput, match="no workbook that can be read"):
        read_loudspeakers(path)


@pytest.mark.parametrize(
    ("value", "number_format", "width"),
    [
        (178, "General", 0.178),
        (178.5, "0", 0.1785),
        (101.1, "General", 0.1011),
        (178.0, "0.00", 0.178),
        ("7 1/2 in", "General", 0.1905),
        (7.5, '0.0" in"', 0.1905),
        (17.8, '0.0" cm"', 0.178),
        (7.5, '0.0\\"', 0.1905),
    ],
)
def test_cells_of_a_workbook_mean_what_they_show(
    tmp_path: Path, value: object, number_format: str, width: float
) -> None:
    path = book(
        tmp_path, [["maker", "model", "roles", "width"], ["Oatfell", 120, "main", value]], {"D2": number_format}
    )
    (record,) = all_or_nothing(read_loudspeakers(path))
    assert (record.model, record.width) == ("120", width)


def test_percentages_and_truths_of_a_workbook(tmp_path: Path) -> None:
    header = ["maker", "model", "roles", "tax_rate", "bung"]
    path = book(tmp_path, [header, ["Oatfell", "A", "main", 0.2, True]], {"D2": "0%"})
    (record,) = all_or_nothing(read_loudspeakers(path))
    assert (record.tax_rate, record.bung) == (20.0, True)


@pytest.mark.parametrize("made", [datetime(2024, 2, 1), date(2024, 2, 1), time(1, 2)])  # noqa: DTZ001  a cell has no zone
def test_a_date_that_excel_made_is_refused_by_its_cell(tmp_path: Path, made: object) -> None:
    path = book(tmp_path, [["maker", "model", "roles", "crossover"], ["Oatfell", "A", "main", made]])
    (problem,) = problems(read_loudspeakers(path))
    assert problem.startswith("shop.xlsx, line 2, cell D2, column crossover: Excel has made a date of it")


@pytest.mark.parametrize(
    ("value", "said"),
    [("=1+1", "holds the formula '=1+1' without a stored result"), ("#DIV/0!", "holds Excel's error #DIV/0!")],
)
def test_formulas_without_result_and_errors_are_refused(tmp_path: Path, value: str, said: str) -> None:
    path = book(tmp_path, [["maker", "model", "roles", "width"], ["Oatfell", "A", "main", value]])
    (problem,) = problems(read_loudspeakers(path))
    assert f"cell D2, column width: {said}" in problem


def test_only_the_first_sheet_is_read_and_that_is_said(tmp_path: Path) -> None:
    from openpyxl import load_workbook

    path = book(tmp_path, [["maker", "model", "roles"], ["Oatfell", "A", "main"], [None, None, None]])
    workbook = load_workbook(path)
    workbook.create_sheet("more")
    workbook.save(path)
    reading = read_loudspeakers(path)
    assert len(all_or_nothing(reading)) == 1
    assert "only the first sheet, 'Sheet', is read" in reading.remarks[0]
