"""Loudspeakers in files: CSV and XLSX to records and back, every cell accounted for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from triptych.catalog.consistency import record_from_texts
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, REQUIRED, Field
from triptych.catalog.files import tables
from triptych.catalog.files.tables import Row, Table
from triptych.catalog.numbers import quoted
from triptych.catalog.numerals import Mark, decimal_mark
from triptych.catalog.problems import Problem, nearest, refuse
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.units import KIND_OF, UNITS

REASONS: Final = "refused_because"
"""The column that says why a row was refused; a file with it can be mended and imported again."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file holds: the records of its good rows, and everything that is wrong."""

    source: str
    records: tuple[LoudspeakerRecord, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]
    header: tuple[str, ...]
    refused: tuple[tuple[str, ...], ...]
    header_good: bool

    def good(self) -> tuple[LoudspeakerRecord, ...]:
        """Return the records of the good rows; BadInput where the header leaves no row to trust."""
        if not self.header_good:
            refuse(self.problems)
        return self.records


def read_loudspeakers(path: Path, mapping: Mapping[str, str] | None = None, mark: Mark | None = None) -> Reading:
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

    Raises
    ------
    BadInput
        The file is no table at all, or `mapping` names no column of ours. What is wrong in the table is in the result.
    """
    renamed = {_key(theirs): _key(ours) for theirs, ours in (mapping or {}).items()}
    _check_mapping(renamed)
    table = tables.read_table(path, lambda header: _key(header) in COLUMNS or _key(header) in renamed)
    columns, faults = _header(table, renamed)
    marks = {
        column.name: mark or decimal_mark(table.written(position))
        for position, column in enumerate(columns)
        if column is not None and column.figure
    }
    units = {column.name: _unit(header, column) for column, header in _headed(table, columns)}
    rows = [_read_row(table, row, columns, marks, units) for row in table.rows]
    _refuse_duplicates(table, rows)
    return Reading(
        table.source,
        () if faults else tuple(read.record for read in rows if read.record is not None and not read.problems),
        (*faults, *(problem for read in rows for problem in read.problems)),
        table.remarks,
        tuple(cell for cell in table.header.cells if _key(cell) != REASONS),
        tuple(_refused_row(table, read) for read in rows if read.problems),
        not faults,
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
        tables.write_whole(path, tables.workbook(cells(records), numeric))
    else:
        tables.write_whole(path, csv_of(records).encode())


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
    tables.write_whole(target, tables.csv_text(rows).encode(), replace=False)
    return target


def _key(header: str) -> str:
    return "_".join(header.replace("-", " ").replace("_", " ").casefold().split())


def _check_mapping(renamed: Mapping[str, str]) -> None:
    for theirs, ours in renamed.items():
        if ours and ours not in COLUMNS:
            raise BadInput(f"--map {theirs}={ours}: {ours!r} is no column; {nearest(ours, COLUMNS)}")


def _header(table: Table, renamed: Mapping[str, str]) -> tuple[list[Field | None], list[Problem]]:
    """Each position's column (None where nothing is to be read), and what is wrong with the header."""
    columns: list[Field | None] = []
    faults: list[Problem] = []
    first: dict[str, int] = {}

    def fault(position: int, complaint: str) -> None:
        faults.append(Problem(table.source, table.place(table.header.line, position), "header", complaint))

    for position, header in enumerate(table.header.cells):
        name = renamed.get(_key(header), _key(header))
        column = COLUMNS.get(name)
        columns.append(column)
        if column is None:
            complaint = _stray(table, position, header, renamed)
            if complaint:
                fault(position, complaint)
        elif name in first:
            fault(position, f"{quoted(header)} names {name} a second time; take one of the two out")
        elif wrong := _wrong_unit(header, column):
            fault(position, wrong)
        first.setdefault(name, position)
    faults += _missing(table, first, renamed)
    return columns, faults


def _headed(table: Table, columns: Sequence[Field | None]) -> list[tuple[Field, str]]:
    pairs = zip(columns, table.header.cells, strict=False)
    return [(column, header) for column, header in pairs if column is not None]


def _unit(header: str, column: Field) -> str | None:
    """The unit or the currency that stands at the end of a header, such as `Width (cm)`; None where none does."""
    _, *others = re.findall(r"[^\s_,()\[\]]+", header) or [""]
    if not others or column.name == _key(header):
        return None
    word, bracketed = others[-1], header.rstrip().endswith((")", "]"))
    if column.name == "price":
        return word if re.fullmatch("[A-Z]{3}|[€£¥₹₩]", word) else None
    unit = UNITS.get(word.casefold())
    fits = column.quantity is not None and unit is not None and KIND_OF.get(unit) is column.quantity.kind
    return unit if fits or (bracketed and column.quantity is not None) else None


_BARE: Final = re.compile(r"[\s\d.,+⁄/½¼¾⅛⅜⅝⅞-]*[\d½¼¾⅛⅜⅝⅞]\s*")
"""A number without a unit."""


