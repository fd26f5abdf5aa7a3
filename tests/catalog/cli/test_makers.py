from __future__ import annotations

import csv
import io
import json
import os
import select
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from triptych.catalog.cli import datasheet, makers, options, speaker

SHOP = "maker,model,series,family,roles\nOatfell,Wren,Linden,,centre\nBramble Thatch,Low,,Point,centre\n"
ADD = ("speaker", "add", "--maker", "Oatfel", "--series", "Lindn", "--model", "Owl", "--roles", "centre")

Run = Callable[..., Any]


@pytest.fixture
def run(sqlite_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    app = options.application("The groups that know names.")
    groups = {"maker": makers.maker, "series": makers.series, "family": makers.family, "speaker": speaker.app}
    for name, group in (groups | {"datasheet": datasheet.app}).items():
        app.add_typer(group, name=name)

    def invoke(*arguments: str, code: int = 0, answers: str | None = None) -> Any:
        monkeypatch.setattr(makers, "somebody_there", lambda: answers is not None)
        result = CliRunner().invoke(app, list(arguments), input=answers)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        assert result.exit_code == code, result.output
        return result

    (tmp_path / "shop.csv").write_text(SHOP, encoding="utf-8")
    invoke("speaker", "import", str(tmp_path / "shop.csv"))
    return invoke


def names(run: Run) -> list[str]:
    listed = csv.DictReader(io.StringIO(run("speaker", "export").stdout))
    return [" ".join(filter(None, (one["maker"], one["series"], one["model"]))) for one in listed]


def test_a_near_name_in_options_is_refused_with_both_ways_out(run: Run) -> None:
    result = run(*ADD, code=1)
    assert "maker 'Oatfel' is new, and 'Oatfell' is known" in result.stderr
    assert "triptych maker add Oatfel" in result.stderr
    run("maker", "add", "Oatfel")
    run(*ADD)
    assert "Oatfel Lindn Owl" in names(run)


@pytest.mark.parametrize(
    ("answers", "name"),
    [("\n\n", "Oatfell Linden Owl"), ("y\nn\n", "Oatfell Lindn Owl"), ("n\n", "Oatfel Lindn Owl")],
)
def test_whoever_is_there_is_asked_which_was_meant(run: Run, answers: str, name: str) -> None:
    result = run(*ADD, answers=answers)
    assert "Take 'Oatfell'?" in result.stderr
    assert name in names(run)


def test_a_rename_asks_too(run: Run) -> None:
    run("speaker", "rename", "Bramble Thatch Low", "--maker", "Oatfel", code=1)
    run("speaker", "rename", "Bramble Thatch Low", "--maker", "Oatfel", answers="y\n")
    assert names(run) == ["Oatfell Linden Wren", "Oatfell Low"]
    # the maker that it left without a loudspeaker is gone
    assert "Bramble" not in run("maker", "list").stdout


def test_an_edit_asks_about_the_family(run: Run) -> None:
    run("speaker", "edit", "Oatfell Linden Wren", "--set", "family=Piont", code=1)
    run("speaker", "edit", "Oatfell Linden Wren", "--set", "family=Piont", answers="y\n")
    shown = json.loads(run("speaker", "show", "Oatfell Linden Wren", "--format", "json").stdout)
    assert shown["family"] == "Point"


@pytest.mark.whole
def test_an_import_warns_and_goes_on(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "near.csv"
    path.write_text("maker,model,series,roles\nOat Fell,Owl,Linden,centre\nOatfell,Jay,Lindens,centre\n")
    result = run("speaker", "import", str(path))
    assert "triptych maker merge 'Oat Fell' Oatfell" in result.stderr
    assert "triptych series merge 'Oatfell Lindens' 'Oatfell Linden'" in result.stderr
    assert "added 2" in result.stderr
    assert "warning" not in run("speaker", "import", str(path)).stderr
    run("maker", "merge", "Oat Fell", "Oatfell")
    run("series", "merge", "Oatfell Lindens", "Oatfell Linden")
    assert names(run) == ["Bramble Thatch Low", "Oatfell Linden Jay", "Oatfell Linden Owl", "Oatfell Linden Wren"]


@pytest.mark.whole
def test_a_datasheet_that_nobody_watches_is_refused(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "owl.txt"
    sheet.write_text("Width: 400 mm\nHeight: 160 mm\nDepth: 200 mm\n")
    save = ("datasheet", "read", str(sheet), "--save", "--maker", "Oatfel", "--model", "Owl", "--roles", "centre")
    assert "'Oatfell' is known" in run(*save, "--yes", code=1).stderr
    assert "'Oatfell' is known" in run(*save, code=1, answers="n\n").stderr
    run(*save, answers="y\n")
    assert "Oatfel Owl" in names(run)


@pytest.mark.processes
def test_the_question_comes_at_a_real_terminal(sqlite_path: Path) -> None:
    import pty

    program = [sys.executable, "-c", "from triptych.recommender.cli import main; main()"]
    added = ["speaker", "add", "--maker", "Oatfell", "--model", "Wren", "--roles", "centre"]
    environment = os.environ | {"TRIPTYCH_DB": str(sqlite_path), "PYTHONPATH": ".package"}
    subprocess.run([*program, *added], env=environment, check=True, capture_output=True)
    terminal, end = pty.openpty()
    started = subprocess.Popen(
        [*program, *added[:3], "Oatfel", "--model", "Owl", "--roles", "centre"],
        env=environment,
        stdin=end,
        stdout=end,
        stderr=end,
    )
    os.close(end)
    said, limit = b"", time.monotonic() + 60
    while b"Take" not in said and time.monotonic() < limit:
        if select.select([terminal], [], [], 1)[0]:
            said += os.read(terminal, 4096)
    os.write(terminal, b"\n")
    assert started.wait(60) == 0, said
    os.close(terminal)
    listed = subprocess.run([*program, "maker", "list", "-f", "csv"], env=environment, check=True, capture_output=True)
    assert listed.stdout.decode().split() == ["maker,loudspeakers", "Oatfell,2"]
