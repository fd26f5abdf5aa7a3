"""Every key of a budget's and a plan's file stands in the README and in the help; out of range is told in one voice."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest
from typer.testing import CliRunner

from triptych.recommender.advise.planning.wanted import PlanHead
from triptych.recommender.cli.budget import app
from triptych.recommender.money.budget.budget_lines import Head, LineTable

README = Path(__file__).parents[3] / "README.md"


@pytest.mark.parametrize(
    ("kind", "commands"), [(LineTable, ("check",)), (Head, ("check",)), (PlanHead, ("plan", "check"))]
)
def test_every_key_is_in_the_readme_and_in_the_help(kind: type, commands: tuple[str, ...]) -> None:
    keys = {entry.name for entry in fields(kind)} - {"line"}
    told = README.read_text(encoding="utf-8")
    assert not {key for key in keys if f"`{key}`" not in told and f"`[{key}]`" not in told}
    helped = "".join(
        CliRunner().invoke(app, [command, "--help"], env={"COLUMNS": "200"}).stdout for command in commands
    )
    assert not {key for key in keys if key not in helped}


HEAD = 'currency = "EUR"\nlimit = 1000\ntax_included = true\n'
LINE = '[[line]]\nrole = "mains"\ntax_included = true\n'


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (HEAD.replace("1000", "10000000000000") + LINE + "price = 1\n", "the head: limit"),
        (HEAD + LINE + "price = 10000000000000\n", "line 1 (mains): price"),
        (HEAD + LINE + "price = 900000000000\nquantity = 2\n", "line 1 (mains): price for all of the line"),
        (HEAD + "rates = {USD = 10000000}\n" + LINE + "price = 1\n", "the head: rates: USD"),
        (HEAD + "rates = {USD = 0}\n" + LINE + "price = 1\n", "the head: rates: USD"),
        (HEAD + LINE + "price = -1\n", "line 1 (mains): price"),
    ],
)
def test_what_is_out_of_range_is_refused_in_one_voice(tmp_path: Path, text: str, where: str) -> None:
    file = tmp_path / "budget.toml"
    file.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(file), "--db", str(tmp_path / "c.db")])
    assert done.exit_code == 1
    assert f"{where} is out of range; write a number from " in done.output.replace("\n", " ")


@pytest.mark.parametrize("number", ["1e400", "1E+15", "nan", "inf", "-inf"])
@pytest.mark.parametrize("key", ["limit", "price", "rate"])
def test_no_number_brings_a_traceback(tmp_path: Path, key: str, number: str) -> None:
    sums = {"limit": "1000", "price": "100", "rate": "1"} | {key: number}
    file = tmp_path / "budget.toml"
    file.write_text(
        f'currency = "EUR"\nlimit = {sums["limit"]}\ntax_included = true\nrates = {{USD = {sums["rate"]}}}\n{LINE}'
        f'price = {sums["price"]}\n', encoding="utf-8",
    )  # fmt: skip
    done = CliRunner().invoke(app, ["check", str(file), "--db", str(tmp_path / "c.db")])
    assert done.exit_code == 1
    assert "Traceback" not in done.output
