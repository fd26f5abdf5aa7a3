"""The seed catalogue covers the trade, has the holes that datasheets have, and imports without a word."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields
from enum import Enum
from pathlib import Path

import pytest

from tests.catalog.exchange_records import all_or_nothing
from tests.seed_data.seed_rows import ROWS, TEXT, Row, name, offenders, price_of_one, roles
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.files.loudspeakers import read_loudspeakers, texts_from_record
from triptych.catalog.records import (
    Enclosure,
    LoudspeakerRecord,
    Orientation,
    PortLocation,
    Role,
    SensitivityBasis,
    SoldAs,
    Status,
    TweeterType,
)


def test_the_header_is_the_contracts_and_nothing_else() -> None:
    assert TEXT.splitlines()[0].split(",") == [
        *("maker", "model", "series"),
        *(
            field.name
            for field in fields(LoudspeakerRecord)
            if field.name not in {"maker", "model", "series", "figures"}
        ),
    ]


def test_there_are_enough_of_enough_makers_and_no_name_twice() -> None:
    assert 70 <= len(ROWS) <= 90
    assert len({row["maker"] for row in ROWS}) >= 9
    assert len({name(row).casefold() for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize(
    ("column", "vocabulary"),
    [
        ("orientation", Orientation),
        ("enclosure", Enclosure),
        ("port_location", PortLocation),
        ("tweeter_type", TweeterType),
        ("sold_as", SoldAs),
        ("status", Status),
    ],
)
def test_every_word_of_a_vocabulary_is_used(column: str, vocabulary: type[Enum]) -> None:
    words = {word.value for word in vocabulary}
    assert words <= {row[column] for row in ROWS} <= words | {""}


def test_roles_and_bases_are_all_used() -> None:
    assert set().union(*(roles(row) for row in ROWS)) == {role.value for role in Role}
    assert {row["sensitivity_basis"] for row in ROWS} <= {basis.value for basis in SensitivityBasis} | {""}
    assert {"anechoic", "in_room", "unknown"} <= {row["sensitivity_basis"] for row in ROWS}


@pytest.mark.parametrize(
    "layout", ["TM", "MTM", "TMM", "W(T/M)W", "W(TM)W", "WMTMW", "TMWW", "TMW", "(TM)", "MTMWW", "W", "WW"]
)
def test_every_topology_is_there(layout: str) -> None:
    assert layout in {row["layout"] for row in ROWS}


@pytest.mark.parametrize(("low", "high"), [(0, 150), (150, 350), (350, 700), (700, 1500), (1500, 3000), (3000, 8000)])
def test_every_price_band_has_several(low: float, high: float) -> None:
    assert sum(low <= price_of_one(row) < high for row in ROWS) >= 3


@pytest.mark.parametrize(
    ("role", "at_least"), [("main", 25), ("centre", 20), ("surround", 10), ("height", 5), ("sub", 5)]
)
def test_every_role_has_a_choice(role: str, at_least: int) -> None:
    assert sum(role in roles(row) for row in ROWS) >= at_least


@pytest.mark.parametrize(
    "column",
    [
        "impedance_nominal",
        "impedance_minimum",
        "port_location",
        "axis_height",
        "crossover",
        "feet",
        "weight",
        "woofer_spacing",
    ],
)
def test_datasheets_have_holes(column: str) -> None:
    missing = [row for row in ROWS if not row[column] and "sub" not in roles(row)]
    assert 1 <= len(missing) < len(ROWS)


def test_low_limits_are_stated_at_each_usual_drop() -> None:
    assert {row["low_limit_drop"] for row in ROWS} == {"3", "6", "10"}


def figures() -> Iterator[tuple[str, str, float]]:
    for row in ROWS:
        for column, quantity in LOUDSPEAKER.items():
            for part in re.split(r"[/×]", row[column]) if row[column] else []:
                yield f"{name(row)}: {column}", column, float(part) * (1e-3 if quantity.bare_unit == "mm" else 1.0)


def test_every_figure_is_bare_and_plausible() -> None:
    outside = [
        f"{where} {value}"
        for where, column, value in figures()
        if not LOUDSPEAKER[column].low <= value <= LOUDSPEAKER[column].high
    ]
    assert not outside


def test_the_midrange_columns_belong_to_layouts_that_have_woofers_too() -> None:
    def holds(row: Row) -> bool:
        bass = "W" if "W" in row["layout"] else "M"
        middles = row["layout"].count("M") if bass == "W" else 0
        return row["woofer_count"] == str(row["layout"].count(bass)) and row["midrange_count"] == (
            str(middles) if middles else ""
        )

    assert not offenders(ROWS, holds)


def test_the_whole_file_imports_with_no_problem(tmp_path: Path) -> None:
    path = tmp_path / "loudspeakers.csv"
    path.write_text(TEXT, encoding="utf-8")
    reading = read_loudspeakers(path)
    assert not [str(problem) for problem in reading.problems]
    assert not reading.remarks
    assert [record.name for record in all_or_nothing(reading)] == [name(row) for row in ROWS]


def test_an_unknown_stays_unknown_on_import(tmp_path: Path) -> None:
    path = tmp_path / "loudspeakers.csv"
    path.write_text(TEXT, encoding="utf-8")
    # The contract fills these two where they are empty.
    filled = {"family", "sensitivity_basis"}
    for row, record in zip(ROWS, all_or_nothing(read_loudspeakers(path)), strict=True):
        texts = texts_from_record(record)
        assert {column for column, text in row.items() if not text} - filled == {
            column for column, text in texts.items() if not text
        } - filled
