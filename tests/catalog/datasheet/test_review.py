"""A datasheet is looked through before anything of it is stored; what a person says is the person's."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from triptych.catalog.cli import datasheet, speaker
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.errors import BadInput

TEXT = """Maker: Oatfell
Model: Wren Tower
Type: floorstanding, rear ported
Weight: 31.3 lbs each (shipping 36 lbs)
Impedance: 4-8 ohms
Sensitivity: 88 dB (1 W/1 m)
Crossover: 300 Hz, 2.4 kHz
Designed in 1998
"""
RANGE = """Oatfell Wren range
                Wren Shelf      Wren Tower      Wren Centre
Weight          6.2 kg          20.4 kg         10.2 kg
Impedance       8 ohm           4 ohm           6 ohm
Depth           240 mm          310 mm          270 mm
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRIPTYCH_DB", str(tmp_path / "some.db"))
    (tmp_path / "wren.txt").write_text(TEXT, encoding="utf-8")
    (tmp_path / "range.txt").write_text(RANGE, encoding="utf-8")
    return tmp_path


def read(folder: Path, *arguments: str, answers: str = "", file: str = "wren.txt") -> Result:
    return CliRunner().invoke(datasheet.app, ["read", str(folder / file), *arguments], input=answers)


def shown(name: str) -> dict[str, object]:
    told = json.loads(CliRunner().invoke(speaker.app, ["show", name, "--format", "json"]).stdout)
    assert isinstance(told, dict)
    return told


def test_the_text_stands_beside_the_figures_with_what_was_read_marked(folder: Path) -> None:
    told = read(folder, "--review", answers="\n" * 9).stdout.splitlines()
    at = next(number for number, line in enumerate(told) if line.startswith("Weight: 31.3"))
    assert told[at].endswith("weight 14.2 kg")
    assert told[at + 1] == " " * 8 + "^" * 4
    years = next(number for number, line in enumerate(told) if line == "Designed in 1998")
    assert told[years + 1] == " " * 12 + "!" * 4


@pytest.mark.whole
def test_an_answer_revives_what_hung_on_it_and_is_stored_as_the_user_s(folder: Path) -> None:
    # the impedance is asked; with it the sensitivity, stated for a watt, can be told for 2.83 V
    result = read(folder, "--review", answers="4 ohm\n" + "\n" * 5 + "y\n")
    assert "sensitivity: refused" in result.stderr
    assert "-> 91.01 dB" in result.stderr
    assert result.exit_code == 0, result.stderr
    figures = shown("Oatfell Wren Tower")["figures"]
    assert isinstance(figures, dict)
    assert (figures["impedance_nominal"]["source"], figures["impedance_nominal"]["raw"]) == ("given by hand", "4 ohm")
    assert figures["sensitivity"]["source"] == "wren.txt"


def test_a_correction_is_seen_before_it_is_stored(folder: Path) -> None:
    result = read(folder, "--review", answers="\n" * 2 + "weight=14.2 kg\n" + "\n" * 4 + "n\n")
    assert "weight: 14.2 kg -> 14.2 kg" in result.stderr
    assert "given by hand" in result.stdout
    assert CliRunner().invoke(speaker.app, ["list"]).stdout == ""


@pytest.mark.whole
def test_what_a_choice_rests_on_is_asked_where_the_sheet_is_silent(folder: Path) -> None:
    result = read(folder, "--review", answers="\n" * 2 + "MTM\n" + "5 1/4 in\n" + "\n" * 2 + "y\n")
    assert "layout: in which order do its drivers stand" in result.stderr
    assert "sensitivity_basis" not in result.stderr  # the sensitivity itself is asked about first
    figures = shown("Oatfell Wren Tower")
    assert figures["layout"] == "MTM"
    assert read(folder, "--review", "--set", "impedance_nominal=4 ohm", answers="half_space\n" + "\n" * 9).stderr.count(
        "in which field was the sensitivity stated"
    )


