"""Nonsense is refused at every door, with the word that would allow it where it may be meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.stated_records import record_from_texts

WHO = {"maker": "Oatfell", "model": "Wren", "roles": "centre"}


def refused(**texts: str) -> list[str]:
    return [name for name, _ in record_from_texts(WHO | texts, "test")[1]]


@pytest.mark.parametrize(
    ("texts", "column"),
    [
        ({"width": "450", "height": "150", "woofer_size": "165"}, "woofer_size"),
        ({"width": "450", "height": "170", "woofer_size": "165"}, None),
        ({"height": "100", "midrange_size": "130"}, "midrange_size"),
        ({"width": "300", "height": "350", "depth": "200", "woofer_size": "250", "roles": "sub"}, None),
        ({"width": "300", "height": "350", "depth": "200", "woofer_size": "330", "roles": "sub"}, "woofer_size"),
        ({"layout": "MTM", "woofer_count": "3"}, "woofer_count"),
        ({"layout": "MTM", "woofer_count": "2"}, None),
        ({"layout": "MTM", "midrange_count": "2", "woofer_count": "0"}, None),
        ({"layout": "TMM", "midrange_count": "1", "woofer_count": "1"}, None),
        ({"layout": "W(T/M)W", "woofer_count": "2", "midrange_count": "1"}, None),
        ({"layout": "W(T/M)W", "woofer_count": "2", "midrange_count": "2"}, "midrange_count"),
        ({"layout": "BM(T/M)MB", "woofer_count": "3"}, "woofer_count"),
        ({"width": "1750"}, "roles"),
        ({"width": "1750", "roles": "main;centre"}, None),
    ],
)
def test_figures_that_contradict_each_other(texts: dict[str, str], column: str | None) -> None:
    assert refused(**texts) == ([column] if column else [])


def test_a_tall_centre_is_told_the_word_that_allows_it() -> None:
    (fault,) = record_from_texts(WHO | {"height": "1750"}, "test")[1]
    assert "1750 mm" in fault[1]
    assert "main;centre" in fault[1]


def read(folder: Path, header: str, cell: str, column: str) -> tuple[object, list[str]]:
    file = folder / "theirs.csv"
    file.write_text(f"maker;model;roles;currency;{header}\nOatfell;Wren;centre;;{cell}\n", encoding="utf-8")
    reading = read_loudspeakers(file, {header: column})
    told = [problem.complaint for problem in reading.problems]
    return (getattr(reading.records[0], column) if reading.records else None), told


@pytest.mark.parametrize(
    ("header", "cell", "column", "value"),
    [
        ("Width (cm)", "45", "width", 0.45),
        ("Width [mm]", "450", "width", 0.45),
        ("Width (cm)", "450 mm", "width", 0.45),
        ("Depth in", "12 1/2", "depth", 0.3175),
        ("Height, cm", "15,5", "height", 0.155),
        ("Weight (lb)", "10", "weight", 4.5359237),
        ("Xover (kHz)", "0.35 / 2.5", "crossover", (350.0, 2500.0)),
        ("Width (grille on)", "450", "width", 0.45),
        ("Price (USD)", "500", "price", 500),
    ],
)
def test_the_unit_of_a_header_is_taken(tmp_path: Path, header: str, cell: str, column: str, value: object) -> None:
    found, told = read(tmp_path, header, cell, column)
    assert told == []
    assert found == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(("header", "column"), [("Width (kg)", "width"), ("Efficiency (%)", "sensitivity")])
def test_a_header_in_a_unit_of_another_kind_is_refused(tmp_path: Path, header: str, column: str) -> None:
    found, told = read(tmp_path, header, "45", column)
    assert found is None
    assert any(header in complaint and "map it to another column" in complaint for complaint in told)
