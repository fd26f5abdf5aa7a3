from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from triptych.catalog.cli import makers, room, speaker
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import Amplifier, Back, Hot, Money, Place, PlaceKind, Screen, Seat, WallKind

MILL = """
name = "Mill House"
[screen]
diagonal = "65 in"
aspect = "16:9"
[[seat]]
name = "middle"
distance = "3.0 m"
[[place]]
name = "bay"
kind = "cavity"
width = "640 mm"
[money]
centre = 700
currency = "EUR"
"""

ANSWERS = [
    *("", "Mill House"),
    *("65 in", "flat", "16:9", "820", ""),
    *("Oatfell Linden Tower", "2.6 m", "unknown", "12", ""),
    *("", "middle", "", "x", "3 m", "1.02 m", ""),
    *("MIDDLE", "left", "-65 cm", "3 m", "", "no"),
    "",
    *("right", "Middle"),
    *("bay", "nook", "cavity", "64 cm", "21 cm", "38 cm", "340", "520", "closed", "18", "unknown"),
    *("beam", "wall", "", "", "", "", "", "", "", "stud"),
    "",
    *("95", "8", "6", "12"),
    *("", "", "yes"),
    *("700", "eur", "no"),
]

Run = Callable[..., Any]


@pytest.fixture
def run(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    monkeypatch.setenv("COLUMNS", "80")

    def invoke(*arguments: str, answers: list[str] | None = None) -> Any:
        text = None if answers is None else "".join(f"{answer}\n" for answer in answers)
        result = CliRunner().invoke(room.app, list(arguments), input=text)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return invoke


@pytest.fixture
def mill(tmp_path: Path) -> Path:
    path = tmp_path / "mill.toml"
    path.write_text(MILL, encoding="utf-8")
    return path


def test_a_room_comes_in_and_goes_out_identical(run: Run, mill: Path, tmp_path: Path) -> None:
    assert run("import", str(mill)).stderr == "added: Mill House\n"
    assert run("import", str(mill)).stderr == "unchanged: Mill House\n"
    record = room_from_toml(MILL, "mill")
    assert room_from_toml(run("export", "mill house").stdout, "out") == record
    out = tmp_path / "out.toml"
    assert run("export", "mill house", str(out)).stderr == f"wrote Mill House to {out}\n"
    assert room_from_toml(out.read_text(encoding="utf-8"), "out") == record
    assert run("import", str(out)).stderr == "unchanged: Mill House\n"


def test_a_changed_room_replaces_the_old_one(run: Run, mill: Path) -> None:
    run("import", str(mill))
    mill.write_text(MILL.replace("Mill House", "MILL house").replace("640", "700"), encoding="utf-8")
    assert run("import", str(mill)).stderr == "replaced: MILL house\n"
    assert len(json.loads(run("list", "-f", "json").stdout)["rooms"]) == 1


def test_a_bad_room_is_refused_whole(run: Run, mill: Path) -> None:
    mill.write_text(MILL.replace("640 mm", "wide").replace('"cavity"', '"hole"'), encoding="utf-8")
    result = run("import", str(mill))
    assert (result.exit_code, result.stdout) == (1, "")
    assert "mill.toml, [[place]] 1 'bay', kind: 'hole' is none of" in result.stderr
    assert "mill.toml, [[place]] 1 'bay', width: 'wide' is no quantity" in result.stderr
    assert json.loads(run("list", "-f", "json").stdout) == {"rooms": []}


def test_a_dry_run_only_checks(run: Run, mill: Path) -> None:
    assert "is a good room: Mill House" in run("import", str(mill), "--dry-run").stderr
    assert run("list").stderr.startswith("no room yet")


@pytest.mark.whole
def test_mains_that_no_catalogue_has_are_told_and_may_come_later(run: Run, mill: Path) -> None:
    named = MILL.replace("[[seat]]", '[mains]\nspeaker = "Oatfell Linden Towr"\n[[seat]]')
    mill.write_text(named, encoding="utf-8")
    tower = ["add", "--maker", "Oatfell", "--series", "Linden", "--model", "Tower", "--roles", "main"]
    added = CliRunner().invoke(speaker.app, tower)
    assert added.exit_code == 0, added.output
    for command in (("import", str(mill)), ("import", str(mill), "--dry-run")):
        said = run(*command)
        assert said.exit_code == 0
        assert "warning: no loudspeaker is named 'Oatfell Linden Towr'" in said.stderr
        assert "Oatfell Linden Tower" in said.stderr
    mended = run("edit", "mill house", "--set", "mains.speaker=Oatfell Linden Tower")
    assert mended.stderr == "changed: Mill House\n"
    assert "warning" in run("edit", "mill house", "--set", "mains.speaker=Nobody").stderr


def test_show_in_every_form(run: Run, mill: Path) -> None:
    run("import", str(mill))
    text = run("show", "MILL HOUSE").stdout
    assert max(map(len, text.splitlines())) <= 80
    assert "1651 mm" in text
    values = json.loads(run("show", "mill house", "--format", "json").stdout)
    assert (values["screen"]["diagonal"], values["units"]["screen.diagonal"]) == (1651.0, "mm")
    assert (values["place"][0]["hot"], values["place"][0]["load"], values["amplifier"]) == (False, None, None)
    assert values["seat"][0]["primary"] is True
    rows = list(csv.DictReader(io.StringIO(run("show", "mill house", "-f", "csv").stdout)))
    assert {"section": "place 1", "key": "width", "value": "640 mm"} in rows
    assert {"section": "place 1", "key": "load", "value": "unknown"} in rows


def test_list_in_every_form(run: Run, mill: Path) -> None:
    run("import", str(mill))
    assert json.loads(run("list", "-f", "json").stdout) == {"rooms": [{"name": "Mill House", "seats": 1, "places": 1}]}
    assert run("list", "-f", "csv").stdout == "room,seats,places\nMill House,1,1\n"
    assert "Mill House" in run("list").stdout


@pytest.mark.parametrize("command", ["show", "export"])
def test_an_unknown_room_is_answered_with_the_nearest(run: Run, mill: Path, command: str) -> None:
    run("import", str(mill))
    result = run(command, "Mil House")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "Mill House" in result.stderr


@pytest.fixture
def tower(run: Run) -> None:
    named = ["--maker", "Oatfell", "--series", "Linden", "--model", "Tower", "--roles", "main"]
    assert CliRunner().invoke(speaker.app, ["add", *named]).exit_code == 0


@pytest.mark.usefixtures("tower")
def test_a_room_is_asked_for_question_by_question(run: Run) -> None:
    result = run("new", answers=ANSWERS)
    assert (result.exit_code, result.stdout) == (0, "")
    assert "this one is needed" in result.stderr
    assert "'flat' is no shape of a picture" in result.stderr
    assert "is taken; give another name" in result.stderr
    assert "is none of middle, left" in result.stderr
    assert "'nook' is none of cavity" in result.stderr
    found = room_from_toml(run("export", "mill house").stdout, "out")
    assert found.screen == Screen(diagonal=65 * 0.0254, aspect="16:9", bottom=0.82)
    assert (found.mains.speaker, found.mains.from_wall, found.mains.toe_in) == ("Oatfell Linden Tower", None, 12.0)
    assert found.seats == (
        Seat("middle", 3.0, ear_height=1.02, primary=True),
        Seat("left", 3.0, x=-0.65, regular=False),
    )
    assert found.places == (
        Place(
            "bay", PlaceKind.CAVITY, width=0.64, height=0.21, depth=0.38, base=0.34, front=0.52, back=Back.CLOSED,
            load=18.0, hot=Hot.UNKNOWN,
        ),
        Place("beam", PlaceKind.WALL, wall=WallKind.STUD),
    )  # fmt: skip
    assert found.amplifier == Amplifier(95.0, 8.0, 6.0, 12.0)
    assert found.listening.needs_real_centre
    assert found.money == Money(centre=found.money.centre if found.money else None, currency="EUR", tax_included=False)


def test_answers_that_disagree_are_asked_again(run: Run) -> None:
    picture = ["65 in", "", "", "", "", "", "65 in", "16:9", "", ""]
    rest = ["", "", "", "", "", "", "a", "", "3 m", "", "", "", "shelf", "top", *[""] * 25]
    result = run("new", answers=["Mill House", *picture, *rest])
    assert "aspect is not there beside a diagonal" in result.stderr
    assert result.exit_code == 0


def test_a_room_without_a_place_is_asked_for_one(run: Run) -> None:
    answers = ["Mill House", *[""] * 11, "a", "", "3 m", "", "", "", *[""] * 3]
    result = run("new", answers=answers)
    assert (result.exit_code, "Name of place 1: \n  this one is needed" in result.stderr) == (1, True)
    assert json.loads(run("list", "-f", "json").stdout) == {"rooms": []}


@pytest.mark.usefixtures("tower")
def test_mains_of_no_catalogue_are_refused_with_the_near_ones(run: Run) -> None:
    result = run("new", answers=["Mill House", *[""] * 5, "Oatfell Lindn Tower"])
    assert result.exit_code == 1
    assert "no loudspeaker is named 'Oatfell Lindn Tower'; the nearest: 'Oatfell Linden Tower'" in result.stderr
    assert json.loads(run("list", "-f", "json").stdout) == {"rooms": []}


@pytest.mark.usefixtures("tower")
def test_at_a_terminal_the_mains_are_asked_for_again(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(makers, "somebody_there", lambda: True)
    result = run("new", answers=["Mill House", *[""] * 5, "78 cm", "oatfell linden tower", ""])
    assert result.stderr.count("maker, series and model as in the catalogue") == 2
    assert "Distance between them" in result.stderr


@pytest.mark.usefixtures("tower")
@pytest.mark.parametrize("count", [0, 1, 10, len(ANSWERS) - 1])
def test_input_that_ends_early_writes_nothing(run: Run, count: int) -> None:
    result = run("new", answers=ANSWERS[:count])
    assert result.exit_code == 1
    assert "the input ends before the answer to" in result.stderr
    assert json.loads(run("list", "-f", "json").stdout) == {"rooms": []}


def test_a_room_of_that_name_is_not_asked_over(run: Run, mill: Path) -> None:
    run("import", str(mill))
    result = run("new", answers=["mill HOUSE"])
    assert "is taken; give another name" in result.stderr
    assert room_from_toml(run("export", "mill house").stdout, "out") == room_from_toml(MILL, "mill")
