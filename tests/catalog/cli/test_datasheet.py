from __future__ import annotations

import csv
import functools
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from triptych.catalog.cli import datasheet, options, speaker

WREN = """\
Maker: Oatfell
Series: Linden
Model: Wren C2
Type: centre loudspeaker

Dimensions
Width: 21 1/2" (546 mm)
Height: 178 mm
Depth: 300 mm (315 mm with grille)

Electrical
Sensitivity: 88 dB 1W/1m
Impedance: 4 ohms
Crossover: 350 / 2.8 kHz
Dimensions of the box: 1 x 2 x 3
Finish: walnut
"""
HEAVY = {"sqlalchemy", "alembic", "pandas", "numpy", "scipy", "openpyxl", "rich", "pydantic"}

Run = Callable[..., Any]


@functools.cache
def application() -> typer.Typer:
    app = options.application("Both groups, as the whole program mounts them.")
    app.add_typer(datasheet.app, name="datasheet")
    app.add_typer(speaker.app, name="speaker")
    return app


@pytest.fixture
def run(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    monkeypatch.setenv("COLUMNS", "100")

    def invoke(*arguments: str, input: str | None = None) -> Any:
        result = CliRunner().invoke(application(), arguments, input=input)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return invoke


@pytest.fixture
def wren(tmp_path: Path) -> Path:
    path = tmp_path / "wren.txt"
    path.write_text(WREN, encoding="utf-8")
    return path


def stored(run: Run, name: str) -> dict[str, Any]:
    result = run("speaker", "show", name, "--format", "json")
    assert result.exit_code == 0, result.stderr
    return dict(json.loads(result.stdout))


def test_json_is_the_contract_s(run: Run, wren: Path) -> None:
    result = run("datasheet", "read", str(wren), "--format", "json")
    assert (result.exit_code, result.stderr) == (0, "")
    [record] = json.loads(result.stdout)["records"]
    assert set(record) == {"fields", "questions", "unread"}
    assert record["fields"]["width"] == {
        "value": 546.0,
        "unit": "mm",
        "status": "read",
        "flags": [],
        "raw": 'Width: 21 1/2" (546 mm)',
    }
    assert record["fields"]["sensitivity"]["value"] == 91.01
    assert record["fields"]["sensitivity"]["status"] == "inferred"
    assert record["fields"]["crossover"]["value"] == [350.0, 2800.0]
    assert "Finish: walnut" in record["unread"]


def test_the_table_says_what_was_read_inferred_and_refused(run: Run) -> None:
    result = run(
        "datasheet", "read", "-", input="Width: 546 mm\nImpedance: 4-8 ohms\nSensitivity: 88 dB\nFinish: oak\n"
    )
    assert result.exit_code == 0
    words = " ".join(result.stdout.split())
    assert "width 546 mm read Width: 546 mm" in words
    assert "impedance_nominal – refused a range is no nominal impedance; may fall to 4 ohm" in words
    assert "sensitivity 88 dB inferred neither 2.83 V nor 1 W stated" in words
    assert "To ask: " in words
    assert "Not read: Finish: oak" in words


def test_csv_has_a_line_a_figure(run: Run, wren: Path) -> None:
    result = run("datasheet", "read", str(wren), "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    found = {row["column"]: row for row in rows}
    assert found["depth"]["value"] == "315"
    assert found["crossover"] == {
        "loudspeaker": "1",
        "column": "crossover",
        "value": "350/2800",
        "unit": "Hz",
        "status": "inferred",
        "flags": "'350' is taken in Hz; otherwise it is not plausible",
        "raw": "Crossover: 350 / 2.8 kHz",
    }


@pytest.mark.slow
def test_saving_is_asked_once(run: Run, wren: Path) -> None:
    """Who writes --save has said so: no second word is wanted, but after a review, which may end in a no."""
    refused = run("datasheet", "read", str(wren), "--review", input="\n" * 20 + "n\n")
    assert refused.exit_code == 1
    assert run("speaker", "list").stderr == "no loudspeaker is like that\n"
    taken = run("datasheet", "read", str(wren), "--save")
    assert taken.exit_code == 0
    assert "Store" not in taken.stderr
    assert taken.stderr.endswith("added 1, changed 0, unchanged 0: Oatfell Linden Wren C2\n")
    assert "added 0, changed 0, unchanged 1" in run("datasheet", "read", str(wren), "--save", "--yes").stderr


def test_what_is_stored_keeps_raw_text_source_and_flags(run: Run, wren: Path) -> None:
    assert run("datasheet", "read", str(wren), "--save", "--yes").exit_code == 0
    found = stored(run, "oatfell linden wren c2")
    assert (found["width"], found["depth"], found["sensitivity"], found["roles"]) == (546.0, 315.0, 91.01, ["centre"])
    assert found["sensitivity_basis"] == "unknown"
    assert found["figures"]["width"] == {
        "raw": 'Width: 21 1/2" (546 mm)',
        "source": "wren.txt",
        "evidence": "stated",
        "flags": [],
    }
    flags = found["figures"]["sensitivity"]["flags"]
    assert flags == ["inferred", "stated for 1 W, at 4 ohm: +3.01 dB"]
    assert "+3.01 dB" in " ".join(run("speaker", "show", "oatfell linden wren c2").stdout.split())


def test_a_name_that_the_sheet_does_not_say_is_asked_for(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "bare.txt"
    sheet.write_text("Width: 546 mm\nImpedance: 4-8 ohms\n", encoding="utf-8")
    result = run("datasheet", "read", str(sheet), "--save", "--yes")
    assert result.exit_code == 1
    for name in ("maker", "model", "roles"):
        assert f"{name}: not in the sheet; say it with --{name}" in result.stderr
    names = ("--maker", "Oatfell", "--model", "Robin", "--roles", "centre;surround")
    answer = ("--set", "impedance_nominal=6")
    assert run("datasheet", "read", str(sheet), "--save", "--yes", *names, *answer).exit_code == 0
    found = stored(run, "oatfell robin")
    assert (found["width"], found["impedance_nominal"], found["roles"]) == (546.0, 6.0, ["centre", "surround"])
    assert found["figures"]["impedance_nominal"]["raw"] == "6"


def test_one_loudspeaker_short_of_a_name_stores_none(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "two.txt"
    sheet.write_text("Maker: Oatfell\nModel: Wren\nRoles: centre\n\nModel: Robin\nRoles: main\n", encoding="utf-8")
    result = run("datasheet", "read", str(sheet), "--save", "--yes")
    assert result.exit_code == 1
    assert "loudspeaker 2: nothing stored; maker: not in the sheet" in result.stderr
    assert run("speaker", "list").stderr == "no loudspeaker is like that\n"
    assert run("datasheet", "read", str(sheet), "--save", "--yes", "--maker", "Oatfell").exit_code == 0
    assert "Oatfell Robin" in run("speaker", "list").stdout


def test_an_answer_is_never_dropped_in_silence(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "bare.txt"
    sheet.write_text("Maker: Oatfell\nModel: Wren\nRoles: centre\nWidth: 546 mm\n", encoding="utf-8")
    result = run("datasheet", "read", str(sheet), "--save", "--yes", "--set", "price=500")
    assert result.exit_code == 1
    assert "currency: is empty beside a price" in result.stderr
    assert run("datasheet", "read", str(sheet), "--save", "--yes", "--set", "width=").exit_code == 0
    assert stored(run, "oatfell wren")["width"] is None


@pytest.mark.whole
def test_the_price_of_unknown_currency_is_not_stored(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "price.txt"
    sheet.write_text("Maker: Oatfell\nModel: Wren\nRoles: centre\nPrice: 599 each\n", encoding="utf-8")
    assert run("datasheet", "read", str(sheet), "--save", "--yes").exit_code == 0
    assert stored(run, "oatfell wren")["price"] is None
    assert run("datasheet", "read", str(sheet), "--save", "--yes", "--set", "currency=GBP").exit_code == 0
    assert stored(run, "oatfell wren")["price"] == 599.0


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["none.txt"], 1, "No such file"),
        (["-", "--save"], 1, "maker: not in the sheet"),
        (["-", "--clear"], 2, "go with --save"),
        (["-", "--yes"], 2, "go with --save"),
        (["-", "--save", "--set", "width"], 2, "is no pair"),
        (["-", "--save", "--set", "widht=3"], 1, "did you mean 'width'?"),
        ([], 2, "Missing argument"),
    ],
)
def test_what_is_wrong_is_said_in_words(run: Run, arguments: list[str], code: int, words: str) -> None:
    result = run("datasheet", "read", *arguments, input="Width: 546 mm\n")
    assert result.exit_code == code
    assert words in " ".join(result.stderr.split())


def test_a_text_without_a_figure_is_refused(run: Run) -> None:
    result = run("datasheet", "read", "-", input="Nothing of that kind.\n")
    assert result.exit_code == 1
    assert result.stderr.startswith("error: -: no figure of a loudspeaker in it; write lines such as 'Width: 546 mm'")


def test_a_file_that_is_no_text_is_refused(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(b"%PDF\x00\x01\x02")
    result = run("datasheet", "read", str(path))
    assert result.exit_code == 1
    assert "save the datasheet as plain text" in result.stderr


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_of_any_usual_encoding_are_read(run: Run, tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "sheet.txt"
    path.write_bytes("Höhe: 178 mm\r\nBreite: 7½ Zoll\r\n".encode(encoding))
    result = run("datasheet", "read", str(path), "--format", "json")
    fields = json.loads(result.stdout)["records"][0]["fields"]
    assert (fields["height"]["value"], fields["width"]["value"]) == (178.0, 190.5)


def test_nothing_commands_the_terminal(run: Run) -> None:
    result = run("datasheet", "read", "-", input="Width: 546 mm\n\x1b[31mFinish: [red]oak\x1b[0m\n")
    assert "\x1b" not in result.stdout
    assert "[red]oak" in result.stdout


def test_adding_from_a_sheet(run: Run, wren: Path) -> None:
    result = run("speaker", "add", "--from", str(wren), "--weight", "14.2 kg", "--crossover", "360/2800")
    assert result.exit_code == 0, result.stderr
    assert "sensitivity inferred: stated for 1 W, at 4 ohm: +3.01 dB" in result.stderr
    assert result.stderr.endswith("added Oatfell Linden Wren C2\n")
    found = stored(run, "oatfell linden wren c2")
    assert (found["weight"], found["crossover"], found["depth"]) == (14.2, [360.0, 2800.0], 315.0)
    again = run("speaker", "add", "--from", str(wren))
    assert again.exit_code == 1
    assert "is in the catalogue already" in again.stderr


def test_adding_from_a_sheet_names_its_own_options(run: Run, wren: Path) -> None:
    given = ("--maker", "Oatfell", "--roles", "centre", "--height", "tall")
    refused = run("speaker", "add", "--from", str(wren), *given)
    assert "say what is right with --height ..." in refused.stderr
    assert "--set" not in refused.stderr


def test_adding_from_a_sheet_of_several_is_refused(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "two.txt"
    sheet.write_text("Model: Wren\nWidth: 546 mm\n\nModel: Robin\nWidth: 600 mm\n", encoding="utf-8")
    result = run("speaker", "add", "--from", str(sheet), "--maker", "Oatfell", "--roles", "centre")
    assert result.exit_code == 1
    assert "holds 2 loudspeakers; name one with --model as the sheet calls it" in result.stderr


def test_cells_of_an_import_may_hold_two_units_that_agree(run: Run, tmp_path: Path) -> None:
    shop = tmp_path / "shop.csv"
    shop.write_text(
        "maker;model;roles;width;impedance_nominal\nOatfell;Wren;centre;546 mm (21.5 in);8 Ω\n", encoding="utf-8"
    )
    assert run("speaker", "import", str(shop)).exit_code == 0
    assert stored(run, "oatfell wren")["width"] == 546.0


@pytest.mark.parametrize(
    "cell", ["546 mm (22.5 in)", "4-8 ohms", "546 x 178 mm", "1,200 mm", "546 mm (560 mm with feet)"]
)
def test_cells_of_an_import_that_have_two_readings_stay_refused(run: Run, tmp_path: Path, cell: str) -> None:
    shop = tmp_path / "shop.csv"
    shop.write_text(f'maker,model,roles,width\nOatfell,Wren,centre,"{cell}"\n', encoding="utf-8")
    result = run("speaker", "import", str(shop))
    assert result.exit_code == 1
    assert "column width" in result.stderr


def test_the_command_loads_nothing_heavy_before_it_runs() -> None:
    script = "import sys, triptych.catalog.cli.datasheet; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert {name.partition(".")[0] for name in done.stdout.split()} & HEAVY == set()
    assert "triptych.catalog.datasheet" not in done.stdout.split()
