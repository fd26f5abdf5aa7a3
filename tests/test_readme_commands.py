"""The README's table of commands names every command there is, in the words of its own help.

`python -m tests.test_readme_commands` writes the table anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer

from triptych.recommender.cli import app

README = Path(__file__).parents[1] / "README.md"
TABLE = re.compile(r"(?<=<!-- commands -->\n).*?(?=<!-- end -->)", re.DOTALL)


def leaves(command: Any, name: str) -> Iterator[tuple[str, str]]:
    """Every command below a group, by its whole name, with the first sentence of its help."""
    context = command.make_context(name.split()[-1], [], resilient_parsing=True)
    if hasattr(command, "list_commands"):
        for below in command.list_commands(context):
            yield from leaves(command.get_command(context, below), f"{name} {below}")
    else:
        yield name, re.split(r"(?<=\.)\s", command.help or "")[0].replace("\n", " ")


def table() -> str:
    rows = [f"| `{name}` | {says} |" for name, says in leaves(typer.main.get_command(app), "triptych")]
    return "\n".join(["| command | what it does |", "| --- | --- |", *rows, ""])


def test_the_readme_names_every_command() -> None:
    assert TABLE.findall(README.read_text(encoding="utf-8")) == [table()]


if __name__ == "__main__":
    README.write_text(TABLE.sub(lambda _: table(), README.read_text(encoding="utf-8")), encoding="utf-8")
