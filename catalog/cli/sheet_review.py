"""A datasheet looked through before anything is stored: its text with what was read marked, questions, corrections."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import tell
from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from triptych.catalog.datasheet import ReadField, ReadSheet, SheetNumber

Said = list[dict[str, str]]
"""What a person says of each loudspeaker of a sheet, by column."""

_LEGEND: Final = "Read: ^^^  concluded: ~~~  refused: ???  not read: !!!"
_SIGNS: Final = {"figure": "^", "inferred": "~", "refused": "?", "not read": "!"}
"""What stands under a number by its fate."""
_WIDE: Final = 56
"""From how wide a line on, what was read of it stands below it and not beside. [characters]."""


def print_text(sheet: ReadSheet) -> None:
    """Print a sheet's text with its numbers marked in place, and beside each line the figures that it gave."""
    styled = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    typer.echo(_LEGEND if not styled else "Underlined: read. In reverse: refused or not read.")
    for line, numbers, start in _lines(sheet):
        if not line.strip():
            typer.echo("")
            continue
        beside = "; ".join(_figures(sheet, numbers))
        shown = _styled(line, numbers, start) if styled else options.harmless(line)
        close = beside and len(line) < _WIDE
        typer.echo(f"{shown}{' ' * (_WIDE - len(line))}{beside}" if close else shown)
        under = "" if styled else _under(line, numbers, start)
        if under:
            typer.echo(under)
        if beside and not close:
            typer.echo(f"{' ' * 4}{beside}")


def _lines(sheet: ReadSheet) -> Iterator[tuple[str, list[SheetNumber], int]]:
    """Each line of the text with its numbers and where it starts."""
    start, numbers = 0, list(sheet.numbers)
    for line in sheet.text.split("\n"):
        end = start + len(line)
        yield line.rstrip("\r"), [one for one in numbers if start <= one.start < end], start
        start = end + 1


def _figures(sheet: ReadSheet, numbers: Sequence[SheetNumber]) -> Iterator[str]:
    """The figures that the numbers of a line gave, each once."""
    from triptych.catalog.fields import COLUMNS

    told = dict.fromkeys((one.record or 0, column) for one in numbers for column in one.columns)
    for record, column in told:
        field = sheet.records[record].fields.get(column)
        which = f"{record + 1}: " if len(sheet.records) > 1 else ""
        value = "refused" if field is None or field.value is None else as_typed(column, field)
        yield options.harmless(f"{which}{COLUMNS[column].name} {value}")


def _under(line: str, numbers: Sequence[SheetNumber], start: int) -> str:
    under = [" "] * len(line)
    for one in numbers:
        for at in range(one.start - start, min(one.end - start, len(line))):
            under[at] = _SIGNS.get(one.fate.value, " ")
    return "".join(under).rstrip()


def _styled(line: str, numbers: Sequence[SheetNumber], start: int) -> str:
    shown, last = "", 0
    for one in numbers:
        left, right = one.start - start, one.end - start
        read = one.fate.value in ("figure", "inferred")
        lost = one.fate.value in ("refused", "not read")
        shown += options.harmless(line[last:left])
        shown += typer.style(options.harmless(line[left:right]), underline=read or None, reverse=lost or None)
        last = right
    return shown + options.harmless(line[last:])


def as_typed(column: str, field: ReadField) -> str:
    """Return a figure as a person typed it, or else in its column's unit with no more digits than a sheet has."""
    from triptych.catalog.datasheet.result import GIVEN
    from triptych.catalog.fields import COLUMNS

    if GIVEN in field.flags:
        bare = re.fullmatch(r"[\d.,]+", field.raw) and COLUMNS[column].unit
        return f"{field.raw} {bare}" if bare else field.raw
    return COLUMNS[column].legible(field.value)


