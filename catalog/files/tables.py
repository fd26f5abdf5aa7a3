"""Files of rows and columns as text cells: CSV with any usual delimiter and encoding, and XLSX."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from triptych.catalog.errors import BadInput
from triptych.catalog.files.cells import LARGEST_FILE, LONGEST_ROW, MOST_COLUMNS, MOST_ROWS, Row, tidy
from triptych.catalog.files.workbooks import read_workbook
from triptych.catalog.formulas import guarded_rows, unguarded

DELIMITERS: Final = (",", ";", "\t")
_ZIP: Final = b"PK\x03\x04"
_OLD_EXCEL: Final = b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True, slots=True)
class Table:
    """A file's header and rows; `remarks` are worth telling, but no reason to refuse."""

    source: str
    header: Row
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()
    sheet: bool = False

    def written(self, positions: Iterable[int]) -> list[set[str]]:
        """Every text of some columns as somebody wrote it, each once."""
        rows = self.rows
        # of most files all at once, by what is built in
        if not any(row.typed for row in rows) and len({len(row.cells) for row in rows}) == 1:
            columns = list(zip(*(row.cells for row in rows), strict=True))
            return [set(columns[at]) if at < len(columns) else set() for at in positions]
        return [{row.cells[at] for row in rows if at < len(row.cells) and at not in row.typed} for at in positions]

    def place(self, line: int, position: int) -> str:
        """Where a cell stands, in the words of the program that shows the file."""
        return f"line {line}, cell {letters(position)}{line}" if self.sheet else f"line {line}"


def letters(position: int) -> str:
    """Return the column letters a spreadsheet shows for a position counted from 0."""
    name, rest = "", position + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        name = chr(ord("A") + digit) + name
    return name


def read_table(path: Path, known: Callable[[str], bool]) -> Table:
    """Return the table in a CSV or XLSX file; what kind it is shows in its content, not its name.

    Parameters
    ----------
    path : Path
        The file.
    known : callable
        Whether a header is one of ours; it settles which character divides the cells.

    Raises
    ------
    BadInput
        The file cannot be opened, is no table, or is empty.
    """
    content = read_bytes(path)
    if content.startswith(_OLD_EXCEL):
        raise BadInput(f"{path.name}: an old Excel workbook; save it as .xlsx or .csv")
    if content.startswith(_ZIP):
        rows, remarks = read_workbook(content, path.name)
        sheet = True
    else:
        rows, remarks = _read_csv(content, path.name, known)
        sheet = False
    filled = [row for row in rows if not row.empty]
    if not filled:
        raise BadInput(f"{path.name}: the file is empty; its first line names the columns")
    return Table(path.name, filled[0], tuple(filled[1:]), tuple(remarks), sheet)


def read_bytes(path: Path) -> bytes:
    """Return what a file holds, or say why it cannot be read."""
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or problem
        raise BadInput(f"{path}: {why}; give the path of a file that can be read") from None
    if len(content) > LARGEST_FILE:
        raise BadInput(f"{path}: holds more than {LARGEST_FILE // 2**20} MiB; divide it")
    return content


def _read_csv(content: bytes, source: str, known: Callable[[str], bool]) -> tuple[list[Row], list[str]]:
    text, remarks = decode(content, source)
    if "\0" in text:
        raise BadInput(f"{source}: holds NUL characters, so it is no CSV; save it as CSV in UTF-8, or as XLSX")
    _refuse_long(text, source)
    return _records(text, _delimiter(text, known), source), remarks


def _refuse_long(text: str, source: str) -> None:
    """Refuse a line that no row of a table has, before any work is done on it."""
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > LONGEST_ROW:
            told = f"line {number} has {len(line):,} characters"
            raise BadInput(f"{source}: {told}; {LONGEST_ROW:,} are the most, so it is no table of ours")


def decode(content: bytes, source: str) -> tuple[str, list[str]]:
    """Return the text in a file's bytes, and what is worth telling about its encoding."""
    utf16 = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    encodings = ["utf-16"] if utf16 else ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        fallback = f"{source}: not UTF-8, so read as Windows-1252; check accented letters and signs"
        return text, [fallback] if encoding == "cp1252" else []
    raise BadInput(f"{source}: the text is in no encoding that can be read; save it as CSV in UTF-8")


def _delimiter(text: str, known: Callable[[str], bool]) -> str:
    """The delimiter that gives the header most known names, then most cells."""

    def score(delimiter: str) -> tuple[int, int]:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        try:
            first: Sequence[str] = next((row for row in reader if any(row)), [])
        except csv.Error:  # a cell of more than a line's length: no header by this delimiter
            first = []
        return sum(map(known, first)), len(first)

    return max(DELIMITERS, key=score)


class _Shared(dict[str, str]):
    """Cells as they are taken, one object a text: most stand many times."""

    def __missing__(self, cell: str) -> str:
        return self.setdefault(cell, unguarded(tidy(cell)))


def _records(text: str, delimiter: str, source: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[Row] = []
    start = 1
    share = _Shared().__getitem__
    try:
        for cells in reader:
            if len(cells) > MOST_COLUMNS or len(rows) >= MOST_ROWS:
                raise BadInput(
                    f"{source}, line {start}: a table has {MOST_COLUMNS:,} columns and {MOST_ROWS:,} rows at most"
                )
            rows.append(Row(start, tuple(map(share, cells))))
            start = reader.line_num + 1
    except csv.Error as problem:
        mend = "put quotes round the whole cell and double those inside"
        if "field limit" in str(problem):
            told = f"a cell of more than {csv.field_size_limit():,} characters; is a quote left open there?"
            raise BadInput(f"{source}, line {start}: {told}") from None
        raise BadInput(f"{source}, line {start}: {problem}; {mend}") from None
    return rows


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Return rows as CSV with commas; what a spreadsheet would run is marked, and read back without its mark."""
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n").writerows(guarded_rows(rows))
    return stream.getvalue()
