"""A file read by column says of each row what the row says by itself, and leaves what is odd to be read so."""

from __future__ import annotations

import csv
import dataclasses
from importlib.resources import files
from pathlib import Path
from random import Random

import pytest

from tests.quick_ones import quick_of
from triptych.catalog.consistency import UNKNOWN, broken, disagreeing
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files import loudspeakers
from triptych.catalog.files.by_column import records_of
from triptych.catalog.files.cells import Row
from triptych.catalog.files.headed_sheet import HeadedSheet
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import values_of

STRANGE = (
    "", "unknown", "-", "?", "n/a", "0", "-1", "1e400", "nan", "1,5", "1.200", "1/2 in", "12 m", "3 dB", "4 Ω", "yes",
    "no", "maybe", "sealed", "ported", "none", "front", "EUR", "€ 12", "12 USD", "JPY", "12.345", "pair", "each",
    "main", "main;centre", "centre", "sub", "W-T-W", "MTM", "TMWW", "40 / 300", "300/40", "90 x 40", "2 x 130 mm",
    "=1+1", "\u202e", "a\u200bb", "\x07", "lying", "upright", "discontinued", "1" * 400, "a" * 3_000, "  ",
    "165 mm (6.5 in)",
)  # fmt: skip
"""What people write and what nobody should, under any header."""


def rows_of_seed() -> tuple[list[str], list[list[str]]]:
    with (files("triptych.seed_data") / "loudspeakers.csv").open(encoding="utf-8") as stream:
        header, *rows = csv.reader(stream)
    return header, rows


def scribbled(path: Path, seed: int, unit: str = "") -> dict[str, str]:
    """Write the seed's loudspeakers three times over, some rows with a strange cell or two, short or long.

    Two heads have a unit where one is given, and are told to be columns by what comes back.
    """
    chance = Random(seed)
    header, rows = rows_of_seed()
    model = header.index("model")
    order = chance.sample(range(len(header)), len(header))
    dropped = {at for at in order if header[at] not in ("maker", "model", "roles") and chance.random() < 0.1}
    order = [at for at in order if at not in dropped]
    heads = [header[at] + unit * (header[at] in ("width", "depth")) for at in order]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(heads)
        for number in range(3):
            for row in rows:
                cells = list(row)
                cells[model] += f" {number}"
                for _ in range(chance.choice((0, 0, 0, 1, 1, 2))):
                    cells[chance.randrange(len(cells))] = chance.choice(STRANGE)
                cells = [cells[at] for at in order]
                writer.writerow(chance.choice((cells, cells, cells, cells[:-7], [*cells, "", ""], [*cells, "more"])))
    return {head: head.removesuffix(unit) for head in heads if unit and head.endswith(unit)}


@pytest.mark.parametrize("seed", quick_of(range(3), [0], "slow"))
def test_by_column_and_row_by_row_the_same_is_read_and_told(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "rows.csv"
    mapping = scribbled(path, seed, " (mm)")
    monkeypatch.setattr(loudspeakers, "_AT_ONCE", 50)
    by_row: list[Row] = []

    def counted(sheet: HeadedSheet, rows: list[Row]) -> list[LoudspeakerRecord | None]:
        made = records_of(sheet, rows)
        by_row.extend(row for row, one in zip(rows, made, strict=True) if one is None)
        return made

    monkeypatch.setattr(loudspeakers, "records_of", counted)
    found = read_loudspeakers(path, mapping)
    monkeypatch.setattr(loudspeakers, "records_of", lambda sheet, rows: [None] * len(rows))
    alone = read_loudspeakers(path, mapping)
    assert alone.header_good
    assert 40 < len(alone.refused) < 180
    assert len(alone.records) > 40
    # all that is told has its row by itself, and next to nothing else has
    assert len(by_row) <= len(alone.refused) + sum("more" in row.cells or bool(row.complaints) for row in by_row) + 5
    for name in ("problems", "remarks", "refused", "cleared", "header_good"):
        assert getattr(found, name) == getattr(alone, name)
    assert [repr(record) for record in found.records] == [repr(record) for record in alone.records]
    assert [list(record.figures) for record in found.records] == [list(record.figures) for record in alone.records]


def test_the_record_takes_what_it_is_made_of_in_the_order_of_the_columns() -> None:
    assert [field.name for field in dataclasses.fields(LoudspeakerRecord)] == [*COLUMNS, "figures"]


def test_what_disagrees_is_found_by_column_as_by_row(tmp_path: Path) -> None:
    known = read_loudspeakers(Path(str(files("triptych.seed_data") / "loudspeakers.csv"))).records
    rows = [{**UNKNOWN, **values_of(record)} for record in known]
    chance = Random(5)
    for row in rows:
        name = chance.choice(list(COLUMNS))
        row[name] = chance.choice(rows)[name]
        if isinstance(row[name], float):
            row[name] *= chance.choice((-1.0, 0.0, 1.0, 100.0))
    columns = {name: [row[name] for row in rows] for name in COLUMNS}
    wrong = {at for at, row in enumerate(rows) if broken(row)}
    assert 5 < len(wrong) < len(rows) - 5
    assert disagreeing(columns) == wrong
