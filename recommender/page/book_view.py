"""What a view of the books shows, and how sorts of loudspeakers are told in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple


class Press(NamedTuple):
    """A button in a row: what stands on it, and what it sends."""

    words: str
    step: str
    number: str


Cell = str | tuple[str, str] | Press
"""A word, a word with its address, or a button."""


@dataclass(frozen=True, slots=True)
class BookView:
    """What a view shows: heads, rows of cells, and what is said below."""

    heads: tuple[str, ...]
    rows: Sequence[Sequence[Cell]]
    empty: str
    notes: Sequence[str] = field(default=())


def sort_words(speaker: str, finish: str | None, *more: str | None) -> str:
    """A loudspeaker with its finish, and what else tells it from others."""
    return ", ".join(filter(None, (speaker, finish, *more)))
