"""`triptych curve` end to end: import, list, show, remove, and what it does to match. All curves are synthetic."""

from __future__ import annotations

import json
import shutil
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy
import typer
from typer.testing import CliRunner, Result

from triptych.recommender.cli import app as main_app
from triptych.recommender.cli import curve

CENTRE, MAINS = "Bramble Thatch Trivet Wide Centre", "Bramble Thatch Trivet Tower"
FREQUENCY = np.geomspace(25.0, 20_000.0, 150)
AXIS = 86.0 + 1.5 * np.sin(4.0 * np.log2(FREQUENCY / 1000.0)) - 10.0 * np.log10(1.0 + (50.0 / FREQUENCY) ** 8)


def run(*words: str, columns: str = "80", app: typer.Typer = curve.app) -> Result:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": columns, "TERM": "dumb"})


@pytest.fixture
def db(seeded_template: Path, tmp_path: Path) -> str:
    return str(shutil.copy(seeded_template, tmp_path / "demo.db"))


def piston(angle: float, radius: float = 0.05) -> Any:
    """Level of a circular piston at an angle, 6 dB less behind. [dB]."""
    x = 2 * np.pi * FREQUENCY / 343.2 * radius * abs(np.sin(np.radians(angle)))
    size = np.where(x > 1e-9, 2 * scipy.special.j1(x) / np.where(x > 1e-9, x, 1.0), 1.0)
    return 20 * np.log10(np.maximum(np.abs(size), 1e-3)) - 6.0 * (abs(angle) > 90)


@pytest.fixture
def on_axis(tmp_path: Path) -> str:
    path = tmp_path / "axis.txt"
    rows = [f"{f:.3f}\t{level:.3f}" for f, level in zip(FREQUENCY, AXIS, strict=True)]
    path.write_text("* Freq(Hz)\tSPL(dB)\n" + "\n".join(rows))
    return str(path)


def orbit(tmp_path: Path, name: str, step: int = 10, base: Any = AXIS) -> str:
    angles = range(-180 + step, 181, step)
    columns = [base + piston(angle) for angle in angles]
    rows = [";".join([f"{f:.3f}", *(f"{one[i]:.3f}" for one in columns)]) for i, f in enumerate(FREQUENCY)]
    path = tmp_path / f"{name}.csv"
    path.write_text("freq;" + ";".join(map(str, angles)) + "\n" + "\n".join(rows).replace(".", ","))
    return str(path)


def take(db: str, speaker: str, file: str, kind: str, *more: str) -> Result:
    done = run("import", speaker, file, "--kind", kind, "--db", db, *more)
    assert done.exit_code == 0, done.output
    return done


def full(db: str, speaker: str, tmp_path: Path) -> None:
    for kind in ("horizontal", "vertical"):
        take(db, speaker, orbit(tmp_path, kind), kind)


def match(db: str) -> dict[str, Any]:
    done = run("match", "--mains", MAINS, "--room", "Mill House", "--format", "json", "--db", db, app=main_app)
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def criteria(answer: dict[str, Any]) -> dict[str, Any]:
    entry = next(one for one in answer["ranked"] if one["speaker"] == CENTRE)
    return {one["criterion"]: one for one in entry["criteria"]}


@pytest.mark.whole
def test_curves_of_both_sides_make_timbre_measured_and_take_the_voicing_away(
    db: str, on_axis: str, tmp_path: Path
) -> None:
    assert criteria(match(db))["timbre"]["evidence"] == "modelled"
    take(db, CENTRE, on_axis, "on_axis")
    one_side = criteria(match(db))["timbre"]
    assert one_side["evidence"] == "modelled"
    assert "measured direct sound of the centre against the model of the mains" in one_side["why"]
    assert "0.7 dB are assumed" in one_side["why"]
    take(db, MAINS, on_axis, "on_axis")
    both = match(db)
    assert both["mains"]["evidence"] == "measured"
    assert criteria(both)["timbre"]["evidence"] == "measured"
    assert "0.5 dB are assumed" in criteria(both)["timbre"]["why"]
    full(db, CENTRE, tmp_path)
    full(db, MAINS, tmp_path)
    whole = criteria(match(db))
    # both sets are of one piston: nothing but the mains' angle and what stands around all three is left
    assert "0.0 dB are assumed for what no datasheet tells, 0% of the whole" in whole["timbre"]["why"]
    assert whole["timbre"]["inputs"]["voicing"] == whole["timbre"]["inputs"]["voicing_share"] == 0
    assert whole["timbre"]["inputs"]["power"] < 0.6
    assert whole["coverage"]["evidence"] == "measured"
    assert run("remove", CENTRE, "--all", "--db", db).exit_code == 0
    assert criteria(match(db))["coverage"]["evidence"] == "modelled"


