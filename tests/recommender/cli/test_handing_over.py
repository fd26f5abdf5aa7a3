"""`triptych sheet`, `report` and `verify` through what they write and print."""

from __future__ import annotations

import functools
import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from tests.recommender.report.made import BUDGET, Page
from tests.recommender.verify.in_room import FLAT, GRID, ROOM, hole
from triptych.catalog.cli.options import application
from triptych.catalog.database import as_built
from triptych.catalog.errors import DatabaseProblem
from triptych.recommender.cli import report, sheet, verify

pytestmark = pytest.mark.whole

CENTRE = "Bramble Thatch Trivet Stacked Centre"


@functools.cache
def commands() -> typer.Typer:
    app = application("What is handed over.")
    for name, command in (("sheet", sheet.sheet), ("report", report.report), ("verify", verify.verify)):
        app.command(name)(command)
    return app


def run(*words: str) -> Result:
    return CliRunner().invoke(commands(), list(words), env={"COLUMNS": "100", "TERM": "dumb"})


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seeded") / "seed.db"))


def curve_file(folder: Path, name: str, own: Any) -> str:
    path = folder / name
    lines = [f"{hertz:.4f}\t{level:.4f}" for hertz, level in zip(GRID, ROOM + own, strict=True)]
    path.write_text("* invented\nfrequency [Hz]\tlevel [dB]\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


@pytest.fixture
def three(tmp_path: Path) -> list[str]:
    """Options with a centre 2 dB too quiet that has a null."""
    centre = curve_file(tmp_path, "c.txt", hole(1500, 15, 0.15) - 2.0)
    return [
        "--left",
        curve_file(tmp_path, "l.txt", FLAT),
        "--centre",
        centre,
        "--right",
        curve_file(tmp_path, "r.txt", FLAT),
    ]


def checked(*words: str) -> dict[str, Any]:
    done = run("verify", "--room", "Mill House", "--format", "json", *words)
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def test_verify_tells_trim_null_and_bands(seeded: str, three: list[str]) -> None:
    told = checked("--db", seeded, "--no-keep", *three)
    assert told["trim_db"] == pytest.approx(2.0, abs=0.1)
    assert told["correction"]["filters"] == []
    assert [dip["moves_with_seat"] for dip in told["not_correctable"]] == [None]
    assert told["not_correctable"][0]["frequency_hz"] == pytest.approx(1500, rel=0.03)
    assert [band["band"] for band in told["seats"][0]["bands"]] == ["speech", "above", "below"]
    assert told["seats"][0]["seat"] == "middle"
    assert told["promises"] == []


def test_verify_of_a_named_centre_checks_its_promises(seeded: str, three: list[str]) -> None:
    told = checked("--db", seeded, "--no-keep", "--speaker", CENTRE, "--trim-set", "-3", *three)
    assert (told["speaker"], told["place"]) == (CENTRE, "top of the unit")
    promises = {promise["what"]: promise for promise in told["promises"]}
    assert promises["trim"]["measured_db"] == pytest.approx(-1.0, abs=0.1)
    # 88 to 89 dB of sensitivity and a shorter way: about 0.9 dB too loud is what was promised
    assert promises["trim"]["met"] is True
    assert promises["timbre"]["predicted_db"] < promises["timbre"]["high_db"]


def test_verify_at_several_seats_tells_the_null_that_moves(seeded: str, three: list[str], tmp_path: Path) -> None:
    again = [*three]
    again[3] = curve_file(tmp_path, "c2.txt", hole(2300, 15, 0.15) - 2.0)
    told = checked("--db", seeded, "--no-keep", *three, *again, "--seat", "middle", "--seat", "far left")
    assert [seat["seat"] for seat in told["seats"]] == ["middle", "far left"]
    assert told["not_correctable"][0]["moves_with_seat"] is True
    assert told["not_correctable"][0]["absent_at"] == ["far left"]


def test_verify_speaks_as_a_table_and_as_csv(seeded: str, three: list[str]) -> None:
    spoken = run("verify", "--room", "Mill House", "--db", seeded, "--no-keep", "--speaker", CENTRE, *three)
    assert spoken.exit_code == 0, spoken.output
    for words in ("Speech band", "What cannot be corrected", "What was promised", "ITU-T G.712"):
        assert words in spoken.stdout
    rows = run("verify", "--room", "Mill House", "--db", seeded, "--no-keep", "-f", "csv", *three).stdout.splitlines()
    assert rows[0].startswith("seat,trim_db,band")
    assert len(rows) == 4


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--seat", "balcony"], "no seat named 'balcony'"),
        (["--seat", "middle", "--seat", "far left"], "name one --seat for each"),
        (["--speaker", "Nobody Nothing"], "Nobody Nothing"),
        (["--left", "nowhere.txt"], "as many of each"),
    ],
)
def test_verify_refuses_in_one_line(seeded: str, three: list[str], words: list[str], complaint: str) -> None:
    done = run("verify", "--room", "Mill House", "--db", seeded, *three, *words)
    assert done.exit_code == 1
    assert complaint in done.stderr
    assert done.stdout == ""


