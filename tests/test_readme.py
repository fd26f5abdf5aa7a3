"""The README is true: each console block is run as it stands, in order, and must print what the README prints.

`python -m tests.test_readme` writes the blocks anew; read the difference before you commit it.
"""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import tempfile
from pathlib import Path

import pytest
from typer.testing import CliRunner

from triptych.recommender.cli import app

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CUT = "[...]"


def commands(block: str) -> list[str]:
    """The commands of a block, without their prompts."""
    return [line[2:] for line in block.splitlines() if line.startswith("$ ")]


def run(command: str, folder: Path) -> str:
    """What a command prints, 80 columns wide, in an empty home and the present folder, which is the same."""
    words = shlex.split(command)
    if words[0] == "cat":
        return (folder / words[1]).read_text(encoding="utf-8")
    assert words[0] == "triptych", f"the README runs triptych and cat, not {words[0]}"
    home = {
        **{name: None for name in os.environ if name.startswith("TRIPTYCH")},
        "HOME": str(folder), "XDG_DATA_HOME": str(folder / "data"), "COLUMNS": "80", "TERM": "dumb", "NO_COLOR": "1",
    }  # fmt: skip
    with contextlib.chdir(folder):
        done = CliRunner().invoke(app, words[1:], env=home)
    return done.stdout + done.stderr


def printed(block: str, folder: Path) -> str:
    """The block as it should be: each command with what it prints, cut where the README cuts it."""
    told = re.split(r"^\$ .*\n", block, flags=re.MULTILINE)[1:]
    out = []
    for command, before in zip(commands(block), told, strict=True):
        lines = [line.rstrip() for line in run(command, folder).rstrip().splitlines()]
        kept = before.rstrip().splitlines()
        if kept and kept[-1] == CUT and len(lines) >= len(kept):
            lines = [*lines[: len(kept) - 1], CUT]
        out.append("\n".join([f"$ {command}", *lines]))
    return "\n".join(out) + "\n"


def blocks() -> list[str]:
    return BLOCK.findall(README.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("reader")


@pytest.mark.processes
def test_the_readme_shows_what_the_commands_print(home: Path) -> None:
    for block in blocks():
        assert printed(block, home) == block


def test_the_readme_has_both_commands_first() -> None:
    text = README.read_text(encoding="utf-8")
    shown = re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    assert "triptych demo" in shown[0]
    assert "pytest" in shown[1]


def rewrite() -> None:
    """Run every block and write what it prints into the README."""
    text = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for block in blocks():
            text = text.replace(f"```console\n{block}```", f"```console\n{printed(block, Path(folder))}```")
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    rewrite()