@pytest.mark.whole
def test_the_seats_of_the_others_do_not_change_when_one_is_measured(db: str, on_axis: str) -> None:
    before = {one["speaker"]: one["criteria"] for one in match(db)["ranked"]}
    take(db, CENTRE, on_axis, "on_axis")
    after = {one["speaker"]: one["criteria"] for one in match(db)["ranked"]}
    assert {name for name in before if before[name] != after[name]} == {CENTRE}


@pytest.mark.whole
def test_the_preference_figure_is_shown_for_a_full_measured_set_only(db: str, on_axis: str, tmp_path: Path) -> None:
    explained = ("explain", CENTRE, "--room", "Mill House", "--db", db)
    take(db, CENTRE, on_axis, "on_axis")
    assert "no preference figure" in run("show", CENTRE, "--db", db).stdout
    assert "preference" not in json.loads(run(*explained, "--format", "json", app=main_app).stdout)
    full(db, CENTRE, tmp_path)
    shown = json.loads(run("show", CENTRE, "--db", db, "--format", "json").stdout)
    assert 0 < shown["preference"]["value"] < 10
    assert "6190" in shown["preference"]["why"]
    told = json.loads(run(*explained, "--format", "json", app=main_app).stdout)
    assert told["preference"] == pytest.approx(shown["preference"]["value"], abs=0.01)
    assert "Preference figure" in run(*explained, app=main_app).stdout


@pytest.mark.whole
def test_a_set_divided_by_its_axis_needs_the_axis(db: str, on_axis: str, tmp_path: Path) -> None:
    for kind in ("horizontal", "vertical"):
        take(db, CENTRE, orbit(tmp_path, kind, base=np.zeros(FREQUENCY.size)), kind)
    why = json.loads(run("show", CENTRE, "--db", db, "--format", "json").stdout)["preference"]["why"]
    assert "divided by its axis" in why
    answer = criteria(match(db))
    assert answer["coverage"]["evidence"] == "measured"
    assert "measured" not in answer["timbre"]["why"]
    take(db, CENTRE, on_axis, "on_axis")
    assert json.loads(run("show", CENTRE, "--db", db, "--format", "json").stdout)["preference"]["value"] > 0


@pytest.mark.whole
def test_a_set_of_wide_steps_is_marked_as_short_of_the_standard(db: str, tmp_path: Path) -> None:
    take(db, CENTRE, orbit(tmp_path, "h", step=30), "horizontal")
    told = run("show", CENTRE, "--db", db)
    assert "no sound power: the set lacks" in told.stdout
    assert "no preference figure" in told.stdout
    assert criteria(match(db))["coverage"]["evidence"] == "measured"


@pytest.mark.whole
def test_a_narrow_curve_is_kept_and_drawn_but_takes_no_part(db: str, tmp_path: Path) -> None:
    path = tmp_path / "sub.txt"
    path.write_text("\n".join(f"{20 * 2 ** (n / 4):.2f} {80 + n % 3}" for n in range(16)))
    assert "too narrow for a match" in take(db, CENTRE, str(path), "on_axis").stderr
    assert "measured" not in criteria(match(db))["timbre"]["why"]
    assert run("show", CENTRE, "--db", db).exit_code == 0


@pytest.mark.whole
def test_an_in_room_curve_changes_no_match(db: str, on_axis: str) -> None:
    before = match(db)
    take(db, CENTRE, on_axis, "in_room")
    assert match(db)["ranked"] == before["ranked"]


@pytest.mark.whole
def test_one_file_an_angle_with_the_angle_from_the_name(db: str, tmp_path: Path) -> None:
    for angle in (-30, 0, 30):
        rows = [f"{f:.3f},{level:.3f}" for f, level in zip(FREQUENCY, AXIS + piston(angle), strict=True)]
        (tmp_path / f"h_{angle}.txt").write_text("\n".join(rows))
    files = [str(path) for path in sorted(tmp_path.glob("h_*.txt"))]
    refused = run("import", CENTRE, *files, "--kind", "horizontal", "--db", db)
    assert refused.exit_code == 1
    assert "3 problems, nothing changed" in refused.stderr
    done = run("import", CENTRE, *files, "--kind", "horizontal", "--angle-from-name", "--db", db)
    assert done.stderr.strip() == "added 3, changed 0, unchanged 0"
    again = run("import", CENTRE, *files, "--kind", "horizontal", "--angle-from-name", "--db", db)
    assert again.stderr.strip() == "added 0, changed 0, unchanged 3"
    listed = json.loads(run("list", CENTRE, "--db", db, "--format", "json").stdout)
    assert [(one["kind"], one["angle"], one["source"]) for one in listed] == [
        ("horizontal", -30.0, "h_-30.txt"), ("horizontal", 0.0, "h_0.txt"), ("horizontal", 30.0, "h_30.txt"),
    ]  # fmt: skip
    assert run("remove", CENTRE, "--kind", "horizontal", "--angle", "-30", "--db", db).stderr.strip() == "removed 1"