def _wrong_unit(header: str, column: Field) -> str | None:
    """What is wrong with a header whose unit is none of its column's."""
    unit = None if column.name == "price" else _unit(header, column)
    if unit is None or (column.quantity is not None and KIND_OF.get(unit) is column.quantity.kind):
        return None
    return f"{quoted(header)} is in {unit}, and {column.name} in {column.unit or 'no unit'}; map it to another column"


def _in_unit(cell: str, unit: str | None, column: Field) -> str:
    """A cell with the unit of its header; one that has a unit of its own keeps it."""
    if unit is None or not cell.strip():
        return cell
    between = column.about.mark.strip()
    parts = cell.split(between) if between else [cell]
    return column.about.mark.join(f"{part.strip()} {unit}" if _BARE.fullmatch(part) else part for part in parts)


def _stray(table: Table, position: int, header: str, renamed: Mapping[str, str]) -> str | None:
    """What is wrong with a header that names no column, if anything."""
    key = _key(header)
    if position in table.header.complaints:
        return table.header.complaints[position]
    if key == REASONS or renamed.get(key) == "":
        return None
    if key:
        hint = nearest(key, COLUMNS)
        return f"{quoted(header)} is no column; {hint} (--map {quoted(header + '=column')} tells what it is)"
    filled = any(position < len(row.cells) and row.cells[position] for row in table.rows)
    return "is empty above a column that is not; name the column" if filled else None


def _missing(table: Table, found: Mapping[str, int], renamed: Mapping[str, str]) -> list[Problem]:
    where = f"line {table.header.line}"
    missing = [
        Problem(table.source, where, "header", f"the column {name} is not there; it is required")
        for name in REQUIRED
        if name not in found
    ]
    headers = {_key(header) for header in table.header.cells}
    unused = [
        Problem(table.source, where, "header", f"--map {theirs}={ours}: the file has no column {theirs!r}")
        for theirs, ours in renamed.items()
        if theirs not in headers
    ]
    return missing + unused


@dataclass(slots=True)
class _Read:
    """One row as it was read; `name` is known even where other cells are bad."""

    row: Row
    record: LoudspeakerRecord | None
    name: str | None
    problems: list[Problem]


def _read_row(
    table: Table,
    row: Row,
    columns: Sequence[Field | None],
    marks: Mapping[str, Mark | None],
    units: Mapping[str, str | None],
) -> _Read:
    positions: dict[str, int] = {}
    for position, column in enumerate(columns):
        if column is not None:
            positions.setdefault(column.name, position)
    texts = {name: row.cells[position] for name, position in positions.items() if position < len(row.cells)}
    texts = {name: _in_unit(text, units[name], COLUMNS[name]) for name, text in texts.items()}
    record, faults = record_from_texts(texts, f"{table.source}, line {row.line}", marks=marks)
    found = dict.fromkeys(positions, "") | {name: "; ".join(c for n, c in faults if n == name) for name, _ in faults}
    # what a spreadsheet made of a cell comes before what the text of it would be
    found |= {name: row.complaints[at] for name, at in positions.items() if at in row.complaints}
    problems = [
        Problem(table.source, _where(table, row.line, positions.get(name)), f"column {name}", complaint)
        for name, complaint in found.items()
        # a required column that is not there is said once, of the header
        if complaint and (name in positions or name not in REQUIRED)
    ]
    return _Read(row, record, _name(texts), problems + _overlong(table, row, len(columns)))


def _where(table: Table, line: int, position: int | None) -> str:
    return f"line {line}" if position is None else table.place(line, position)


def _name(texts: Mapping[str, str]) -> str | None:
    """The name that a row states."""
    try:
        maker, series, model = (COLUMNS[part].read(texts.get(part, "")) for part in ("maker", "series", "model"))
    except BadInput:
        return None
    return " ".join(part for part in (maker, series, model) if part) if maker and model else None


def _overlong(table: Table, row: Row, width: int) -> list[Problem]:
    extra = [cell for cell in row.cells[width:] if cell]
    if not extra:
        return []
    complaint = (
        f"holds {len(row.cells)} cells under {width} headers; put quotes round a cell with the delimiter in it, "
        "such as a decimal comma"
    )
    return [Problem(table.source, table.place(row.line, width), "", complaint)]


def _refuse_duplicates(table: Table, rows: Sequence[_Read]) -> None:
    # what knows the tables is not quick to import
    from triptych.catalog.database.rows import name_key

    same: dict[str, list[_Read]] = {}
    for read in rows:
        if read.name is not None:
            same.setdefault(name_key(read.name), []).append(read)
    for group in same.values():
        for read in group if len(group) > 1 else ():
            others = ", ".join(str(other.row.line) for other in group if other is not read)
            complaint = f"{quoted(read.name or '')} stands on line {others} too; keep one, or tell them apart by model"
            read.problems.append(Problem(table.source, f"line {read.row.line}", "column model", complaint))


def _refused_row(table: Table, read: _Read) -> tuple[str, ...]:
    width = len(table.header.cells)
    cells = read.row.cells + ("",) * (width - len(read.row.cells))
    kept = (cell for header, cell in zip(table.header.cells, cells, strict=False) if _key(header) != REASONS)
    reasons = "; ".join(" ".join(filter(None, (problem.column, problem.complaint))) for problem in read.problems)
    return (*kept, reasons, *cells[width:])
