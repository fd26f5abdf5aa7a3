"""Equipment in files: CSV and XLSX to records and back, every cell accounted for, and TOML with a table each."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from triptych.catalog.equipment_record import (
    DEMANDED,
    EQUIPMENT,
    NAMED_BY,
    EquipmentRecord,
    equipment_of,
    equipment_texts,
)
from triptych.catalog.errors import BadInput
from triptych.catalog.files import tables
from triptych.catalog.files.cells import MOST_ROWS, Row
from triptych.catalog.files.headed_sheet import HeadedSheet, headed, map_of, unused, without_header
from triptych.catalog.files.header_units import header_key
from triptych.catalog.files.tables import Table
from triptych.catalog.files.workbooks import workbook
from triptych.catalog.inputs import read_toml
from triptych.catalog.names import name_key
from triptych.catalog.number_texts import quoted, typed
from triptych.catalog.numerals import Mark
from triptych.catalog.outputs import write_file
from triptych.catalog.problems import Problem

_TABLE: Final = "equipment"


@dataclass(frozen=True, slots=True)
class EquipmentReading:
    """What a file of equipment holds: the records of its good rows, all that is wrong, and what is worth telling."""

    source: str
    records: tuple[EquipmentRecord, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]


Known = Callable[[Sequence[str]], Mapping[str, EquipmentRecord]]
"""What the catalogue knows under some keys of names."""


def read_equipment(
    path: Path,
    mapping: Mapping[str, str] | None = None,
    mark: Mark | None = None,
    *,
    known: Known = lambda keys: {},
    clear: bool = False,
) -> EquipmentReading:
    """Return what a CSV, XLSX or TOML file says, good rows and problems.

    Parameters
    ----------
    path : Path
        The file; one that ends in .toml has a table [[equipment]] for each piece.
    mapping : mapping of str to str, optional
        Headers of theirs and the columns of ours that they are; '' leaves theirs out.
    mark : str, optional
        The decimal mark of numbers that could be read two ways; else that of the column's other cells.
    known : callable
        What the rows change: what the file has no column for stays as it is known there.
    clear : bool
        Whether an empty cell may take away what is known; else it is a problem.

    Raises
    ------
    BadInput
        The file is no table at all, or `mapping` names no column of ours. What is wrong in the table is in the result.
    """
    renamed = map_of(mapping, EQUIPMENT)
    if sparse := path.suffix.casefold() == ".toml":
        table = _toml_table(path)
    else:
        table = tables.read_table(path, lambda header: header_key(header) in EQUIPMENT or header_key(header) in renamed)
    sheet = headed(table, EQUIPMENT, renamed, mark)
    faults = [*sheet.faults, *unused(table, renamed)]
    faults += [without_header(table, name) for name in NAMED_BY if name not in sheet.positions]
    keys = [_key(sheet, row) for row in table.rows]
    old = known([key for key in keys if key]) if not faults else {}
    if "kind" not in sheet.positions and not all(key in old for key in keys):
        faults += [
            without_header(table, name) for name in DEMANDED if name not in sheet.positions and name not in NAMED_BY
        ]
    same = defaultdict(list)
    for row, key in zip(table.rows, keys, strict=True):
        same[key].append(row.line)
    records: list[EquipmentRecord] = []
    problems = faults
    for row, key in zip(table.rows, keys, strict=True):
        record, wrong = _read_row(sheet, row, old.get(key), clear=clear, sparse=sparse)
        if key and len(same[key]) > 1:
            others = ", ".join(str(line) for line in same[key] if line != row.line)
            wrong.append(sheet.problem(row, "model", f"stands on line {others} too; keep one, or tell them apart"))
        problems += wrong
        if record is not None and not wrong and not sheet.faults:
            records.append(record)
    return EquipmentReading(table.source, tuple(records), tuple(problems), table.remarks)


def _key(sheet: HeadedSheet, row: Row) -> str:
    read = [sheet.reader.read(part, sheet.text(row, part)) for part in NAMED_BY]
    return "" if any(complaint or not value for value, complaint in read) else name_key(*(value for value, _ in read))


def _read_row(
    sheet: HeadedSheet, row: Row, old: EquipmentRecord | None, *, clear: bool, sparse: bool
) -> tuple[EquipmentRecord | None, list[Problem]]:
    """A row; in a `sparse` file what is empty was not written there at all."""
    texts = {name: text for name, text in sheet.texts(row).items() if text or not sparse}
    record, faults = equipment_of(texts, sheet.reader, old)
    told = [
        sheet.problem(row, name, complaint)
        for name, complaint in faults
        # a column that is not there is said once, of the header
        if name in sheet.positions or name not in DEMANDED
    ]
    told += [
        sheet.problem(row, name, row.complaints[at]) for name, at in sheet.positions.items() if at in row.complaints
    ]
    told += sheet.overlong(row)
    if old is not None and record is not None and not clear:
        for name in texts:
            if getattr(record, name) is None and (lost := getattr(old, name)) is not None:
                what = f"{quoted(EQUIPMENT[name].shown(lost))} of {quoted(old.name)}"
                mend = "write it there, leave the column out, or add --clear"
                told.append(sheet.problem(row, name, f"is empty or unknown, which would clear {what}; {mend}"))
    return record, told


def _toml_table(path: Path) -> Table:
    """The tables of a TOML file as rows under one header."""
    found = read_toml(path)
    pieces, strange = found.get(_TABLE), [key for key in found if key != _TABLE]
    if strange or not isinstance(pieces, list) or not all(isinstance(one, dict) for one in pieces) or not pieces:
        what = f"{strange[0]!r} is not known" if strange else "holds no equipment"
        raise BadInput(f"{path.name}: {what}; write each piece as a [[{_TABLE}]] table")
    if len(pieces) > MOST_ROWS:
        raise BadInput(f"{path.name}: holds more than {MOST_ROWS:,} tables; divide it")
    header = tuple(dict.fromkeys(key for one in pieces for key in one))
    rows = tuple(
        Row(at, tuple(_cell(one.get(key, ""), f"{path.name}: {_TABLE} {at}: {key}") for key in header))
        for at, one in enumerate(pieces, start=1)
    )
    return Table(path.name, Row(0, header), rows)


def _cell(value: Any, where: str) -> str:
    """A value of TOML as the text of a cell."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return ";".join(value)
    if isinstance(value, dict | list) or not hasattr(value, "__float__"):
        raise BadInput(f"{where}: write a text or a number")
    return typed(value)