def test_verify_refuses_curves_that_miss_the_speech_band(seeded: str, three: list[str], tmp_path: Path) -> None:
    bass = tmp_path / "bass.txt"
    bass.write_text("\n".join(f"{hertz:.2f} 70" for hertz in np.geomspace(20, 400, 60)))
    done = run("verify", "--room", "Mill House", "--db", seeded, *three[:2], "--centre", str(bass), *three[4:])
    assert done.exit_code == 1
    assert "300 Hz to 3.4 kHz" in done.stderr


def test_a_room_that_is_no_more_than_a_file_is_checked_and_not_stored(
    seeded: str, three: list[str], tmp_path: Path
) -> None:
    room = tmp_path / "attic.toml"
    room.write_text(
        'name = "Attic"\n[[seat]]\nname = "chair"\ndistance = "2.5 m"\near_height = "1 m"\nprimary = true\n'
    )
    done = run("verify", "--room", str(room), "--db", seeded, "-f", "json", *three)
    assert done.exit_code == 0, done.output
    assert "not stored" in done.stderr


def test_who_may_not_write_still_gets_the_answer(
    seeded: str, three: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: Any) -> bool:
        raise DatabaseProblem("permission denied for table as_built")

    monkeypatch.setattr(as_built, "save_as_built", refused)
    done = run("verify", "--room", "Mill House", "--db", seeded, "-f", "json", *three)
    assert done.exit_code == 0
    assert "not stored: permission denied" in done.stderr
    assert json.loads(done.stdout)["trim_db"] == pytest.approx(2.0, abs=0.1)


def test_what_verify_stored_stands_in_the_report_as_built(seeded: str, three: list[str], tmp_path: Path) -> None:
    kept = run("verify", "--room", "Mill House", "--db", seeded, "--speaker", CENTRE, *three)
    assert "stored with Mill House" in kept.stderr
    assert "already" in run("verify", "--room", "Mill House", "--db", seeded, "--speaker", CENTRE, *three).stderr
    out, budget = tmp_path / "report.html", tmp_path / "budget.toml"
    budget.write_text(BUDGET.replace("limit = 4000", "limit = 2000"))
    done = run(
        "report", "--room", "Mill House", "--db", seeded, "--out", str(out), "--budget-file", str(budget), "--top", "2"
    )
    assert done.exit_code == 0, done.output
    page = Page(out.read_text(encoding="utf-8"))
    assert "As built" in page.all_words
    assert "It does not hold" in page.all_words
    assert len(page.of("article")) == 2
    # five drawings of the first, four of the second whose plan is the same, and the money
    assert len(page.of("svg")) == 10


def test_a_sheet_is_written_for_the_place_asked_for(seeded: str, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    done = run("sheet", CENTRE, "--room", "Mill House", "--place", "TOP of the unit", "--db", seeded, "--out", str(out))
    assert done.exit_code == 0, done.output
    assert "Place: top of the unit" in Page(out.read_text(encoding="utf-8")).all_words


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--place", "media unit bay"], "can't go in media unit bay: envelope"),
        (["--place", "attic"], "no place named 'attic'"),
        (["--units", "ells"], "mm or in is wanted"),
        (["--out", "sheet.docx"], "ends in .html or .pdf"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_and_nothing_is_written(
    seeded: str, tmp_path: Path, words: list[str], complaint: str
) -> None:
    out = tmp_path / "sheet.html"
    done = run("sheet", CENTRE, "--room", "Mill House", "--db", seeded, "--out", str(out), *words)
    assert done.exit_code == 1
    assert complaint in done.stderr
    assert list(tmp_path.iterdir()) == []
