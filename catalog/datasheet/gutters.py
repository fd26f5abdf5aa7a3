"""Two columns of a printed page that a copy put side by side: first the left one, then the right one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

_FEWEST: Final = 4
"""How many lines two columns have at least; tried, no source. [lines]."""
_MOSTLY: Final = 0.7
"""What share of the lines has its right part at the same place; tried, no source."""
_RIGHT: Final = re.compile(r"(?<=\S)( {2,})(?=\S)")
_BROKEN: Final = re.compile(r"[^\W\d_]-$")
_LABELLED: Final = re.compile(r"[^\W\d_][^:]{1,40}:\s?\S")


def columns_apart(text: str) -> str:
    r"""Return a text with what stood in two columns one below the other, where its lines show that.

    >>> left = ["A centre for small rooms. The cabi-", "net is of oak, the tweeter is a", "dome, and the bass re-"]
    >>> right = ["Power    60 W", "Impedance    4 ohm", "Weight    6.9 kg", "Depth    25 cm"]
    >>> page = "\n".join(f"{one:40}{other}" for one, other in zip([*left, "flex port is at the back."], right))
    >>> print(columns_apart(page).split("\n\n")[1])
    Power    60 W
    Impedance    4 ohm
    Weight    6.9 kg
    Depth    25 cm
    """
    paragraphs = re.split(r"\n[ \t]*\n", text)
    return "\n\n".join(_apart(paragraph) for paragraph in paragraphs) if _RIGHT.search(text) else text


def _apart(paragraph: str) -> str:
    lines = paragraph.split("\n")
    column = _gutter(lines)
    if column is None:
        return paragraph
    left = [line[:column].rstrip() for line in lines]
    right = [line[column:].strip() for line in lines]
    if not (_is_prose(left) or _both_labelled(left, right)):
        return paragraph
    return "\n".join(filter(None, left)) + "\n\n" + "\n".join(filter(None, right))


def _gutter(lines: Sequence[str]) -> int | None:
    """The place at which the right parts of most lines begin, with blanks before it in all of them."""
    starts = Counter(match.end() for line in lines for match in _RIGHT.finditer(line))
    for column, count in starts.most_common(3):
        long = [line for line in lines if len(line) > column]
        clear = all(line[column - 2 : column] == "  " for line in long)
        if count >= max(_FEWEST, _MOSTLY * len(lines)) and clear and column > 20:
            return column
    return None


def _is_prose(left: Sequence[str]) -> bool:
    """Whether the left column is running text: words broken at its lines' ends, and no wide blanks."""
    filled = [line for line in left if line.strip()]
    broken = sum(_BROKEN.search(line) is not None for line in filled)
    wide = sum(_RIGHT.search(line.strip()) is not None for line in filled)
    return broken > 1 and not wide


def _both_labelled(left: Sequence[str], right: Sequence[str]) -> bool:
    """Whether both columns are labels with their values, and no label is in both."""
    sides = [[line.strip() for line in side if line.strip()] for side in (left, right)]
    told = [[one.split(":")[0].casefold() for one in side if _LABELLED.match(one)] for side in sides]
    if any(
        len(labels) < _MOSTLY * len(side) or len(labels) < _FEWEST for labels, side in zip(told, sides, strict=True)
    ):
        return False
    return len(set(told[0]) & set(told[1])) < 2
