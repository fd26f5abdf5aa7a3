"""The doors by which files and words come in: how much is read, and what is refused before any work is done on it."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable
from decimal import Decimal
from itertools import repeat
from pathlib import Path
from typing import Any, Final, TextIO

from triptych.catalog.errors import BadInput
from triptych.catalog.number_texts import quoted

MOST_TOML: Final = 1_000_000
"""Larger than any room, budget, plan or rule set that a person writes. [bytes]."""

LONGEST_LINE: Final = 16_384
"""Longer than any line of them: a note of 4,000 characters, all of them written as escapes. [characters]."""

DEEPEST: Final = 8
"""More tables and lists within each other than any of them has."""

MOST_KEYS: Final = 256
"""More than any table of them has."""

LONGEST_KEY: Final = 64
"""Longer than any key of them. [characters]."""

_LONGEST_NUMBER: Final = 64
_LARGEST: Final = 10**18
"""TOML promises whole numbers of 64 bits and no more."""

_PART: Final = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_DOTTED: Final = re.compile(rf"(?:^|[\[{{,])[ \t]*(?:{_PART}[ \t]*\.[ \t]*){{{DEEPEST},}}", re.MULTILINE)
_HINT: Final = "text goes in quotes, sections in [brackets]"


def read_toml(path: Path) -> dict[str, Any]:
    """Return what a TOML file holds, its numbers exact.

    Raises
    ------
    BadInput
        It cannot be read, is no text in UTF-8, is no TOML, or is larger or deeper than what a person writes.
    """
    return toml(read_text(path), str(path))


def is_file(path: Path) -> bool:
    """Whether a file has that name; what is too long for a name, or in a closed folder, is none."""
    return os.path.isfile(path)


def read_text(path: Path) -> str:
    """Return the text of a file that people write by hand.

    Raises
    ------
    BadInput
        It cannot be read, is no text in UTF-8, or is too large.
    """
    try:
        with path.open("rb") as stream:
            content = stream.read(MOST_TOML + 1)
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or problem
        raise BadInput(f"{path}: {why}; give the path of a file that can be read") from None
    if len(content) > MOST_TOML:
        raise BadInput(f"{path}: holds more than {MOST_TOML:,} bytes, which nobody writes by hand; name another file")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{path}: is not text in UTF-8; save it so") from None


def read_line(stream: TextIO) -> str:
    """Return one answer with its line end; empty where there is none more.

    Raises
    ------
    BadInput
        It is no text in UTF-8, or too long.
    """
    try:
        text = stream.readline(LONGEST_LINE + 1)
        text.encode()
    except UnicodeError:
        raise BadInput("the answer is not text in UTF-8; nothing was written") from None
    if len(text) > LONGEST_LINE:
        raise BadInput(f"the answer has more than {LONGEST_LINE:,} characters; nothing was written")
    return text


def toml(text: str, source: str) -> dict[str, Any]:
    """Return what TOML says, its numbers exact; `source` names it in errors. See `read_toml`."""
    if len(text) > MOST_TOML:
        raise BadInput(f"{source}: holds more than {MOST_TOML:,} characters, which nobody writes by hand")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise BadInput(f"{source}, line {number}: has {len(line):,} characters; {LONGEST_LINE:,} are the most")
    if found := _DOTTED.search(text):
        place = text.count("\n", 0, found.end()) + 1
        raise BadInput(f"{source}, line {place}: its key has more than {DEEPEST} parts; {_HINT}")
    try:
        data = tomllib.loads(text, parse_float=_decimal)
    except BadInput as problem:
        raise BadInput(f"{source}: {problem}") from None
    except RecursionError:
        raise _too_deep(source) from None
    except ValueError as problem:
        # Python has an advice of its own on thousands of digits
        why = "a number in it is too long" if "int_max_str_digits" in str(problem) else str(problem)[:200]
        raise BadInput(f"{source}: is no TOML: {why}; {_HINT}") from None
    _refuse_strange(data, source)
    return data


def _decimal(text: str) -> Decimal:
    if len(text) > _LONGEST_NUMBER:
        raise BadInput(f"{text[:20]}… is too long for a number: {_LONGEST_NUMBER} characters are the most")
    try:
        return Decimal(text)  # with an exponent it stays as short as it is, and its reader refuses it by its key
    except ArithmeticError:
        raise BadInput(f"{text} is no number; write its digits out") from None


def _refuse_strange(data: dict[str, Any], source: str) -> None:
    """Refuse tables within tables without end, and whole numbers that no figure has."""
    level: list[Any] = [data]
    for _ in range(DEEPEST):
        for table in level:
            if isinstance(table, dict):
                _refuse_many(table, source)
        _refuse_large(level, source)
        level = [part for one in level for part in _parts(one)]
    if level:
        raise _too_deep(source)


def _refuse_large(level: list[Any], source: str) -> None:
    for table in level:
        keys = table if isinstance(table, dict) else repeat("a whole number in it")
        for key, part in zip(keys, _parts(table), strict=False):
            if isinstance(part, int) and abs(part) > _LARGEST:
                raise BadInput(f"{source}: {key} is too large: {_LARGEST:,} is the most")


def _refuse_many(table: dict[str, Any], source: str) -> None:
    if len(table) > MOST_KEYS:
        raise BadInput(f"{source}: a table in it has {len(table):,} keys; {MOST_KEYS} are more than any has")
    if long := next((key for key in table if len(key) > LONGEST_KEY), None):
        raise BadInput(f"{source}: {quoted(long)} is no key; {_HINT}")


def _parts(value: object) -> Iterable[Any]:
    if isinstance(value, dict):
        return value.values()
    return value if isinstance(value, list) else ()


def _too_deep(source: str) -> BadInput:
    many = f"more than {DEEPEST} tables or lists within each other"
    return BadInput(f"{source}: is no TOML that a person writes: {many}; {_HINT}")


def shown(value: object) -> str:
    """Return a TOML value as a person would name it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, (int, Decimal)):
        return format(Decimal(value), ".9g")
    if isinstance(value, dict):
        return "a section"
    return "a list" if isinstance(value, list) else "a date or time"