def equipment_cells(records: Iterable[EquipmentRecord]) -> list[list[str]]:
    """Return the header of every column, and one row of texts a record."""
    return [list(EQUIPMENT), *(list(equipment_texts(record).values()) for record in records)]


def equipment_toml(records: Iterable[EquipmentRecord]) -> str:
    """Return records as TOML, what is known of each in a table of its own; units stand beside their numbers."""
    return "\n".join(_toml(record) for record in records)


def _toml(record: EquipmentRecord) -> str:
    lines = [
        f"{name} = {json.dumps(text, ensure_ascii=False)}" for name, text in equipment_texts(record).items() if text
    ]
    return "\n".join([f"[[{_TABLE}]]", *lines, ""]).replace("\x7f", "\\u007f")


def write_equipment(path: Path, records: Sequence[EquipmentRecord]) -> None:
    """Write records to a file, whole or not at all: XLSX or TOML where its name ends so, else CSV in UTF-8.

    Raises
    ------
    BadInput
        The file cannot be written.
    """
    kind = path.suffix.casefold()
    if kind == ".xlsx":
        write_file(path, workbook(equipment_cells(records), [column.figure for column in EQUIPMENT.values()]))
    elif kind == ".toml":
        write_file(path, equipment_toml(records).encode())
    else:
        write_file(path, tables.csv_text(equipment_cells(records)).encode())
