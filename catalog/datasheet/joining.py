"""Words that join, and words of ranges, of every language as pieces of patterns."""

from __future__ import annotations

from typing import Final

from triptych.catalog.datasheet.word_groups import word_groups

_WORDS: Final = word_groups("joining.toml")

AND: Final = _WORDS["and"]
OR: Final = _WORDS["or"]
WITH: Final = _WORDS["with"]
TO: Final = _WORDS["to"]
"""Between the two ends of a range."""
BETWEEN: Final = _WORDS["between"]
FROM: Final = _WORDS["from"]
"""Before the end from which something goes up."""
UP_TO: Final = _WORDS["up_to"]
"""Before the end up to which something goes."""
AT: Final = _WORDS["at"]
RANGED: Final = rf"(?:-|–|~|÷|\.{{2,3}}|…|{TO})"
"""Between the two ends of a range: a mark or a word."""