def test_one_bad_line_and_nothing_is_taken(db: str, on_axis: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.txt"
    bad.write_text(Path(on_axis).read_text() + "\n30000\tloud\n")
    done = run("import", CENTRE, on_axis, str(bad), "--kind", "on_axis", "--db", db)
    assert done.exit_code == 1
    assert "bad.txt, line 152" in done.stderr
    assert "'loud'" in done.stderr
    assert json.loads(run("list", CENTRE, "--db", db, "--format", "json").stdout) == []


@pytest.mark.whole
@pytest.mark.parametrize("columns", ["60", "80", "140"])
@pytest.mark.parametrize("kind", ["", "horizontal"])
def test_the_plot_fits_the_terminal(db: str, tmp_path: Path, columns: str, kind: str) -> None:
    full(db, CENTRE, tmp_path)
    done = run("show", CENTRE, "--db", db, *(("--kind", kind) if kind else ()), columns=columns)
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= int(columns)
    assert sum(any("\u2800" <= letter <= "\u28ff" for letter in line) for line in lines) > 5


@pytest.mark.whole
def test_a_drawing_is_written_as_svg_and_png(db: str, on_axis: str, tmp_path: Path) -> None:
    take(db, CENTRE, on_axis, "on_axis")
    for name in ("plot.svg", "plot.png"):
        assert run("show", CENTRE, "--db", db, "--out", str(tmp_path / name)).exit_code == 0
    root = ET.fromstring((tmp_path / "plot.svg").read_text())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert len(root.findall(".//{*}polyline[@data-part='curve']")) == 1
    assert (tmp_path / "plot.png").read_bytes().startswith(b"\x89PNG\r\n")


def test_a_png_without_its_package_is_told(
    db: str, on_axis: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(db, CENTRE, on_axis, "on_axis")
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    done = run("show", CENTRE, "--db", db, "--out", str(tmp_path / "plot.png"))
    assert done.exit_code == 1
    assert "pip install '.[plots]'" in done.stderr
    assert not (tmp_path / "plot.png").exists()


def test_csv_gives_the_points(db: str, on_axis: str) -> None:
    take(db, CENTRE, on_axis, "on_axis")
    rows = run("show", CENTRE, "--db", db, "--format", "csv", "--smooth", "0").stdout.splitlines()
    assert rows[0] == "curve,frequency,level"
    assert any(row.startswith("on_axis,1000,86.0") for row in rows)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("import", "No Such", "{file}", "--kind", "on_axis"), "no loudspeaker is named"),
        (("import", CENTRE, "{file}", "--kind", "horizontal"), "--angle"),
        (("import", CENTRE, "{file}", "--kind", "horizontal", "--angle", "steep"), "'steep'"),
        (("import", CENTRE, "{file}", "--kind", "on_axis", "--angle", "30"), "has no angle"),
        (("import", CENTRE, "{file}", "--kind", "on_axis", "--smoothing", "much"), "'much'"),
        (("import", CENTRE, "{file}", "--kind", "on_axis", "--date", "May"), "'May'"),
        (("import", CENTRE, "no.txt", "--kind", "on_axis"), "no.txt"),
        (("show", CENTRE), "no such curve"),
        (("show", CENTRE, "--out", "plot.gif"), ".svg or .png"),
        (("remove", CENTRE), "--all"),
        (("remove", CENTRE, "--all"), "no curve"),
        (("remove", CENTRE, "--all", "--angle", "30"), "--angle needs --kind"),
    ],
)
def test_what_cannot_be_is_told_in_one_line(db: str, on_axis: str, words: tuple[str, ...], told: str) -> None:
    done = run(*(word.replace("{file}", on_axis) for word in words), "--db", db)
    assert done.exit_code == 1
    assert not done.stdout
    assert told in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_dry_run_changes_nothing(db: str, on_axis: str) -> None:
    assert "would take 1 curves" in take(db, CENTRE, on_axis, "on_axis", "--dry-run").stderr
    assert json.loads(run("list", CENTRE, "--db", db, "--format", "json").stdout) == []
