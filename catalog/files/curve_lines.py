"""Lines of a file of numbers: which are comments, what divides the cells, and which sign is the decimal one."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from triptych.catalog.errors import BadInput
from triptych.catalog.numerals import PRINTED, Mark, printed

COMMENT: Final = ("#", "*", ";", "%", "//", "!", "'")
"""What a comment line begins with."""

UNIT: Final = r"(?:\s*(k?hz|db\w*|deg\w*|°|rad))?"

CHARACTERS_TOLD: Final = 40
"""Characters of a bad line that are told."""


class Format(NamedTuple):
    """What divides the cells of a line (None: blanks), and the decimal sign."""

    delimiter: str | None
    decimal: Mark


FORMATS: Final = tuple(Format(delimiter, decimal) for delimiter in ("\t", ";", ",", None) for decimal in PRINTED)
"""In the order in which they are preferred where a file could be either."""

_NUMBER: Final = {mark: re.compile(rf"({pattern}){UNIT}", re.IGNORECASE) for mark, pattern in PRINTED.items()}


class Number(NamedTuple):
    """A number and the unit that stands behind it, empty where none does."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class FileLine:
    """One line that is neither empty nor a comment."""

    number: int
    text: str

    @property
    def shown(self) -> str:
        """The line as it is told to people."""
        return repr(self.text if len(self.text) <= CHARACTERS_TOLD else self.text[: CHARACTERS_TOLD - 1] + "…")


@dataclass(frozen=True, slots=True)
class Sorted:
    """The lines of a file: comments, the header's lines, and those with figures; how they are written."""

    comments: tuple[FileLine, ...]
    headers: tuple[FileLine, ...]
    body: tuple[FileLine, ...]
    form: Format


def number(text: str, decimal: Mark) -> Number | None:
    """Return the number in a cell, or None where there is none; in blanks and decimal commas `1,` is no number."""
    found = _NUMBER[decimal].fullmatch(text.strip())
    if found is None or (decimal == "," and found[1].endswith(",")):
        return None
    value = printed(found[1], decimal)
    return None if value is None else Number(value, (found[2] or "").lower())


def cells(text: str, delimiter: str | None) -> list[str]:
    """Return the cells of a line, without empty ones at its end."""
    if delimiter is None:
        found = text.replace("\t", " ").split()
    else:
        found = [cell.strip() for cell in next(csv.reader([text], delimiter=delimiter, skipinitialspace=True), [])]
    while found and not found[-1]:
        found.pop()
    return found


def numbers(text: str, form: Format) -> list[Number | None]:
    """Return the number in each cell of a line, None for a cell that holds none."""
    return [number(cell, form.decimal) for cell in cells(text, form.delimiter)]


def _figures(text: str, form: Format) -> int:
    """How many numbers a line holds where it holds nothing else and at least two, else 0."""
    found = numbers(text, form)
    return len(found) if len(found) >= 2 and None not in found else 0


def _is_comment(text: str) -> bool:
    if not text.startswith(COMMENT):
        return False
    # a table's first header cell may be empty, and its header then begins with the divider
    return not (text.startswith(";") and _figures(text[1:], Format(";", ".")))


def sort_lines(text: str, source: str) -> Sorted:
    """Return the lines of a file, sorted, and how they are written.

    Raises
    ------
    BadInput
        No line holds two numbers.
    """
    lines = [FileLine(place, line.strip(" \r\f\ufeff")) for place, line in enumerate(text.split("\n"), start=1)]
    lines = [FileLine(line.number, line.text.rstrip("\t")) for line in lines if line.text.strip()]
    comments = [line for line in lines if _is_comment(line.text)]
    rest = [line for line in lines if not _is_comment(line.text)]
    form = _form(rest)
    first = next((place for place, line in enumerate(rest) if _begins_with_figure(line.text, form)), None)
    if first is None or not any(_figures(line.text, form) for line in rest):
        raise BadInput(f"{source}: no line holds a frequency and a level; write two numbers a line, such as 1000 85.2")
    return Sorted(tuple(comments), tuple(rest[:first]), tuple(rest[first:]), form)


def _form(lines: Sequence[FileLine]) -> Format:
    """The form in which most lines (of some 500) hold nothing but numbers; of equals the first."""
    some = lines[:: max(1, len(lines) // 500)]
    return max(FORMATS, key=lambda form: sum(_figures(line.text, form) > 0 for line in some))


def _begins_with_figure(text: str, form: Format) -> bool:
    found = cells(text, form.delimiter)
    return bool(found) and bool(re.match(r"[+\-−]?[.,]?\d", found[0]))
