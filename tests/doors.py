"""Every door of the command line, and what hostile hands put through it."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple

from typer.testing import CliRunner, Result

from tests.frozen.playing import program
from triptych.recommender.cli import app

WORDS: Final = (
    "1e999999999",
    "9" * 5000,
    "-1e-999999999",
    "1e400",
    "nan",
    "-inf",
    "0x1F",
    "1/0",
    "½½",
    "1.000.000,00.1",
    "",
    " ",
    "é" * 300,
    "x" * 9000,
    "a\x07\x1b[31mb",
    "a\u202eb\u200b",
    "a\nb\ttab",
    "=1+1",
    "[" * 3000,
    "{'a': [1]}",
    "../../etc/passwd",
    "sqlite:///:memory:",
    "2025-99-99",
    "%s%n{0}",
    "/dev/zero/x",
    ".",
)
"""Numbers, dates, names and paths that nobody means."""

FILES: Final[dict[str, bytes]] = {
    "exponent": b'name = "r"\n[[seat]]\nname = "a"\ndistance = 1e999999999\n',
    "digits": b"limit = " + b"9" * 5000 + b"\n",
    "decimals": b"limit = 1." + b"1" * 100_000 + b"\n",
    "hexadecimal": b"limit = 0x" + b"f" * 9000 + b"\n",
    "nested": b"name = " + b"[" * 5000 + b"]" * 5000 + b"\n",
    "inline": b"name = " + b"{a=" * 3000 + b"1" + b"}" * 3000 + b"\n",
    "dotted": b".".join([b"a"] * 50_000) + b" = 1\n",
    "table": b"[" + b".".join([b"a"] * 50_000) + b"]\n",
    "line": b'name = "' + b"x" * 200_000 + b'"\n',
    "parts": b'name.first = "x"\nlimit.of.it = 3\nseat.name = "a"\nline.price = 3\ncurrency.code = "EUR"\n',
    "large": b"# a comment\n" * 120_000,
    "keys": b"\n".join(b"k%d = 1" % number for number in range(20_000)),
    "latin": 'name = "Caf\xe9"\n'.encode("latin-1"),
    "utf16": 'name = "r"\n'.encode("utf-16"),
    "nul": b'name = "a\0b"\n',
    "escape": b'name = "a\\u0000\\u202eb"\nwhy = "\\u001b[31m"\n',
    "empty": b"",
    "unfinished": b'name = "',
    "dates": b"name = 2025-01-01\nlimit = 12:00:00\nseat = 1979-05-27T07:32:00Z\n",
    "infinite": b"limit = inf\ntimbre = nan\n",
    "types": b"name = true\nseat = 3\nplace = [1, [2]]\nline = {a = 1}\nweights = [1]\n",
    "others": b"rule = 1\nwant = []\norder = 5\nscreen = []\n",
    "binary": bytes(range(256)) * 20,
}
"""What a file may hold that is no room, budget, plan, rule set, weights or curve."""


class Door(NamedTuple):
    """One parameter of one command: how it is named, and the words that it needs before it."""

    command: tuple[str, ...]
    words: tuple[str, ...]
    name: str


def leaves() -> Iterator[tuple[tuple[str, ...], Any]]:
    """Give every command with the words that call it."""
    root = program()
    for name in root.list_commands(None):
        found = root.get_command(None, name)
        if hasattr(found, "list_commands"):
            yield from (((name, one), found.get_command(None, one)) for one in found.list_commands(None))
        else:
            yield (name,), found


def doors(known: dict[str, str]) -> list[Door]:
    """Give every parameter that takes a text; what else the command demands is filled from `known`, by name."""
    found = []
    for words, command in leaves():
        needed = [one for one in command.params if one.required]
        for one in command.params:
            if getattr(one, "is_flag", False) or one.name == "help":
                continue
            others = [other for other in needed if other is not one]
            given = tuple(part for other in others for part in _said(other, known.get(other.name, "1")))
            found.append(Door(words, (*given, *_prefix(one)), one.name))
    return found


def _prefix(parameter: Any) -> tuple[str, ...]:
    return (parameter.opts[0],) if parameter.param_type_name == "option" else ()


def _said(parameter: Any, word: str) -> tuple[str, ...]:
    return (*_prefix(parameter), word)


@contextmanager
def within(folder: Path) -> Iterator[None]:
    """Work in a folder, so that what is written by a relative name goes there."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def knock(words: tuple[str, ...], stdin: str | bytes = "") -> Result:
    """Call the program in this process, with what libraries warn of as errors."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return CliRunner().invoke(app, list(words), input=stdin)


def complaint(result: Result) -> str:
    """Say why an answer is none of those a person can do something with; empty where it is."""
    said = result.output
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return f"{type(result.exception).__name__}: {result.exception}"[:300]
    if result.exit_code not in (0, 1, 2):
        return f"exit {result.exit_code}"
    if "Traceback" in said or "Warning" in said:
        return said[-300:]
    return f"{len(said)} characters are said" if result.exit_code and len(said) > 20_000 else ""
