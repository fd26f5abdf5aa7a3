"""Scenarios of the command line: play them with the clock stopped, write what they answer, and find what differs."""

from __future__ import annotations

import contextlib
import difflib
import io
import logging
import math
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final, NamedTuple
from unittest.mock import patch

import time_machine
import typer

from triptych.recommender.cli import app

ANSWERS: Final = Path(__file__).with_name("answers")
START: Final = datetime(2025, 3, 3, 9, tzinfo=UTC)
"""The ledger refuses what its database calls the future, so this lies in the past. A minute goes by with each step."""
NUMBER: Final = re.compile(r"-?\b\d+(?:\.\d+(?:e[+-]?\d+)?|e[+-]?\d+)\b")


class Step(NamedTuple):
    """One call of `triptych`: its words, the exit code it must have, and the files it writes that are kept."""

    words: str
    code: int = 0
    name: str = ""
    keeps: tuple[str, ...] = ()
    columns: int = 80
    stdin: str = ""
    days: int = 0


class Scenario(NamedTuple):
    """Steps in order on a catalogue of their own, in a folder with these files; seeded or with no catalogue."""

    steps: tuple[Step, ...]
    files: Mapping[str, str] = {}
    seeded: bool = True


def done(words: str, *keeps: str, stdin: str = "", days: int = 0) -> tuple[Step, ...]:
    """A step that does something and keeps what it writes."""
    return (Step(words, keeps=keeps, stdin=stdin, days=days),)


def refused(*words: str, code: int = 1) -> tuple[Step, ...]:
    """Steps that each must be refused."""
    return tuple(Step(one, code) for one in words)


def asked(name: str, words: str, *, wide: bool = True, csv: bool = True, code: int = 0) -> tuple[Step, ...]:
    """A question in each form: a table of 80 columns and of 110, JSON in a file of this name, and CSV."""
    steps = [Step(words, code), Step(f"{words} --format json", code, name)]
    steps += [Step(words, code, columns=110)] if wide else []
    steps += [Step(f"{words} --format csv", code)] if csv else []
    return tuple(steps)


@cache
def program() -> Any:
    """The whole tree of commands, built once."""
    root: Any = typer.main.get_command(app)
    found = {name: root.get_command(None, name) for name in root.list_commands(None)}
    root.get_command = lambda _, name: found.get(name)
    return root


