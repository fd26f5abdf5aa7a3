"""Every label and word of the trade in each language, as a line of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.catalog.datasheet.score import same_value
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.fields import COLUMNS, LOUDSPEAKER

LINES = [
    line.rsplit(" || ", 1)
    for line in (Path(__file__).parent / "words.txt").read_text("utf-8").splitlines()
    if line and not line.startswith("#")
]


def _wrong(text: str, told: str) -> list[str]:
    """What a line is read for against what it tells."""
    fields = read_datasheet(f"Oatfell Wren 3\n\n{text}").records[0].fields
    if told == "silent":
        return [
            f"{text!r}: {name} = {found.value!r} without a note"
            for name, found in fields.items()
            if name in LOUDSPEAKER and found.value is not None and not found.flags
        ]
    wrong = []
    for column, value in (one.split("=") for one in told.split("; ")):
        found = fields.get(column)
        read = None if found is None or found.value is None else COLUMNS[column].plain(found.value)
        if (read is not None) if value == "-" else (read is None or not same_value(column, value, read)):
            wrong.append(f"{text!r}: {column} = {read!r}, not {value}")
    return wrong


@pytest.mark.slow
def test_every_word_of_the_trade_is_read() -> None:
    """Practice of the trade, no source: what makers call their figures in seven languages, written by hand."""
    assert len(LINES) > 500
    assert not [wrong for text, told in LINES for wrong in _wrong(text, told)]