def ask(sheet: ReadSheet, said: Said, read: Callable[[Said], ReadSheet]) -> ReadSheet:
    """Ask what a sheet leaves open, one question after the other, then for corrections; tell what each one changes.

    Parameters
    ----------
    sheet : ReadSheet
        As it was read with `said`, which the answers are added to.
    read : callable
        Reads it again with what was said.

    Raises
    ------
    BadInput
        An answer is no text.
    """
    for place in range(len(sheet.records)):
        asked: set[str] = set()
        while question := next((one for one in sheet.records[place].questions if one not in asked), None):
            asked.add(question)
            column = _column(question)
            which = f"Loudspeaker {place + 1}, " if len(sheet.records) > 1 else ""
            answer = _answer(f"{which}{question} [empty: leave it open] ", column)
            if answer:
                sheet = _changed(sheet, said, place, answer, read)
    return _corrected(sheet, said, read)


def _corrected(sheet: ReadSheet, said: Said, read: Callable[[Said], ReadSheet]) -> ReadSheet:
    several = len(sheet.records) > 1
    form = "NUMBER COLUMN=VALUE" if several else "COLUMN=VALUE"
    while text := _line(f"Correct anything? {form} [empty: go on] "):
        number, _, rest = text.partition(" ") if several else ("1", "", text)
        name, mark, value = rest.partition("=")
        if not mark or not number.isdecimal() or not 1 <= int(number[:4]) <= len(sheet.records):
            tell(f"{text!r} is no {form}, such as {'2 ' if several else ''}weight=14.2 kg")
        elif complaint := _wrong(name.strip(), value.strip()):
            tell(complaint)
        else:
            sheet = _changed(sheet, said, int(number) - 1, {name.strip(): value.strip()}, read)
    return sheet


def _changed(
    sheet: ReadSheet, said: Said, place: int, answer: dict[str, str], read: Callable[[Said], ReadSheet]
) -> ReadSheet:
    """Read again with an answer, and tell every column that it changes."""
    said[place] |= answer
    now = read(said)
    for before, after in zip(sheet.records, now.records, strict=True):
        for column in {**before.fields, **after.fields}:
            old, new = before.fields.get(column), after.fields.get(column)
            if old != new:
                tell(f"  {column}: {_told(column, old)} -> {_told(column, new)}")
    return now


def _told(column: str, field: ReadField | None) -> str:
    if field is None:
        return "not there"
    return f"refused ({field.flags[0]})" if field.value is None else as_typed(column, field)


def _column(question: str) -> str | None:
    """The column that a question is about; None where it is about several."""
    from triptych.catalog.fields import COLUMNS

    name = question.partition(":")[0]
    return name if name in COLUMNS else None


def _answer(question: str, column: str | None) -> dict[str, str]:
    """An answer that its column can read, asked again until it is one; of several columns each with its name."""
    from triptych.catalog.fields import COLUMNS

    while text := _line(question):
        pairs = [one.partition("=") for one in re.split(r"[;,]\s*(?=\w+\s*=)", text)]
        if all(mark and name.strip() in COLUMNS for name, mark, _ in pairs):
            found = {name.strip(): value.strip() for name, _, value in pairs}
        elif column is not None:
            found = {column: text}
        else:
            tell("say of which column, such as width=546 mm, height=178 mm")
            continue
        complaints = [complaint for name, value in found.items() if (complaint := _wrong(name, value))]
        for complaint in complaints:
            tell(complaint)
        if not complaints:
            return found
    return {}


def _wrong(name: str, text: str) -> str | None:
    from triptych.catalog.fields import COLUMNS
    from triptych.catalog.problems import nearest

    if name not in COLUMNS:
        return f"{name!r} is no column; {nearest(name, COLUMNS)}"
    try:
        COLUMNS[name].read(text)
    except BadInput as problem:
        return f"{name}: {problem}"
    return None


def _line(question: str) -> str:
    from triptych.catalog.inputs import read_line

    typer.echo(options.harmless(question), err=True, nl=False)
    return read_line(sys.stdin).strip()
