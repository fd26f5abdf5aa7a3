"""One row of a file of rows and columns, and how much of one is taken at all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

LARGEST_FILE: Final = 64 * 2**20
"""More than the figures of a quarter of a million loudspeakers. [bytes]."""

LONGEST_ROW: Final = 2**17
"""Far more than all cells of a row hold; a longer line is no row of a table. [characters]."""

MOST_COLUMNS: Final = 1_000
MOST_ROWS: Final = 200_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row as text; `complaints` says, by position, why a cell has no text that can be trusted.

    `typed` are the positions of cells that a sheet holds as numbers; their text says nothing of how people write.
    """

    line: int
    cells: tuple[str, ...]
    complaints: Mapping[int, str] = field(default_factory=dict)
    typed: frozenset[int] = frozenset()

    @property
    def empty(self) -> bool:
        """Whether nothing stands in the row."""
        return not any(self.cells) and not self.complaints


def tidy(text: str) -> str:
    """Return a cell without white space at its ends and with one kind of line end."""
    return (re.sub(r"\r\n?", "\n", text) if "\r" in text else text).strip()
