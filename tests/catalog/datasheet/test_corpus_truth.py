"""The invented datasheets account for every number that they hold."""

import tomllib
from itertools import takewhile
from pathlib import Path

import pytest

from tests.catalog.datasheet.corpus_check import (
    ASIDE,
    COLUMNS,
    CORPUS,
    FOLDERS,
    Sheet,
    complaints,
    paths,
    sheet_at,
    unaccounted,
)

ALL = [path for folder in FOLDERS for path in paths(folder)]
LINES = tomllib.loads((CORPUS / "lines.toml").read_text("utf-8"))["line"]


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_a_sheet_is_accounted_for(path: Path) -> None:
    assert complaints(sheet_at(path)) == []


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["text"][:30])
def test_a_line_is_accounted_for(line: dict[str, object]) -> None:
    who = {key: line[key] for key in ("figures", "also", "said", "may_refuse") if key in line}
    truth = {"kind": "manual", "language": "en-GB", "loudspeaker": [who], "trap": line.get("trap", [])}
    assert complaints(Sheet("line", str(line["text"]), truth)) == []


def test_the_columns_are_those_of_a_loudspeaker_file() -> None:
    header = (CORPUS.parents[3] / "seed_data" / "loudspeakers.csv").read_text().split("\n", 1)[0].split(",")
    assert set(header) - {"maker", "model", "series", "family"} == COLUMNS


def test_one_third_is_kept_by_number() -> None:
    kept = {_number(path) for folder in ASIDE for path in (CORPUS / folder).iterdir()}
    opened = {
        _number(path)
        for folder in ("open", "fresh", "fresh2", "fresh3", "fresh4")
        for path in (CORPUS / folder).glob("*.*")
    }
    assert all(number % 3 == 0 for number in kept)
    assert all(number % 3 != 0 for number in opened)
    assert len(kept) + len(opened) >= 180


def _number(path: Path) -> int:
    return int("".join(takewhile(str.isdecimal, path.name)))


def test_a_number_that_nobody_explains_is_told() -> None:
    who = {"maker": "Quarry Finch", "model": "Lintel", "figures": {"width": "178 mm"}}
    sheet = Sheet("x", "Quarry Finch Lintel, 17,8 cm wide, since 2019", {"loudspeaker": [who]})
    assert [complaint[-6:-1] for complaint in unaccounted(sheet)] == [" 2019"]
