"""Rooms, equipment, rules, budgets and answers lose nothing in a narrow terminal either."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any, Final

import pytest
from typer.testing import CliRunner

from tests.catalog.cli.test_narrow import lost_in_narrow
from tests.recommender.cli.test_budget import CONTRACT, REST
from triptych.recommender.cli import app

pytestmark = [pytest.mark.slow, pytest.mark.whole]

MAINS: Final = ("--mains", "Bramble Thatch Trivet Tower", "--room", "Mill House")
TWO: Final = ("Bramble Thatch Trivet Wide Centre", "Kettle Moss Bobbin Low Centre")

TABLES: Final = (
    ("room", "list"),
    ("room", "show", "Mill House"),
    ("equipment", "list"),
    ("equipment", "show", "Copper Fallow Five"),
    ("speaker", "show", TWO[0]),
    ("history",),
    *((group, "list") for group in ("maker", "series", "family", "weights")),
    ("weights", "show", "default"),
    ("budget", "rules", "list"),
    ("budget", "rules", "show", "small-room"),
    ("budget", "check", "budget.toml"),
    ("match", *MAINS, "--top", "5"),
    ("compare", *TWO, *MAINS),
    ("explain", TWO[0], *MAINS),
)


def test_every_word_of_an_answer_is_there(
    seeded_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(seeded_template, tmp_path / "seed.db")
    monkeypatch.setenv("TRIPTYCH_DB", str(tmp_path / "seed.db"))
    monkeypatch.chdir(tmp_path)
    Path("budget.toml").write_text(CONTRACT + REST, encoding="utf-8")

    def run(*words: str) -> Any:
        result = CliRunner().invoke(app, list(words), env={"TERM": "dumb"})
        assert result.exit_code == 0, result.output
        return result

    run("equipment", "import", str(Path(__file__).parents[3] / "seed_data" / "equipment.csv"))
    assert lost_in_narrow(run, TABLES, monkeypatch) == []
