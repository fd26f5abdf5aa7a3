"""Tables for a terminal in which their columns would vanish: a line a cell, each with its name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

TABLE_WIDTHS: Final = {"ranking": 60, "comparison": 60, "quantities": 72, "seats": 76}
"""So wide a terminal has to be for each table [columns]."""


def is_narrow(console: Console, kind: str) -> bool:
    """Whether a table of a kind would lose columns."""
    return console.width < TABLE_WIDTHS[kind]


def show(console: Console, table: Table, kind: str) -> None:
    """A table as it is, or where it doesn't fit what stands in each row, by the heads of its columns."""
    if not is_narrow(console, kind):
        console.print(table)
        return
    heads = [str(column.header) if table.show_header else "" for column in table.columns]
    for row in zip(*(list(column.cells) for column in table.columns), strict=True):
        told = [(head, str(cell)) for head, cell in zip(heads, row, strict=True) if isinstance(cell, str | Text)]
        _row(console, [one for one in told if one[1]], apart=kind == "comparison")


def _row(console: Console, cells: Sequence[tuple[str, str]], *, apart: bool) -> None:
    """A row: what names it, and below it the rest with the heads, each on a line or all in a sentence."""
    named = 2 if cells and not cells[0][0] and not apart else 1
    console.print(Text(" ".join(cell for _, cell in cells[:named]), style="bold"))
    rest = [f"{head} {cell}".strip() for head, cell in cells[named:]]
    for line in rest if apart else ["; ".join(rest)] * bool(rest):
        console.print(Padding(Text(line), (0, 0, 0, 2)))
