"""Files of rows and columns as text cells: CSV with any usual delimiter and encoding, and XLSX."""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from triptych.catalog.errors import BadInput

DELIMITERS: Final = (",", ";", "\t")
_ZIP: Final = b"PK\x03\x04"
_OLD_EXCEL: Final = b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True, slots=True)
class Row:
    """One row as text; `complaints` says, by position, why a cell has no text that can be trusted.

    `typed` are the positions of cells that a sheet holds as numbers; their text says nothing of how people write.
    """

    line: int
    cells: tuple[str, ...]
    complaints: Mapping[int, str] = field(default_factory=dict)
    typed: frozenset[int] = frozenset()

    @property
    def empty(self) -> bool:
        """Whether nothing stands in the row."""
        return not any(self.cells) and not self.complaints


@dataclass(frozen=True, slots=True)
class Table:
    """A file's header and rows; `remarks` are worth telling, but no reason to refuse."""

    source: str
    header: Row
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()
    sheet: bool = False

    def written(self, position: int) -> Iterator[str]:
        """Every text of a column as somebody wrote it."""
        return (row.cells[position] for row in self.rows if position < len(row.cells) and position not in row.typed)

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
        from triptych.catalog.files.workbooks import read_sheet

        rows, remarks = read_sheet(content, path.name)
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
        return path.read_bytes()
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror or problem}; give the path of a file that can be read") from None


def _read_csv(content: bytes, source: str, known: Callable[[str], bool]) -> tuple[list[Row], list[str]]:
    text, remarks = decode(content, source)
    if "\0" in text:
        raise BadInput(f"{source}: holds NUL characters, so it is no CSV; save it as CSV in UTF-8, or as XLSX")
    return _records(text, _delimiter(text, known), source), remarks


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
        first: Sequence[str] = next((row for row in reader if any(row)), [])
        return sum(map(known, first)), len(first)

    return max(DELIMITERS, key=score)


def _records(text: str, delimiter: str, source: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[Row] = []
    start = 1
    try:
        for cells in reader:
            rows.append(Row(start, tuple(map(tidy, cells))))
            start = reader.line_num + 1
    except csv.Error as problem:
        raise BadInput(
            f"{source}, line {start}: {problem}; put quotes round the whole cell and double those inside"
        ) from None
    return rows


def tidy(text: str) -> str:
    """Return a cell without white space at its ends and with one kind of line end."""
    return re.sub(r"\r\n?", "\n", text).strip()


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Return rows as CSV with commas."""
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n").writerows(rows)
    return stream.getvalue()


def write_whole(path: Path, content: bytes, *, replace: bool = True) -> None:
    """Put a file in place whole or not at all.

    Raises
    ------
    BadInput
        The file is there already and `replace` is false, or it cannot be written.
    """
    try:
        handle, scratch = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            _put(Path(scratch), path, replace=replace)
        finally:
            Path(scratch).unlink(missing_ok=True)
    except FileExistsError:
        raise BadInput(f"{path}: is there already; move it away first, so that nothing is lost") from None
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror or problem}; give a path that can be written") from None


def _put(scratch: Path, path: Path, *, replace: bool) -> None:
    umask = os.umask(0)
    os.umask(umask)
    scratch.chmod(0o666 & ~umask)
    if not replace:
        path.touch(exist_ok=False)
    scratch.replace(path)
