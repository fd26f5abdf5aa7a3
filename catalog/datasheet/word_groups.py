"""Tables of the vocabulary, the words of all their languages as one group of a pattern each."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from importlib.resources import files


def word_groups(name: str) -> dict[str, str]:
    """Return each table of a file of the vocabulary as a group of all its words, the longest first."""
    text = files("triptych.catalog.datasheet").joinpath("vocabulary", name).read_text("utf-8")
    return {key: _any(word for words in table.values() for word in words) for key, table in tomllib.loads(text).items()}


def _any(words: Iterable[str]) -> str:
    return f"(?:{'|'.join(sorted(set(words), key=lambda word: (-len(word), word)))})"
