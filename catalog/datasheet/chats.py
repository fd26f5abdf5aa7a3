"""Lines of a conversation without who says them and when."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.text_cells import Cell, label

_STAMPED: Final = re.compile(
    r"^[ \t]*\[?\d{1,2}[./-]\d{1,2}[./-]\d{2,4},? \d{1,2}:\d\d(?::\d\d)?\]?(?: -)? [^:\n]{2,24}: ", re.MULTILINE
)
"""A day, a time and a name: '[12-10-2025 19:02] Henk: '."""
_POSTED: Final = re.compile(
    r"^[ \t]*#?\d{1,5}[ \t]+[^\W\d][^\n]{1,30}?[ \t]+\d{1,2}[./-]\d{1,2}[./-]\d{2,4},?[ \t]+\d{1,2}[:.]\d\d[ \t]*$",
    re.MULTILINE,
)
"""The head of a post: '#3 Moss 04.02.2025, 07:55'."""
_NAMED: Final = re.compile(r"^[ \t]*(?P<name>[^\W\d][\w.-]{1,19}): (?=\S)", re.MULTILINE)
_MOSTLY: Final = 0.6
"""What share of the lines opens with a name where people talk; tried, no source."""


def without_writers(text: str) -> str:
    r"""Return a text without the names and times before what people say in turn.

    >>> without_writers("dave: what is it?\nmoss: 44 cm wide\ndave: and?\nmoss: 7.9 kg")
    'what is it?\n44 cm wide\nand?\n7.9 kg'
    >>> without_writers("Width: 44 cm\nWeight: 7.9 kg\nWidth: 40 cm")
    'Width: 44 cm\nWeight: 7.9 kg\nWidth: 40 cm'
    """
    text = _POSTED.sub("", text)
    if len(_STAMPED.findall(text)) > 1:
        return _STAMPED.sub("", text)
    told = [match["name"] for match in _NAMED.finditer(text)]
    names = {name for name in told if told.count(name) > 1 and label(Cell(name, 0, 0)) is None}
    lines = sum(bool(line.strip()) for line in text.splitlines())
    if not names or sum(name in names for name in told) < max(_MOSTLY * lines, 3):
        return text
    return _NAMED.sub(lambda match: "" if match["name"] in names else match[0], text)