def leaves(group: Any = None, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The words of every command that is no group."""
    group = program() if group is None else group
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        if hasattr(command, "list_commands"):
            yield from leaves(command, (*path, name))
        else:
            yield (*path, name)


class Told(NamedTuple):
    """What a call of the program ended with and wrote."""

    code: int
    out: str
    err: str


def call(words: list[str], stdin: str = "") -> Told:
    """Call the program in this process, as a person would, without a terminal."""
    pipes = io.BytesIO(), io.BytesIO()
    out, err = (io.TextIOWrapper(pipe, "utf-8", newline="", write_through=True) for pipe in pipes)
    given = io.TextIOWrapper(io.BytesIO(stdin.encode()), "utf-8")
    code: object = 0
    with (
        patch.object(sys, "stdin", given),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        patch.object(logging.getLogger("triptych"), "propagate", False),
    ):
        try:
            program().main(words, prog_name="triptych")
        except SystemExit as end:
            code = end.code or 0
    assert isinstance(code, int), code
    return Told(code, *(pipe.getvalue().decode() for pipe in pipes))


@contextlib.contextmanager
def surroundings(folder: Path) -> Iterator[None]:
    """A known environment, with the folder as its place, home and the catalogue's."""
    known = {name: text for name, text in os.environ.items() if not name.startswith(("TRIPTYCH", "COLUMNS", "LINES"))}
    known |= {"HOME": str(folder), "XDG_DATA_HOME": str(folder), "NO_COLOR": "1", "TERM": "dumb", "TZ": "UTC"}
    known |= {"TRIPTYCH_DB": str(folder / "catalogue.db"), "TRIPTYCH_USER": "anna", "LC_ALL": "C.UTF-8"}
    known.pop("FORCE_COLOR", None)
    with patch.dict(os.environ, known, clear=True), contextlib.chdir(folder):
        yield


@cache
def _seed() -> bytes:
    """A catalogue of the seed data, as a file."""
    with tempfile.TemporaryDirectory() as name, surroundings(Path(name)), time_machine.travel(START, tick=False):
        assert call(["demo", "--keep", "seed.db"]).code == 0
        return Path("seed.db").read_bytes()


def play(scenario: Scenario, called: str) -> dict[str, str]:
    """Play a scenario in a folder of its own; give what is kept, as text by the name of its file."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        for file, text in scenario.files.items():
            (folder / file).write_text(text, encoding="utf-8")
        if scenario.seeded:
            (folder / "catalogue.db").write_bytes(_seed())
        with surroundings(folder):
            return {file: _settled(text, folder) for file, text in _played(scenario, called).items()}


def _played(scenario: Scenario, called: str) -> dict[str, str]:
    told_lines: list[str] = []
    kept: dict[str, str] = {}
    moment = START
    for step in scenario.steps:
        moment += timedelta(days=step.days, minutes=1)
        with time_machine.travel(moment, tick=False), patch.dict(os.environ, COLUMNS=str(step.columns)):
            told = call(shlex.split(step.words), step.stdin)
        assert told.code == step.code, f"{step.words}: ended with {told.code}, not {step.code}\n{told.err}"
        files = {f"{called}/{file}{'.txt' * file.endswith('.xlsx')}": _text(Path(file)) for file in step.keeps}
        if step.name:
            files[f"{called}/{step.name}.json"] = told.out
            told = told._replace(out=f"(in {step.name}.json)\n")
        assert not files.keys() & kept.keys(), f"{step.words}: one file is kept twice"
        kept |= files
        told_lines.append(_lines(step, told))
    return {f"{called}.txt": "\n".join(told_lines), **kept}


def _lines(step: Step, told: Told) -> str:
    """A step as a terminal would show it, with the end of each line that isn't a plain one made visible."""
    head = f"$ {f'COLUMNS={step.columns} ' * (step.columns != 80)}triptych {step.words}\n"
    told_err = "".join(f"! {line}\n" for line in told.err.splitlines())
    out = told.out.replace("\r", "␍")
    return head + out + "\n" * (not out.endswith("\n") and bool(out)) + told_err + f"= {told.code}\n"


def _text(file: Path) -> str:
    if file.suffix != ".xlsx":
        return file.read_bytes().decode("utf-8").replace("\r", "␍")
    import openpyxl

    sheets = openpyxl.load_workbook(file).worksheets
    return "".join(f"{line}\n" for sheet in sheets for line in (sheet.title, *sheet.values))


def _settled(text: str, folder: Path) -> str:
    text = text.replace(str(folder), "<folder>")
    return re.sub(rf"(triptych ){re.escape(version('triptych'))}\b", r"\1<version>", text, flags=re.IGNORECASE)


def alike(one: str, other: str) -> bool:
    """Whether two answers are the same but for the last digits of their decimal fractions.

    Responses are in single precision, and in which order they are summed depends on where they lie in memory.
    """
    if NUMBER.split(one) != NUMBER.split(other):
        return False
    pairs = zip(NUMBER.findall(one), NUMBER.findall(other), strict=True)
    return all(math.isclose(float(mine), float(theirs), rel_tol=1e-6, abs_tol=1e-9) for mine, theirs in pairs)


def stored(called: str) -> dict[str, str]:
    """The answers that are kept of a scenario."""
    files = [ANSWERS / f"{called}.txt", *sorted((ANSWERS / called).glob("*"))]
    return {file.relative_to(ANSWERS).as_posix(): file.read_bytes().decode("utf-8") for file in files if file.exists()}


def differences(before: Mapping[str, str], now: Mapping[str, str]) -> str:
    """What differs, line by line; only JSON and pages may differ in the last digits."""
    told: list[str] = []
    for file in sorted(before.keys() | now.keys()):
        old, new = before.get(file, ""), now.get(file, "")
        if old != new and not (file.endswith((".json", ".html")) and alike(old, new)):
            told += difflib.unified_diff(
                old.splitlines(), new.splitlines(), f"kept {file}", f"now {file}", "", "", 2, ""
            )
    return "\n".join(told)


def write(scenario: Scenario, called: str) -> None:
    """Write the answers of a scenario anew, in place of those kept."""
    answers = play(scenario, called)
    shutil.rmtree(ANSWERS / called, ignore_errors=True)
    for file, text in answers.items():
        (ANSWERS / file).parent.mkdir(parents=True, exist_ok=True)
        (ANSWERS / file).write_bytes(text.encode("utf-8"))
