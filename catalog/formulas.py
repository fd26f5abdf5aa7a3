"""Texts that a spreadsheet would take for formulas, told from them by a mark: what CSV files carry."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

APOSTROPHE: Final = "'"
"""What spreadsheets themselves put before a text that is to stay one."""

_MARKED: Final = re.compile(r"'*[=+\-@\t\r]")
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?(?: ?[A-Za-z°%]{1,4})?")


def guarded(text: str) -> str:
    """Return a cell that no spreadsheet runs; a number stays one, and so does one with its unit.

    >>> guarded("=1+1"), guarded("-3 dB"), guarded("'=1"), guarded("'tis")
    ("'=1+1", '-3 dB', "''=1", "'tis")
    """
    return APOSTROPHE + text if _MARKED.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(text: str) -> str:
    """Return the text that `guarded` made a cell of.

    >>> unguarded("'=1+1"), unguarded("-3"), unguarded("''=1"), unguarded("'tis")
    ('=1+1', '-3', "'=1", "'tis")
    """
    return text[1:] if text.startswith(APOSTROPHE) and _MARKED.match(text) else text


def guarded_rows(rows: Iterable[Sequence[str]]) -> Iterator[list[str]]:
    """Give rows of cells that no spreadsheet runs."""
    return ([guarded(cell) for cell in row] for row in rows)
