"""Every number of a text ends as a figure, inferred, refused, a condition, a name's, or listed as not read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.catalog.datasheet.corpus_check import CORPUS, FOLDERS, sheets
from tests.catalog.datasheet.corpus_check import Sheet as Invented
from tests.catalog.datasheet.test_properties import LINES, MARKS, TOKENS
from triptych.catalog.datasheet import Fate, ReadSheet, ReadStatus, read_datasheet


def accounted(sheet: ReadSheet) -> None:
    """No digit is in no number, no number is twice, and what is a figure's is one of its columns'."""
    covered = [place for number in sheet.numbers for place in range(number.start, number.end)]
    assert len(covered) == len(set(covered))
    digits = {place for place, character in enumerate(sheet.text) if character.isdecimal()}
    assert digits <= set(covered)
    for number in sheet.numbers:
        assert number.text == sheet.text[number.start : number.end]
        assert bool(number.columns) != (number.fate is Fate.NOT_READ)
        assert number.why or number.fate is not Fate.REFUSED
        statuses = {
            record.fields[name].status for record in sheet.records for name in number.columns if name in record.fields
        }
        wanted = {Fate.FIGURE: ReadStatus.READ, Fate.INFERRED: ReadStatus.INFERRED, Fate.REFUSED: ReadStatus.REFUSED}
        assert number.fate not in wanted or wanted[number.fate] in statuses


@pytest.mark.examples
@pytest.mark.parametrize("folder", FOLDERS)
def test_every_number_of_a_sheet_is_accounted_for(folder: str) -> None:
    for sheet in sheets(folder):
        _accounted_whole(sheet)


def _accounted_whole(sheet: Invented) -> None:
    read = read_datasheet(sheet.text)
    accounted(read)
    # reading a text never loses a digit of it, but for the raised marks of its footnotes
    assert sum(map(str.isdecimal, read.text)) >= sum(map(str.isdecimal, sheet.text)), sheet.name


@pytest.mark.slow
@given(st.lists(st.one_of(st.sampled_from(TOKENS), st.sampled_from(MARKS)), max_size=40))
def test_so_is_every_number_of_a_soup_of_words(tokens: list[str]) -> None:
    accounted(read_datasheet(" ".join(tokens)))
    accounted(read_datasheet("".join(tokens)))


BETWEEN = (" ", "\n", "\n\n", "\t", "   ", ", ", " | ", "; ")
"""What parts words, cells and lines."""


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(st.one_of(st.sampled_from(TOKENS), st.sampled_from(MARKS)), st.sampled_from(BETWEEN)), max_size=60
    )
)
def test_so_is_every_number_of_what_only_looks_like_tables(words: list[tuple[str, str]]) -> None:
    accounted(read_datasheet("".join(map("".join, words))))


@pytest.mark.slow
@given(
    st.lists(st.sampled_from(LINES), min_size=1, max_size=8), st.sampled_from(["\n", "\n\n", "   ", "\t", "; ", " | "])
)
def test_so_is_every_number_of_lines_put_together(lines: list[str], between: str) -> None:
    accounted(read_datasheet(between.join(lines)))


@pytest.mark.examples
@given(st.text(max_size=300))
def test_so_is_every_number_of_any_text(text: str) -> None:
    accounted(read_datasheet(text))


@pytest.mark.parametrize("page", sorted((CORPUS / "open").glob("*.html")), ids=lambda page: page.stem)
def test_so_is_every_number_that_a_page_shows(page: Path) -> None:
    accounted(read_datasheet(page.read_text("utf-8")))


def test_a_number_is_told_with_what_it_became() -> None:
    sheet = read_datasheet(
        "Wren 3\nWidth: 546 mm\nSensitivity: 88 dB (2.83 V/1 m)\nImpedance: 4-8 ohms\nMade since 1987"
    )
    assert [(number.text, number.fate.value) for number in sheet.numbers] == [
        ("3", "name"),
        ("546", "figure"),
        ("88", "figure"),
        ("2.83", "condition"),
        ("1", "condition"),
        ("4", "refused"),
        ("8", "refused"),
        ("1987", "not read"),
    ]
