from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.fields import COLUMN_UNITS

with (Path(__file__).parent / "lines.csv").open(encoding="utf-8", newline="") as stream:
    ROWS = list(csv.DictReader(stream))


def values(text: str) -> Any:
    """The value of a row: a number, several with ';', yes, or a word."""
    if text == "true":
        return True
    try:
        numbers = [float(part) for part in text.split(";")]
    except ValueError:
        return text
    return numbers if len(numbers) > 1 else numbers[0]


def single(value: Any) -> Any:
    return value[0] if isinstance(value, list) and len(value) == 1 else value


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['sheet']} -> {row['column']}")
def test_line(row: dict[str, str]) -> None:
    """Every format that sheets come in, with the value it must give or the refusal; worked out by hand."""
    records = read_datasheet(row["sheet"].replace(" ¶ ", "\n")).as_json()["records"]
    found = records[0]["fields"].get(row["column"]) if records else None
    if row["status"] == "absent":
        assert found is None
        return
    assert found is not None
    assert found["status"] == row["status"], found
    assert found["unit"] == COLUMN_UNITS.get(row["column"])
    assert found["raw"]
    assert row["flag"] in " ".join(found["flags"])
    if row["status"] == "refused":
        assert found["value"] is None
        assert found["flags"]
    else:
        expected = values(row["value"])
        approximate = isinstance(expected, float | list)
        assert single(found["value"]) == (pytest.approx(expected, rel=1e-9) if approximate else expected)
    if row["status"] == "inferred":
        assert found["flags"]
