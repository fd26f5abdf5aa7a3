"""Words that join, and words of ranges, of every language as pieces of patterns."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Final

_TABLES: Final = tomllib.loads(
    files("triptych.catalog.datasheet").joinpath("vocabulary", "joining.toml").read_text("utf-8")
)


def _any(name: str) -> str:
    """One group of all words of a table, the longest first."""
    words = {word for one in _TABLES[name].values() for word in one}
    return f"(?:{'|'.join(sorted(words, key=lambda word: (-len(word), word)))})"


AND: Final = _any("and")
OR: Final = _any("or")
WITH: Final = _any("with")
TO: Final = _any("to")
"""Between the two ends of a range."""
BETWEEN: Final = _any("between")
FROM: Final = _any("from")
"""Before the end from which something goes up."""
UP_TO: Final = _any("up_to")
"""Before the end up to which something goes."""
AT: Final = _any("at")
RANGED: Final = rf"(?:-|–|~|÷|\.{{2,3}}|…|{TO})"
"""Between the two ends of a range: a mark or a word."""
