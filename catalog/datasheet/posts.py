"""What a forum puts between what people say: who posts, and when."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.word_groups import word_groups

_WORDS: Final = word_groups("posts.toml")
_MONTH: Final = rf"{_WORDS['month']}[^\W\d]*\.?"
_DAY: Final = (
    rf"(?:\d{{1,2}}[./-]\d{{1,2}}[./-]\d{{2,4}}|\d{{4}}[./-]\d{{1,2}}[./-]\d{{1,2}}|\d{{1,2}}\.? {_MONTH},? \d{{4}}|"
    rf"{_MONTH} \d{{1,2}},? \d{{4}})"
)
_TIME: Final = r"(?:\d{1,2}[:.h]\d\d(?::\d\d)?(?: ?[ap]m)?)"
_WHO: Final = r"[^\n:,;|•»]{2,32}?"
_HEAD: Final = re.compile(
    rf"\W*(?:{_WHO} {_WORDS['says']}\b(?:[^\n\d:]{{0,12}}{_DAY})?[^\n\d:]{{0,8}}{_TIME}?\W*|"
    rf"(?:#|no\.?|nr\.?) ?\d{{1,5}}\b[^\n]{{1,48}}?{_DAY}[^\n]{{0,8}}{_TIME}\W*|"
    rf"{_WHO}(?:,| »| -| –| \||  )\s*{_DAY}(?:\W*{_WORDS['hour']}?{_TIME})?\W*|"
    rf"{_WORDS['posted']} {_WHO}[,»•|]?[^\n]{{0,8}}(?:{_DAY}|ago)?[^\n]{{0,40}}|"
    rf"[\w.-]{{2,24}} \({_WORDS['counted']}: ?[\d., ]+\)|[\w.-]{{2,24}}, {_WORDS['counted']}: ?[\d., ]+|"
    r"(?:r|u)/\S+ +[•·|][^\n]*|>>\d{1,5}|"
    rf"\d+ {_WORDS['counted_below']}\b[^\n]{{0,40}})",
    re.IGNORECASE,
)
"""The line above a post: 'Moss wrote:', '#3 Moss 04.02.2025, 07:55', 'No.14 Name: Moss 2026/01/18 23:10'."""
_LONGEST_HEAD: Final = 90
"""A longer line says more; tried, no source. [characters]."""


def is_head(line: str) -> bool:
    """Return whether a line says who posts and when, and no more.

    >>> [is_head(one) for one in ("plumb_bob » 03 Feb 2026 22:03", "Moss schrieb am 14.03.2026:", "Wren 2, 2026")]
    [True, True, False]
    >>> [is_head(one) for one in ("No.14 Name: Uncle  2026/01/18 23:10", "Mass: 8 kg", "Knot65, 11 januari 2026:")]
    [True, False, True]
    """
    return len(line) <= _LONGEST_HEAD and _HEAD.fullmatch(line.strip()) is not None
