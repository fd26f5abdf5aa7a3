"""Suppliers' files as rows of text under our names, laid beside the catalogue; every bad cell is named."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import Loudspeaker
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.files.headed_sheet import TAKEN
from triptych.catalog.files.tables import Table, read_table
from triptych.catalog.names import mistaken_for
from triptych.catalog.number_texts import quoted
from triptych.catalog.numerals import Mark, decimal_mark
from triptych.catalog.problems import Problem, nearest
from triptych.catalog.stock.reordering import articles_by_number

NAMING_COLUMNS: Final = ("speaker", "maker", "series", "model", "article")
"""Columns that name a loudspeaker: `speaker` alone, or maker, series and model, or the number of an article."""


Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: its cells under our names, the name it gives, and the number of the loudspeaker of that name."""

    line: int
    speaker: str
    loudspeaker_id: int | None
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file under our names: its rows, what is wrong in it, and what is worth telling.

    `marks` are the decimal marks of its columns, by their cells that read one way only.
    """

    source: str
    rows: tuple[SheetRow, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]
    marks: Mapping[str, Mark | None]

    def problem(self, line: int, column: str, complaint: str) -> Problem:
        """Give what is wrong in a line."""
        return Problem(self.source, f"line {line}", column, complaint)


def read_sheet(
    session: Session,
    path: Path,
    columns: tuple[str, ...],
    ours_by_theirs: Mapping[str, str],
    needed: tuple[str, ...],
    supplier: int | None = None,
    kept: Mapping[str, str] | None = None,
) -> Sheet:
    """Read a CSV or XLSX file and find its loudspeakers in the catalogue.

    Parameters
    ----------
    path : Path
        The file.
    columns : tuple of str
        The columns that it may have, beside those that name a loudspeaker.
    ours_by_theirs : mapping of str to str
        What its headers mean; what is mapped to an empty text is left out.
    needed : tuple of str
        Columns that it must have.
    supplier : int, optional
        Whose numbers of articles are meant, before ours.
    kept : mapping of str to str, optional
        What earlier files called our columns; what is taken by it is told.

    Raises
    ------
    BadInput
        The file is no table, or its header isn't understood.
    """
    known = (*NAMING_COLUMNS, *columns)
    given = {rows.name_key(theirs): ours for theirs, ours in ours_by_theirs.items()}
    before = {rows.name_key(theirs): ours for theirs, ours in (kept or {}).items()}
    before = {theirs: ours for theirs, ours in before.items() if theirs not in given}
    meant = before | given
    for ours in meant.values():
        if ours and ours not in known:
            raise BadInput(f"column {ours!r} is none of ours; {nearest(ours, known)}")
    table = read_table(path, lambda header: rows.name_key(header) in meant or _ours(header) in known)
    header = _header(table, known, meant)
    for column in needed:
        if column not in header.values():
            raise BadInput(f"{table.source}: has no column {column}; say which it is with --map THEIRS={column}")
    if not {"speaker", "article"} & set(header.values()) and not {"maker", "model"} <= set(header.values()):
        raise BadInput(
            f"{table.source}: has no column speaker, nor maker and model, nor article; say which with"
            " --map THEIRS=speaker"
        )
    found = tuple(_rows(session, table, header, supplier))
    problems = (*_untrusted(table, header), *_strangers(session, table, found))
    written = zip(header.values(), table.written(header), strict=True)
    marks = {ours: decimal_mark(texts) for ours, texts in written}
    shown = [(table.header.cells[place], ours) for place, ours in header.items()]
    taken = (TAKEN.format(*pair) for pair in shown if rows.name_key(pair[0]) in before)
    return Sheet(table.source, found, problems, (*table.remarks, *taken), marks)


def _ours(header: str) -> str:
    return rows.name_key(header).replace(" ", "_")


def _header(table: Table, known: tuple[str, ...], meant: Mapping[str, str]) -> dict[int, str]:
    header: dict[int, str] = {}
    strange: list[str] = []
    for place, text in enumerate(table.header.cells):
        if not text:
            continue
        ours = meant.get(rows.name_key(text), _ours(text))
        if not ours:
            continue
        if ours not in known:
            near = mistaken_for(ours, known)
            strange.append(f"{quoted(text)} (did you mean {near}?)" if near else quoted(text))
            continue
        if ours in header.values():
            raise BadInput(f"{table.source}, header: {ours} comes twice")
        header[place] = ours
    if strange:
        missing = [name for name in known if name not in header.values()]
        maps = " ".join(f"--map {text.split(' (did you mean')[0]}=..." for text in strange)
        raise BadInput(
            f"{table.source}, header: {', '.join(strange)} {'is' if len(strange) == 1 else 'are'} none of our columns."
            f" Say which each is, of {', '.join(missing)}, or nothing to leave it out: {maps}"
        )
    return header


def _rows(session: Session, table: Table, header: Mapping[int, str], supplier: int | None) -> Iterator[SheetRow]:
    numbers = {found[0]: found[1] for found in session.execute(sa.select(Loudspeaker.name_key, Loudspeaker.id))}
    of_rows = [
        {ours: row.cells[place] if place < len(row.cells) else "" for place, ours in header.items()}
        for row in table.rows
    ]
    articles = articles_by_number(session, (cells["article"] for cells in of_rows if cells.get("article")), supplier)
    for row, cells in zip(table.rows, of_rows, strict=True):
        parts = " ".join(cells.get(name, "") for name in NAMING_COLUMNS[1:4])
        speaker = cells.get("speaker") or " ".join(parts.split())
        number = numbers.get(rows.name_key(speaker))
        if not speaker and cells.get("article"):
            speaker = cells["article"]
            number, finish = articles.get(rows.name_key(speaker), (None, None))
            cells = cells | ({"finish": finish} if finish and not cells.get("finish") else {})
        yield SheetRow(row.line, speaker, number, cells)


def _untrusted(table: Table, header: Mapping[int, str]) -> list[Problem]:
    return [
        Problem(table.source, table.place(row.line, place), header[place], complaint)
        for row in table.rows
        for place, complaint in row.complaints.items()
        if place in header
    ]


def _strangers(session: Session, table: Table, found: tuple[SheetRow, ...]) -> Iterator[Problem]:
    for row in found:
        if row.loudspeaker_id is not None:
            continue
        if row.speaker and row.speaker == row.cells.get("article"):
            said = f"{quoted(row.speaker)}: no article has that number; keep it with triptych supplier article"
            yield Problem(table.source, f"line {row.line}", "article", said)
            continue
        try:
            reads.stored(session, row.speaker)
        except NotFound as unknown:
            yield Problem(table.source, f"line {row.line}", "speaker", str(unknown))


def cell(
    problems: list[Problem], sheet: Sheet, row: SheetRow, column: str, read: Callable[[str], Value]
) -> Value | None:
    """Read one cell of a row, None where it is empty or absent; what cannot be read becomes a problem."""
    text = row.cells.get(column, "")
    if not text:
        return None
    try:
        return read(text)
    except BadInput as problem:
        problems.append(sheet.problem(row.line, column, str(problem)))
        return None
