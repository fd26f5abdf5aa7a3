"""A table under a header of ours: where each column stands, its unit and decimal mark, and what is wrong there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.cell_readings import CellReader
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import Field
from triptych.catalog.files.cells import Row
from triptych.catalog.files.header_units import header_key, in_unit, unit_of, wrong_unit
from triptych.catalog.files.tables import Table
from triptych.catalog.number_texts import quoted
from triptych.catalog.numerals import Mark, decimal_mark
from triptych.catalog.problems import Problem, nearest

REASONS: Final = "refused_because"
"""The column that says why a row was refused; a file with it can be mended and imported again."""


@dataclass(frozen=True, slots=True)
class HeadedSheet:
    """A table whose header is read: where each column stands, its decimal mark and unit, and what is wrong there."""

    table: Table
    columns: Mapping[str, Field]
    positions: Mapping[str, int]
    marks: Mapping[str, Mark | None]
    units: Mapping[str, str]
    faults: Sequence[Problem]
    reader: CellReader

    @property
    def width(self) -> int:
        """How many headers there are."""
        return len(self.table.header.cells)

    def texts(self, row: Row) -> dict[str, str]:
        """The texts of a row by column, with the units of their headers; empty where the row is short."""
        cells, width = row.cells, len(row.cells)
        if width >= self.width:
            texts = dict(zip(self.positions, map(cells.__getitem__, self.positions.values()), strict=True))
        else:
            texts = {name: cells[at] if at < width else "" for name, at in self.positions.items()}
        for name, unit in self.units.items():
            if texts[name]:
                texts[name] = in_unit(texts[name], unit, self.columns[name])
        return texts

    def text(self, row: Row, column: str) -> str:
        """The text of one cell; empty where the file has no such column."""
        at = self.positions.get(column, len(row.cells))
        return row.cells[at] if at < len(row.cells) else ""

    def problem(self, row: Row, column: str, complaint: str) -> Problem:
        """What is wrong in a cell, or in its line where the file has no such column."""
        at = self.positions.get(column)
        where = f"line {row.line}" if at is None else self.table.place(row.line, at)
        return Problem(self.table.source, where, f"column {column}", complaint)

    def overlong(self, row: Row) -> list[Problem]:
        """What stands in a row beyond the last header."""
        if len(row.cells) <= self.width or not any(row.cells[self.width :]):
            return []
        if self.table.sheet:
            position = next(at for at, cell in enumerate(row.cells) if cell and at >= self.width)
            where = self.table.place(row.line, position)
            complaint = f"holds {quoted(row.cells[position])} under no header; take it out"
            return [Problem(self.table.source, where, "", complaint)]
        complaint = (
            f"holds {len(row.cells)} cells under {self.width} headers; put quotes round a cell with the delimiter in "
            "it, such as a decimal comma"
        )
        return [Problem(self.table.source, self.table.place(row.line, self.width), "", complaint)]


def headed(table: Table, columns: Mapping[str, Field], renamed: Mapping[str, str], mark: Mark | None) -> HeadedSheet:
    """A table with its header read by our columns; `renamed` are theirs that are ours, both as keys of headers."""
    faults: list[Problem] = []
    positions: dict[str, int] = {}
    units: dict[str, str] = {}
    nameless = not all(map(header_key, table.header.cells))
    filled = {at for row in table.rows for at, cell in enumerate(row.cells) if cell} if nameless else set[int]()
    for position, header in enumerate(table.header.cells):
        name = renamed.get(header_key(header), header_key(header))
        complaint = None
        if name not in columns:
            complaint = _stray(table, columns, position, renamed, filled=position in filled)
        elif name in positions:
            complaint = f"{quoted(header)} names {name} a second time; take one of the two out"
        else:
            complaint = wrong_unit(header, columns[name])
            if unit := unit_of(header, columns[name]):
                units[name] = unit
        if complaint:
            faults.append(Problem(table.source, table.place(table.header.line, position), "header", complaint))
        if name in columns:
            positions.setdefault(name, position)
    figures = {name: position for name, position in positions.items() if columns[name].figure}
    written = table.written(figures.values())
    marks = {name: mark or decimal_mark(texts) for name, texts in zip(figures, written, strict=True)}
    return HeadedSheet(table, columns, positions, marks, units, faults, CellReader(marks, columns))


def _stray(
    table: Table, columns: Mapping[str, Field], position: int, renamed: Mapping[str, str], *, filled: bool
) -> str | None:
    """What is wrong with a header that names no column, if anything."""
    header = table.header.cells[position]
    key = header_key(header)
    if position in table.header.complaints:
        return table.header.complaints[position]
    if key == REASONS or renamed.get(key) == "":
        return None
    if key:
        hint = nearest(key, columns)
        return f"{quoted(header)} is no column; {hint} (--map {quoted(header + '=column')} tells what it is)"
    return "is empty above a column that is not; name the column" if filled else None


def without_header(table: Table, name: str) -> Problem:
    """That a column which must be there is not."""
    where = f"line {table.header.line}"
    return Problem(table.source, where, "header", f"the column {name} is not there; it is required")


def map_of(mapping: Mapping[str, str] | None, columns: Mapping[str, Field]) -> dict[str, str]:
    """Headers of theirs and the columns of ours that they are, as keys of headers.

    Raises
    ------
    BadInput
        It names no column of ours.
    """
    renamed = {header_key(theirs): header_key(ours) for theirs, ours in (mapping or {}).items()}
    for theirs, ours in renamed.items():
        if ours and ours not in columns:
            raise BadInput(f"--map {theirs}={ours}: {ours!r} is no column; {nearest(ours, columns)}")
    return renamed


TAKEN: Final = "column {!r} is taken for {}, as an earlier file was read; --map says otherwise"
"""What is told of a header that only earlier files tell the meaning of."""


def as_before(
    table: Table, columns: Mapping[str, Field], renamed: Mapping[str, str], kept: Mapping[str, str]
) -> dict[str, str]:
    """What earlier files called our columns, for the headers here that neither our own names nor `renamed` tell."""
    headers = [header_key(header) for header in table.header.cells]
    told = {renamed.get(header, header) for header in headers}
    return {
        theirs: ours for theirs, ours in kept.items()
        if theirs in headers and theirs not in columns and theirs not in renamed and ours not in told
    }  # fmt: skip


def unused(table: Table, renamed: Mapping[str, str]) -> list[Problem]:
    """The headers of theirs that the file does not have."""
    headers, where = {header_key(header) for header in table.header.cells}, f"line {table.header.line}"
    return [
        Problem(table.source, where, "header", f"--map {theirs}={ours}: the file has no column {theirs!r}")
        for theirs, ours in renamed.items()
        if theirs not in headers
    ]
