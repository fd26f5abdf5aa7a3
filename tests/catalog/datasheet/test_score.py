"""How well the open sheets are read: nothing silently wrong, at most ten wrong with a note, and most of it read."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from tests.catalog.datasheet.corpus_check import sheets
from tests.catalog.datasheet.score import Score, lines, score


def read(scores: Sequence[Score]) -> float:
    """The share of the stated figures that is read."""
    stated = [judged for one in scores for judged in one.judged if judged.stated]
    return sum(judged.outcome == "right" for judged in stated) / len(stated)


def wrong(scores: Sequence[Score], outcome: str) -> list[str]:
    return [f"{one.name}: {judged}" for one in scores for judged in one.judged if judged.outcome == outcome]


@pytest.mark.examples
@pytest.mark.parametrize("folder", ["open", "fresh", "fresh2", "fresh3", "fresh4", "aside6"])
def test_the_open_sheets_are_read_as_well_as_is_wanted(folder: str) -> None:
    scores = [score(sheet) for sheet in sheets(folder)]
    assert wrong(scores, "silently wrong") == []
    assert len(wrong(scores, "wrong with a note")) <= 10
    assert read(scores) > 0.85
    assert read([one for one in scores if one.tidy]) > 0.95
    assert read([one for one in scores if one.several]) > 0.75


@pytest.mark.examples
@pytest.mark.parametrize("folder", ["kept", "kept2", "fresh2/aside", "several", "aside5", "solo", "solo/aside"])
def test_the_sheets_that_were_aside_once_are_read_no_worse_than_since_they_were_opened(folder: str) -> None:
    scores = [score(sheet) for sheet in sheets(folder)]
    assert len(wrong(scores, "silently wrong")) <= (folder == "kept")  # a price of the past beside a list price
    assert len(wrong(scores, "wrong with a note")) <= 10
    assert read(scores) > 0.85


@pytest.mark.examples
@pytest.mark.parametrize(
    ("folder", "share", "silent", "noted"),
    [
        ("aside7", 0.81, 2, 26),
        ("aside8", 0.87, 1, 13),
        ("aside9", 0.80, 0, 10),
        ("learn10", 0.93, 0, 15),
        ("aside11", 0.79, 0, 13),
        ("aside12", 0.85, 0, 1),
        ("learn12", 0.77, 0, 6),
    ],
)
def test_the_sheets_that_fall_short_are_read_no_worse_than_they_were(
    folder: str, share: float, silent: int, noted: int
) -> None:
    scores = [score(sheet) for sheet in sheets(folder)]
    assert read(scores) > share
    assert len(wrong(scores, "silently wrong")) <= silent
    assert len(wrong(scores, "wrong with a note")) <= noted


@pytest.mark.slow
def test_the_single_lines_are_read_as_a_practitioner_reads_them() -> None:
    scores = [score(line) for line in lines()]
    assert wrong(scores, "silently wrong") == []
    assert len(wrong(scores, "wrong with a note")) <= 1
    assert read(scores) > 0.95
