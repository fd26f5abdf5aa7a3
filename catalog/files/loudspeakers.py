"""Loudspeakers in files: CSV and XLSX to records and back, every cell accounted for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from triptych.catalog.consistency import Fault
from triptych.catalog.fields import COLUMNS, REQUIRED
from triptych.catalog.files import tables
from triptych.catalog.files.by_column import records_of
from triptych.catalog.files.cell_words import as_on_a_sheet, with_words
from triptych.catalog.files.cells import Row
from triptych.catalog.files.headed_sheet import (
    REASONS,
    TAKEN,
    HeadedSheet,
    as_before,
    headed,
    map_of,
    unused,
    without_header,
)
from triptych.catalog.files.header_units import header_key
from triptych.catalog.files.tables import Table
from triptych.catalog.files.workbooks import workbook
from triptych.catalog.number_texts import quoted
from triptych.catalog.numerals import Mark
from triptych.catalog.outputs import write_file
from triptych.catalog.problems import Problem, refuse
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import NAME_PARTS, cleared, record_beside, record_from_texts

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.database.reads import Stored

_AT_ONCE: Final = 5_000
"""So many rows are read together, before it is told how far the reading is."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file holds: the records of its good rows, and everything that is wrong.

    `stored` is what the catalogue knew of its loudspeakers by key, and `cleared` what vanishes of that.
    """

    source: str
    records: tuple[LoudspeakerRecord, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]
    header: tuple[str, ...]
    refused: tuple[tuple[str, ...], ...]
    header_good: bool
    stored: Mapping[str, Stored]
    cleared: tuple[Problem, ...]

    def good(self) -> tuple[LoudspeakerRecord, ...]:
        """Return the records of the good rows; BadInput where the header leaves no row to trust."""
        if not self.header_good:
            refuse(self.problems)
        return self.records


def read_loudspeakers(
    path: Path,
    mapping: Mapping[str, str] | None = None,
    mark: Mark | None = None,
    *,
    kept: Mapping[str, str] | None = None,
    beside: Engine | None = None,
    clear: bool = False,
    say: Callable[[str], None] = lambda words: None,
) -> Reading:
    """Return what a CSV or XLSX file says, good rows and problems.

    Headers are case-blind, with blanks and hyphens for underscores. Words are case-blind too, and spellings that
    can mean only one thing are taken (`center`, `subwoofer`, `vented`, `closed`; see `words.ALIASES`). Rows shorter
    than the header have unknown cells at their end, for spreadsheets leave trailing delimiters out.

    Parameters
    ----------
    path : Path
        The file.
    mapping : mapping of str to str, optional
        Headers of theirs and the columns of ours that they are; '' leaves theirs out.
    mark : str, optional
        The decimal mark of numbers that could be read two ways; else that of the column's other cells.
    kept : mapping of str to str, optional
        What earlier files called our columns, for headers that nothing else tells.
    beside : Engine, optional
        The catalogue whose loudspeakers the rows change: what the file has no column for stays as it is known there.
    clear : bool
        Whether an empty cell may take a figure away that is known; else it is a problem.
    say : callable
        What is told how far it is.

    Raises
    ------
    BadInput
        The file is no table at all, or `mapping` names no column of ours. What is wrong in the table is in the result.
    """
    renamed, before = map_of(mapping, COLUMNS), map_of(kept, COLUMNS)
    known = {*COLUMNS, *renamed, *before}
    table = tables.read_table(path, lambda header: header_key(header) in known)
    before = as_before(table, COLUMNS, renamed, before)
    renamed |= before
    sheet = headed(table, COLUMNS, renamed, mark)
    rows = [_Read(row) for row in table.rows]
    stored = _find(sheet, rows, beside)
    faults = [*sheet.faults, *_missing(sheet, renamed, known=_all_known(rows, stored))]
    for first in range(0, len(rows), _AT_ONCE):
        say(f"reading row {first:,} of {len(rows):,}")
        _read_rows(sheet, rows[first : first + _AT_ONCE], stored, clear=clear)
    _refuse_duplicates(table, rows)
    good = [] if faults else [read for read in rows if read.record is not None and not read.problems]
    return Reading(
        table.source,
        tuple(read.record for read in good if read.record is not None),
        (*faults, *(problem for read in rows for problem in read.problems)),
        (
            *table.remarks,
            *(TAKEN.format(*pair) for pair in before.items()),
            *(line for read in good for line in read.told),
        ),
        tuple(cell for cell in table.header.cells if header_key(cell) != REASONS),
        tuple(_refused_row(table, read) for read in rows if read.problems),
        not faults,
        stored,
        tuple(problem for read in good for problem in read.cleared),
    )


def texts_from_record(record: LoudspeakerRecord) -> dict[str, str]:
    """Return the text of every column, in the order of an export; it reads back to the identical record."""
    return {name: column.text(getattr(record, name)) for name, column in COLUMNS.items()}


def csv_of(records: Iterable[LoudspeakerRecord]) -> str:
    """Return records as CSV text with every column."""
    return tables.csv_text(cells(records))


def cells(records: Iterable[LoudspeakerRecord]) -> list[list[str]]:
    """Return the header of every column, and one row of texts a record."""
    return [list(COLUMNS), *(list(texts_from_record(record).values()) for record in records)]


def write_loudspeakers(path: Path, records: Iterable[LoudspeakerRecord]) -> None:
    """Write records to a file, whole or not at all: XLSX where its name ends so, else CSV in UTF-8.

    Raises
    ------
    BadInput
        The file cannot be written.
    """
    if path.suffix.casefold() == ".xlsx":
        numeric = [column.figure for column in COLUMNS.values()]
        write_file(path, workbook(cells(records), numeric))
    else:
        write_file(path, csv_of(records).encode())


def refused_path(path: Path) -> Path:
    """Return the file beside `path` that refused rows go to."""
    return path.with_name(f"{path.name}.refused.csv")


def write_refused(path: Path, reading: Reading) -> Path:
    """Write the refused rows of `path`, as they stand there and with their reasons, to a new file beside it.

    Raises
    ------
    BadInput
        That file is there already, or cannot be written.
    """
    target = refused_path(path)
    rows: list[Sequence[str]] = [(*reading.header, REASONS), *reading.refused]
    write_file(target, tables.csv_text(rows).encode(), replace=False)
    return target


def _missing(sheet: HeadedSheet, renamed: Mapping[str, str], *, known: bool) -> list[Problem]:
    missing = [
        without_header(sheet.table, name)
        for name in REQUIRED
        # what a loudspeaker is offered for is known of those that the catalogue has
        if name not in sheet.positions and not (known and name not in NAME_PARTS)
    ]
    return missing + unused(sheet.table, renamed)


@dataclass(slots=True)
class _Read:
    """One row as it was read; `name` is known even where other cells are bad, and `key` is that of the catalogue."""

    row: Row
    texts: Mapping[str, str] = field(default_factory=dict)
    name: str = ""
    key: str = ""
    record: LoudspeakerRecord | None = None
    problems: list[Problem] = field(default_factory=list)
    cleared: list[Problem] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    """How cells were read that say more than a figure."""


def _find(sheet: HeadedSheet, rows: Sequence[_Read], catalogue: Engine | None) -> Mapping[str, Stored]:
    """Name the rows, and give what the catalogue knows of them by key.

    Where the file has no column `series`, a name is not taken for a new one beside the same model of a series.
    """
    # what knows the tables is not quick to import
    from triptych.catalog.database.changes import namesakes
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import stored_by_key
    from triptych.catalog.database.rows import name_key

    for read in rows:
        read.name = _name(sheet, read.row) or ""
        read.key = name_key(read.name)
    if catalogue is None:
        return {}
    with reading(catalogue) as session:
        stored = stored_by_key(session, {read.key for read in rows if read.key})
        if "series" not in sheet.positions:
            fresh = [read for read in rows if read.key and read.key not in stored]
            parts = {read.key: (sheet.text(read.row, "maker"), sheet.text(read.row, "model")) for read in fresh}
            alike = namesakes(session, parts)
            for read in fresh:
                if read.key in alike:
                    known = f"{quoted(read.name)} is not in the catalogue, and {quoted(alike[read.key])} is"
                    mend = "add the column series, empty for a loudspeaker of none"
                    read.problems.append(sheet.problem(read.row, "model", f"{known}; {mend}"))
    return stored


def _all_known(rows: Sequence[_Read], stored: Mapping[str, Stored]) -> bool:
    keys = [read.key for read in rows if read.key]
    return bool(keys) and all(key in stored for key in keys)


def _read_rows(sheet: HeadedSheet, some: Sequence[_Read], stored: Mapping[str, Stored], *, clear: bool) -> None:
    """Read what rows say: by column those of new loudspeakers at which nothing is odd, the others each by itself."""
    fresh = [read for read in some if read.key not in stored]
    for read, record in zip(fresh, records_of(sheet, [read.row for read in fresh]), strict=True):
        read.record = record
    for read in some:
        if read.record is None:
            read.texts = sheet.texts(read.row)
            _read_row(sheet, read, stored.get(read.key), clear=clear)
            read.texts = {}  # what it states is in its record now, and the texts of all rows would be too many


def _read_row(sheet: HeadedSheet, read: _Read, stored: Stored | None, *, clear: bool) -> None:
    """Read what a row says of a loudspeaker that the catalogue may know."""
    source = f"{sheet.table.source}, line {read.row.line}"

    def record_of(texts: Mapping[str, str]) -> tuple[LoudspeakerRecord | None, list[Fault]]:
        if stored is None:
            return record_from_texts(texts, source, reader=sheet.reader)
        return record_beside(stored.record, texts, source, reader=sheet.reader)

    read.record, faults = record_of(read.texts)
    texts, said = as_on_a_sheet(read.texts, sheet.reader) if faults else (read.texts, {})
    if said:
        read.record, faults = record_of(texts)
    if read.record is not None and said:
        read.record = with_words(read.record, said, source)
        read.told = [
            f"{sheet.problem(read.row, name, cell.told)}"
            for name, cell in said.items()
            if name in read.texts and cell.told
        ]
    if faults or read.row.complaints:
        _tell_faults(sheet, read, faults)
    read.problems += sheet.overlong(read.row)
    if stored is not None and read.record is not None:
        _compare(sheet, read, stored.record, read.record, clear=clear)


def _tell_faults(sheet: HeadedSheet, read: _Read, faults: Iterable[Fault]) -> None:
    """Tell what is wrong in the cells of a row, in the order of the file."""
    found = dict.fromkeys(sheet.positions, "")
    for name, complaint in faults:
        found[name] = "; ".join(filter(None, (found.get(name), complaint)))
    # what a spreadsheet made of a cell comes before what the text of it would be
    complaints = read.row.complaints
    found |= {name: complaints[at] for name, at in sheet.positions.items() if at in complaints}
    read.problems += [
        sheet.problem(read.row, name, complaint)
        for name, complaint in found.items()
        # a required column that is not there is said once, of the header
        if complaint and (name in sheet.positions or name not in REQUIRED)
    ]


def _compare(sheet: HeadedSheet, read: _Read, old: LoudspeakerRecord, new: LoudspeakerRecord, *, clear: bool) -> None:
    """Refuse a row that names another loudspeaker, and tell what it clears of a known one."""
    from triptych.catalog.database.changes import divided_otherwise

    if complaint := divided_otherwise(new, old):
        read.problems.append(sheet.problem(read.row, "model", f"{quoted(read.name)} {complaint}"))
        return
    for name, value in cleared(old, new, read.texts).items():
        what = f"{quoted(value)} of {quoted(old.name)}"
        if clear:
            read.cleared.append(sheet.problem(read.row, name, f"clears {what}"))
        else:
            mend = "write it there, leave the column out, or add --clear"
            complaint = f"is empty or unknown, which would clear {what}; {mend}"
            read.problems.append(sheet.problem(read.row, name, complaint))


def _name(sheet: HeadedSheet, row: Row) -> str | None:
    """The name that a row states."""
    read = [sheet.reader.read(part, sheet.text(row, part)) for part in NAME_PARTS]
    maker, series, model = (value for value, _ in read)
    if any(complaint for _, complaint in read) or not (maker and model):
        return None
    return " ".join(filter(None, (maker, series, model)))


def _refuse_duplicates(table: Table, rows: Sequence[_Read]) -> None:
    same: dict[str, list[_Read]] = {}
    for read in rows:
        if read.key:
            same.setdefault(read.key, []).append(read)
    for group in same.values():
        for read in group if len(group) > 1 else ():
            others = ", ".join(str(other.row.line) for other in group if other is not read)
            complaint = f"{quoted(read.name)} stands on line {others} too; keep one, or tell them apart by model"
            read.problems.append(Problem(table.source, f"line {read.row.line}", "column model", complaint))


def _refused_row(table: Table, read: _Read) -> tuple[str, ...]:
    width = len(table.header.cells)
    cells = read.row.cells + ("",) * (width - len(read.row.cells))
    kept = (cell for header, cell in zip(table.header.cells, cells, strict=False) if header_key(header) != REASONS)
    reasons = "; ".join(" ".join(filter(None, (problem.column, problem.complaint))) for problem in read.problems)
    return (*kept, reasons, *cells[width:])
