"""Cells of a file that say more than a figure are read as a datasheet's, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from triptych.catalog.datasheet import read_cell
from triptych.catalog.files.loudspeakers import Reading, read_loudspeakers
from triptych.catalog.files.tables import csv_text


def reading(folder: Path, cells: dict[str, str]) -> Reading:
    named = {"maker": "Oatfell", "model": "Wren", "roles": "main"} | cells
    path = folder / "shop.csv"
    path.write_bytes(csv_text([list(named), list(named.values())]).encode())
    return read_loudspeakers(path)


# what a practitioner reads; common practice, no source
@pytest.mark.parametrize(
    ("column", "text", "read"),
    [
        ("weight", "16 kg (pair)", {"weight": 8.0}),
        ("woofer_size", '2 x 130 mm (5 1/4")', {"woofer_size": 0.13, "woofer_count": 2}),
        ("woofer_count", 'twin 5"', {"woofer_size": 0.127, "woofer_count": 2}),
        ("tweeter_size", '1 x 25 mm (1")', {"tweeter_size": 0.025}),
        ("weight", "31.4 lbs (ship 36 lbs)", {"weight": 14.242800418}),
        ("weight", "14.2 kg each", {"weight": 14.2}),
        ("weight", "14.2 kg net", {"weight": 14.2}),
        ("amplifier_min", "25-150 W", {"amplifier_min": 25.0, "amplifier_max": 150.0}),
        ("amplifier_max", "25 to 150 watts", {"amplifier_min": 25.0, "amplifier_max": 150.0}),
        ("low_limit", "45Hz-24kHz", {"low_limit": 45.0, "high_limit": 24000.0}),
        ("low_limit", "45 Hz (-6 dB)", {"low_limit": 45.0, "low_limit_drop": 6.0}),
        ("low_limit", "-6 dB @ 45 Hz", {"low_limit": 45.0, "low_limit_drop": 6.0}),
        ("low_limit", "45 Hz ± 3 dB", {"low_limit": 45.0, "low_limit_drop": 3.0}),
        ("crossover", "2.4 kHz (24 dB/oct)", {"crossover": (2400.0,), "crossover_order": 4}),
        ("tweeter_type", "silk dome", {"tweeter_type": "dome", "tweeter_material": "silk"}),
    ],
)
def test_a_cell_says_what_a_datasheet_would(column: str, text: str, read: dict[str, object], tmp_path: Path) -> None:
    found = reading(tmp_path, {column: text})
    assert found.problems == ()
    (record,) = found.records
    told = {name: getattr(getattr(record, name), "value", getattr(record, name)) for name in read}
    assert told == pytest.approx(read) if all(isinstance(one, float) for one in read.values()) else told == read
    assert any(repr(text) in remark for remark in found.remarks)
    raws = {name: figure.raw for name, figure in record.figures.items() if name != "roles"}
    assert set(raws.values()) <= {text}


def test_what_is_concluded_is_stored_as_such(tmp_path: Path) -> None:
    (record,) = reading(tmp_path, {"weight": "16 kg (pair)"}).records
    assert record.figures["weight"].flags == ("inferred", "stated for a pair; half of it")


def test_another_cell_of_the_row_stands_above_what_a_cell_says_beside(tmp_path: Path) -> None:
    (record,) = reading(tmp_path, {"crossover": "2.4 kHz (24 dB/oct)", "crossover_order": "2"}).records
    assert record.crossover_order == 2


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("weight", "2 x 14.2 kg"),
        ("weight", "14 kg boxed"),
        ("weight", "14 kg, see drawing"),
        ("low_limit", "45-24000"),
        ("low_limit", "45 Hz²"),
        ("low_limit", "45 Hz in room"),
        ("amplifier_max", "100 W peak"),
        ("crossover", "80 Hz to 3 kHz variable"),
        ("tweeter_type", "horn or ribbon"),
        ("width", "546 mm (with feet)"),
        ("width", "x" * 500),
    ],
)
def test_what_leaves_anything_over_is_refused(column: str, text: str, tmp_path: Path) -> None:
    assert read_cell(column, text) is None
    found = reading(tmp_path, {column: text})
    assert not found.records
    assert found.problems[0].column == f"column {column}"
