"""Files and datasheets that say less than is known: nothing vanishes that nobody named, and nothing changes twice."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.catalog.datasheet.corpus_check import CORPUS
from triptych.catalog.cli import datasheet, options, speaker
from triptych.recommender.api import open_catalogue

pytestmark = pytest.mark.whole

Run = Callable[..., Any]
WREN = "Maker: Oatfell\nSeries: Linden\nModel: Wren\nRoles: centre\n"


@pytest.fixture
def run(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    monkeypatch.setenv("COLUMNS", "200")
    app = options.application("Both groups, as the whole program mounts them.")
    app.add_typer(speaker.app, name="speaker")
    app.add_typer(datasheet.app, name="datasheet")

    def invoke(*arguments: str, code: int = 0, given: str | None = None) -> Any:
        result = CliRunner().invoke(app, list(arguments), input=given)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        assert result.exit_code == code, result.output
        return result

    return invoke


@pytest.fixture
def known(run: Run, tmp_path: Path) -> dict[str, Any]:
    """One loudspeaker of which much is known, from a file."""
    row = {
        "maker": "Oatfell", "series": "Linden", "model": "Wren", "roles": "centre;surround", "width": "546",
        "height": "178", "weight": "12.5", "enclosure": "ported", "port_location": "rear", "sensitivity": "89",
        "sensitivity_basis": "in_room", "crossover": "350/2800", "layout": "W(T/M)W", "woofer_size": "165",
        "price": "520", "currency": "EUR", "price_per": "each", "family": "Own Voice", "note": "quiet",
    }  # fmt: skip
    run("speaker", "import", written(tmp_path / "known.csv", row))
    return shown(run)


def written(path: Path, *rows: dict[str, str]) -> str:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return str(path)


def shown(run: Run, name: str = "Oatfell Linden Wren") -> dict[str, Any]:
    found = json.loads(run("speaker", "show", name, "--format", "json").stdout)
    assert isinstance(found, dict)
    return found


def exported(run: Run) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(run("speaker", "export").stdout)))


def figures(rows: list[dict[str, str]]) -> int:
    return sum(bool(cell) for row in rows for cell in row.values())


def test_maker_model_and_price_alone_wipe_nothing_of_the_demo(run: Run, sqlite_path: Path, tmp_path: Path) -> None:
    with open_catalogue(sqlite_path) as catalogue:
        catalogue.import_demo()
    before = exported(run)
    told = [{name: row[name] for name in ("maker", "series", "model", "price")} for row in before]
    said = run("speaker", "import", written(tmp_path / "prices.csv", *told)).stderr
    assert said == f"added 0, changed 0, unchanged {len(before)}\n"
    dearer = [row | {"price": str(int(row["price"]) + 1)} for row in told if row["price"].isdigit()]
    said = run("speaker", "import", written(tmp_path / "prices.csv", *dearer)).stderr
    assert said == f"added 0, changed {len(dearer)}, unchanged 0\n"
    after = exported(run)
    assert figures(after) == figures(before)
    assert [row | {"price": ""} for row in after] == [row | {"price": ""} for row in before]


@pytest.mark.usefixtures("known")
def test_an_empty_cell_is_named_with_what_it_would_clear(run: Run, tmp_path: Path) -> None:
    before = shown(run)
    named = {"maker": "Oatfell", "series": "Linden", "model": "Wren"}
    file = written(tmp_path / "less.csv", named | {"weight": "", "crossover": "unknown", "width": "546", "family": ""})
    for extra in ((), ("--dry-run",), ("--keep-good",)):
        code = 0 if "--keep-good" in extra else 1
        said = run("speaker", "import", file, *extra, code=code).stderr
        for column, value in (("weight", "12.5 kg"), ("crossover", "350/2800 Hz"), ("family", "Own Voice")):
            line = f"less.csv, line 2, column {column}: is empty or unknown, which would clear '{value}' of "
            assert line + "'Oatfell Linden Wren'; write it there, leave the column out, or add --clear\n" in said
        assert shown(run) == before
    said = run("speaker", "import", file, "--clear", "--dry-run").stderr
    assert "less.csv, line 2, column weight: clears '12.5 kg' of 'Oatfell Linden Wren'\n" in said
    assert "would have added 0, changed 1" in said
    assert shown(run) == before
    assert "column weight: clears '12.5 kg'" in run("speaker", "import", file, "--clear").stderr
    after = shown(run)
    assert (after["weight"], after["crossover"], after["family"]) == (None, None, "Oatfell Linden")
    assert (after["height"], after["note"], after["sensitivity_basis"]) == (178.0, "quiet", "in_room")
    assert set(before["figures"]) - set(after["figures"]) == {"weight", "crossover"}
    assert run("speaker", "import", file, "--clear").stderr == "added 0, changed 0, unchanged 1\n"


@pytest.mark.usefixtures("known")
def test_one_row_that_clears_keeps_the_whole_file_out(run: Run, tmp_path: Path) -> None:
    new = {"maker": "Oatfell", "series": "", "model": "Robin", "roles": "main", "weight": "9"}
    file = written(tmp_path / "two.csv", new, new | {"series": "Linden", "model": "Wren", "weight": " "})
    said = run("speaker", "import", file, code=1).stderr
    assert "two.csv, line 3, column weight: is empty or unknown, which would clear '12.5 kg'" in said
    assert [row["model"] for row in exported(run)] == ["Wren"]
    assert "1 refused" in run("speaker", "import", file, "--keep-good").stderr
    assert [(row["model"], row["weight"]) for row in exported(run)] == [("Wren", "12.5"), ("Robin", "9")]


def test_a_maker_in_another_case_clears_no_family(run: Run, tmp_path: Path) -> None:
    row = {"maker": "OATFELL", "series": "Linden", "model": "Wren", "roles": "centre", "family": ""}
    run("speaker", "import", written(tmp_path / "a.csv", row))
    for maker in ("Oatfell", "oatfell"):
        assert "unchanged 1" in run("speaker", "import", written(tmp_path / "a.csv", row | {"maker": maker})).stderr


@pytest.mark.usefixtures("known")
def test_a_short_row_clears_no_more_than_an_empty_cell(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    path.write_text("maker,series,model,width,weight\nOatfell,Linden,Wren,546\n", encoding="utf-8")
    assert "column weight: is empty or unknown" in run("speaker", "import", str(path), code=1).stderr


@pytest.mark.parametrize(
    "parts",
    [
        {"maker": "Oatfell Linden", "series": "", "model": "Wren"},
        {"maker": "Oatfell", "series": "", "model": "Linden Wren"},
        {"maker": "OATFELL LINDEN", "series": "Wren", "model": "Wren"},
        {"maker": "Oatfell", "series": "Linden Wren", "model": "Wren"},
        {"maker": "oatfell", "model": "linden wren"},
    ],
)
def test_a_name_divided_otherwise_overwrites_nothing(
    run: Run, tmp_path: Path, known: dict[str, Any], parts: dict[str, str]
) -> None:
    file = written(tmp_path / "other.csv", parts | {"roles": "main", "width": "200"})
    whole = " ".join(filter(None, parts.values())).casefold()
    if whole != "oatfell linden wren":  # another name, so another loudspeaker
        assert run("speaker", "import", file).stderr == "added 1, changed 0, unchanged 0\n"
    else:
        said = run("speaker", "import", file, "--clear", code=1).stderr
        assert "maker 'Oatfell', series 'Linden', model 'Wren' in the catalogue" in said
        assert all(repr(part) in said for part in parts.values() if part)
    assert shown(run) == known
    sheet = tmp_path / "other.txt"
    sheet.write_text("Maker: Oatfell Linden\nModel: Wren\nRoles: main\nWidth: 200 mm\n", encoding="utf-8")
    assert "series 'Linden'" in run("datasheet", "read", str(sheet), "--save", "--yes", code=1).stderr
    assert shown(run) == known


def test_without_a_column_series_no_second_loudspeaker_is_made(run: Run, tmp_path: Path, known: dict[str, Any]) -> None:
    file = written(tmp_path / "bare.csv", {"maker": "OATFELL", "model": "wren", "roles": "main"})
    said = run("speaker", "import", file, code=1).stderr
    assert "'OATFELL wren' is not in the catalogue, and 'Oatfell Linden Wren' is; add the column series" in said
    assert len(exported(run)) == 1
    assert shown(run) == known


def test_a_new_loudspeaker_still_needs_its_roles(run: Run, tmp_path: Path, known: dict[str, Any]) -> None:
    rows = [{"maker": "Oatfell", "series": "Linden", "model": model, "width": "500"} for model in ("Wren", "New")]
    said = run("speaker", "import", written(tmp_path / "a.csv", *rows), code=1).stderr
    assert "the column roles is not there; it is required" in said
    assert shown(run) == known
    assert "changed 1" in run("speaker", "import", written(tmp_path / "a.csv", rows[0])).stderr
    assert shown(run)["roles"] == known["roles"]


@pytest.mark.usefixtures("known")
def test_what_a_row_says_must_agree_with_what_is_known(run: Run, tmp_path: Path) -> None:
    named = {"maker": "Oatfell", "series": "Linden", "model": "Wren"}
    said = run("speaker", "import", written(tmp_path / "a.csv", named | {"enclosure": "sealed"}), code=1).stderr
    assert "column port_location: 'rear', but the enclosure is sealed" in said
    said = run("speaker", "import", written(tmp_path / "a.csv", named | {"price": "£ 499"}), code=1).stderr
    assert "is in GBP, and its currency is EUR" in said


def test_a_datasheet_leaves_what_it_does_not_speak_of(run: Run, tmp_path: Path, known: dict[str, Any]) -> None:
    sheet = tmp_path / "wren.txt"
    sheet.write_text(WREN + "Width: 540 mm\nWeight: to be confirmed\n", encoding="utf-8")
    read = ("datasheet", "read", str(sheet), "--save", "--yes")
    assert "added 0, changed 1, unchanged 0" in run(*read).stderr
    after = shown(run)
    assert (after["width"], after["weight"], after["price"]) == (540.0, 12.5, 520.0)
    gone = {"width", "roles", "revision", "figures"}
    assert {key: after[key] for key in after if key not in gone} == {
        key: known[key] for key in known if key not in gone
    }
    spoken_of = {"width", "roles"}
    assert {key: after["figures"][key] for key in known["figures"] if key not in spoken_of} == {
        key: found for key, found in known["figures"].items() if key not in spoken_of
    }
    assert "unchanged 1" in run(*read).stderr
    said = run(*read, "--set", "weight=", "--set", "crossover=unknown", code=1).stderr
    assert "--set weight= clears '12.5 kg' of 'Oatfell Linden Wren'" in said
    assert "--set crossover= clears '350/2800 Hz' of 'Oatfell Linden Wren'" in said
    assert "add --clear" in said
    assert shown(run) == after
    assert "changed 1" in run(*read, "--set", "weight=", "--clear").stderr
    assert shown(run)["weight"] is None


def test_a_sheet_s_unreadable_figure_clears_nothing_and_says_so(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "wren.txt"
    sheet.write_text(WREN + "Impedance: 6 ohm\n", encoding="utf-8")
    read = ("datasheet", "read", str(sheet), "--save", "--yes")
    run(*read)
    sheet.write_text(WREN + "Impedance: 4-8 ohms\n", encoding="utf-8")
    said = run(*read).stderr
    assert shown(run)["impedance_nominal"] == 6.0
    assert "impedance_nominal: not read; '6 ohm' of 'Oatfell Linden Wren' stays" in said


@pytest.mark.examples
def test_an_export_of_what_datasheets_said_changes_nothing(run: Run, tmp_path: Path) -> None:
    sheets = sorted(CORPUS.glob("*/*.txt"))[::4]
    for number, sheet in enumerate(sheets):
        names = ("--maker", f"Oatfell {number}", "--series", "", "--model", "Wren", "--roles", "centre")
        CliRunner().invoke(datasheet.app, ["read", str(sheet), "--save", "--yes", *names])
    count = len(exported(run))
    assert count > 50, "of many sheets one loudspeaker is read: those of several can't all have one name"
    before = run("speaker", "show", "Oatfell 0 Wren", "--format", "json").stdout
    for suffix in ("csv", "xlsx"):
        out = tmp_path / f"all.{suffix}"
        run("speaker", "export", str(out))
        for _ in range(2):
            assert run("speaker", "import", str(out)).stderr == f"added 0, changed 0, unchanged {count}\n"
        assert run("speaker", "show", "Oatfell 0 Wren", "--format", "json").stdout == before
