"""`triptych weights` and `triptych compare` through what they print."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from triptych.recommender.advise.compare import CriterionDifference
from triptych.recommender.cli import app, closely

PAIR = ("Bramble Thatch Trivet Wide Centre", "Bramble Thatch Trivet Stacked Centre")


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": "100", "TERM": "dumb"})


@pytest.fixture(scope="module")
def demo(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(shutil.copy(seeded_template, tmp_path_factory.mktemp("weights") / "demo.db"))


@pytest.mark.whole
def test_a_copied_profile_is_changed_and_used(demo: str) -> None:
    assert run("weights", "copy", "default", "mine", "--db", demo).exit_code == 0
    assert run("weights", "set", "mine", "coverage=0", "timbre=0,6", "--db", demo).exit_code == 0
    weights = json.loads(run("weights", "show", "Mine", "--format", "json", "--db", demo).stdout)
    assert (weights["coverage"], weights["timbre"], weights["headroom"]) == (0.0, 0.6, 0.15)
    assert json.loads(run("weights", "list", "--format", "json", "--db", demo).stdout) == ["default", "mine"]
    told = run("match", "--room", "Mill House", "--weights", "mine", "--format", "json", "--db", demo)
    used = {one["criterion"]: one["weight"] for one in json.loads(told.stdout)["ranked"][0]["criteria"]}
    assert used["coverage"] == 0.0
    assert sum(used.values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("weights", "set", "default", "aim=1"), "built in"),
        (("weights", "copy", "default", "default"), "built in"),
        (("weights", "copy", "default", " Default"), "built in"),
        (("weights", "copy", "default", " "), "needs a name"),
        (("weights", "copy", "default", "\udcff"), "characters that do not print"),
        (("weights", "set", "nobody's", "aim=1"), "nobody's"),
        (("weights", "set", "x", "loudness=1"), "loudness"),
        (("weights", "set", "x", "aim=much"), "much"),
        (("weights", "set", "x", "aim=-1"), "aim is out of range"),
        (("compare", PAIR[0], PAIR[0], "--room", "Mill House"), "different"),
        (("compare", PAIR[0], "--room", "Mill House"), "two or three"),
        (("compare", *PAIR, *PAIR, "--room", "Mill House"), "two or three different centres to compare, not 4"),
    ],
)
def test_refusals(demo: str, words: tuple[str, ...], told: str) -> None:
    done = run(*words, "--db", demo)
    assert done.exit_code == 1
    assert told in done.stderr


@pytest.mark.whole
def test_compare_in_all_forms(demo: str) -> None:
    words = ("compare", *PAIR, "--room", "Mill House", "--db", demo)
    table = run(*words)
    assert table.exit_code == 0
    assert "coverage *" in table.stdout
    told = json.loads(run(*words, "--format", "json").stdout)
    assert [entry["speaker"] for entry in told["speakers"]] == [PAIR[1], PAIR[0]]
    assert told["differences"][0]["decides"]
    rows = run(*words, "--format", "csv").stdout.splitlines()
    assert rows[-1].startswith("score,")


@pytest.mark.whole
def test_compare_marks_what_is_assumed(demo: str, tmp_path: Path) -> None:
    changed = str(shutil.copy(demo, tmp_path / "changed.db"))
    assert run("speaker", "edit", PAIR[1], "--set", "price=", "--db", changed).exit_code == 0
    for database, marks in ((demo, 0), (changed, 1)):
        table = run("compare", *PAIR, "--room", "Mill House", "--db", database).stdout
        (balance,) = [row for row in table.splitlines() if row.startswith("balance")]
        assert balance.count("assumed") == marks


@pytest.mark.parametrize("points", [-0.04, -0.0, 0.0, 0.04])
def test_a_difference_that_rounds_to_nothing_has_no_minus(points: float) -> None:
    difference = CriterionDifference("reach", "Hz", (60.0, 60.0), (0.0, points), decides=False)
    standing: Any = SimpleNamespace(criteria=[SimpleNamespace(criterion="reach", evidence="stated")])
    assert closely._cells(difference, [standing, standing]) == ["60.00 Hz", "60.00 Hz (+0.0)"]