def test_a_wrong_answer_is_asked_again(folder: Path) -> None:
    result = read(folder, "--review", answers="about four\n4 ohm\n" + "\n" * 8)
    assert "'about four' is no quantity" in result.stderr
    assert "impedance_nominal: refused" in result.stderr


def test_words_keep_where_they_come_from_as_figures_do(folder: Path) -> None:
    assert read(folder, "--save", "--yes", "--set", "port_location=front").exit_code == 0
    figures = shown("Oatfell Wren Tower")["figures"]
    assert isinstance(figures, dict)
    assert figures["enclosure"] | {"raw": ""} == {"raw": "", "source": "wren.txt", "evidence": "stated", "flags": []}
    assert figures["roles"]["flags"][0] == "inferred"
    assert (figures["port_location"]["source"], figures["port_location"]["raw"]) == ("given by hand", "front")


def test_what_was_typed_is_shown_as_typed(folder: Path) -> None:
    told = read(folder, "--set", "weight=31 lb", "--set", "depth=310").stdout
    assert "31 lb " in told
    assert "310 mm" in told
    assert "14.06" not in told


def test_a_review_needs_somebody_to_ask(folder: Path) -> None:
    for arguments in (["-", "--review"], ["x", "--review", "--yes"], ["x", "--review", "--format", "json"]):
        assert CliRunner().invoke(datasheet.app, ["read", *arguments]).exit_code == 2


def test_models_names_the_columns_to_take(folder: Path) -> None:
    told = json.loads(read(folder, "--models", "Wren Centre, Wren Shelf", "--format", "json", file="range.txt").stdout)
    assert [one["fields"]["weight"]["value"] for one in told["records"]] == [10.2, 6.2]


def test_a_model_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(BadInput, match="called 'Robin'; there are: Wren Shelf, Wren Tower, Wren Centre"):
        read_datasheet(RANGE, models=["Robin"])


@pytest.mark.parametrize("gap", ["   ", "\t"])
def test_columns_that_only_a_person_knows_are_read_under_their_names(gap: str) -> None:
    rows = (("data", "b6", "t6"), ("Weight", "6.2 kg", "20.4 kg"), ("Impedance", "8 ohm", "4 ohm"))
    found = read_datasheet("\n".join(gap.join(cell.ljust(12) for cell in row) for row in rows), models=["t6"])
    assert [one.values["weight"] for one in found.records] == [20.4]


def test_one_says_that_it_is_one_loudspeaker() -> None:
    text = "Wren Upper\nWeight: 10 kg\nDepth: 300 mm\nImpedance: 8 ohm\n\nWren Lower\nWeight: 10 kg\nDepth: 300 mm\n"
    text += "Impedance: 8 ohm\nSensitivity: 88 dB (2.83 V/1 m)"
    assert len(read_datasheet(text).records) == 2
    [record] = read_datasheet(text, one=True).records
    assert (record.values["weight"], record.values["sensitivity"]) == (10.0, 88.0)


def test_a_loudspeaker_is_added_from_a_sheet_of_several_by_its_name(folder: Path) -> None:
    arguments = ["add", "--from", str(folder / "range.txt"), "--model", "Wren Tower", "--roles", "main"]
    result = CliRunner().invoke(speaker.app, [*arguments, "--maker", "Oatfell"])
    assert result.exit_code == 0, result.stderr
    assert shown("Oatfell Wren Tower")["weight"] == 20.4


def test_what_is_said_of_each_is_each_one_s() -> None:
    found = read_datasheet(RANGE, [{"weight": "6 kg"}, {}, {"weight": "10 kg"}])
    assert [one.values["weight"] for one in found.records] == [6.0, 20.4, 10.0]


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("Depth: 546 mm carton", "depth"),
        ("Impedance: stable to 4 ohm", "impedance_nominal"),
        ("Weight: 2 x 14.2 kg", "weight"),
    ],
)
def test_a_line_that_is_about_something_else_is_refused(line: str, column: str) -> None:
    [record] = read_datasheet(f"Width: 500 mm\n{line}").records
    assert record.fields[column].value is None
