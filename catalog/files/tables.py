"""Files of rows and columns as text cells: CSV with any usual delimiter and encoding, and XLSX."""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.numbers import typed

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

DELIMITERS: Final = (",", ";", "\t")
_ZIP: Final = b"PK\x03\x04"
_OLD_EXCEL: Final = b"\xd0\xcf\x11\xe0"
_LONGEST_CELL: Final = 32_767
"""Characters that a cell of a workbook can hold. From memory."""


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
        rows, remarks = _read_workbook(content, path.name)
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


def _read_workbook(content: bytes, source: str) -> tuple[list[Row], list[str]]:
    """Return the rows of the first sheet of a workbook, and remarks.

    Numbers come as they were typed, a percentage with its sign, a unit that only the cell's format shows with its unit.
    A date, an error and a formula without a stored result have no text that can be trusted, and say so.

    Raises
    ------
    BadInput
        The file is no workbook that can be read.
    """
    with warnings.catch_warnings():
        # openpyxl warns of styles and extensions that it leaves out; no cell depends on them
        warnings.simplefilter("ignore")
        try:
            values, formulas = (_load(content, values=values) for values in (True, False))
            rows = _rows(values, formulas)
        except Exception as problem:  # a broken archive or sheet surfaces as almost any error inside openpyxl
            raise BadInput(
                f"{source}: no workbook that can be read ({problem}); save it again as .xlsx or .csv"
            ) from None
    others = len(values.sheetnames) - 1
    return rows, [f"{source}: only the first sheet, {values.sheetnames[0]!r}, is read"] if others else []


def _load(content: bytes, *, values: bool) -> Workbook:
    from openpyxl import load_workbook

    return load_workbook(io.BytesIO(content), data_only=values)


def _rows(values: Workbook, formulas: Workbook) -> list[Row]:
    first, second = (book.worksheets[0] for book in (values, formulas))
    rows = []
    for line, (cells, sources) in enumerate(zip(first.iter_rows(), second.iter_rows(), strict=True), start=1):
        texts: list[str] = []
        complaints: dict[int, str] = {}
        for position, (cell, source) in enumerate(zip(cells, sources, strict=True)):
            complaint = _complaint(cell, source)
            if complaint:
                complaints[position] = complaint
            value = source.value if complaint and cell.value is None else cell.value
            texts.append(tidy(_text(value, cell.number_format)))
        numeric = frozenset(place for place, cell in enumerate(cells) if isinstance(cell.value, (int, float)))
        rows.append(Row(line, tuple(texts), complaints, numeric))
    return rows


def _complaint(cell: Any, source: Any) -> str | None:
    """Why a cell cannot be trusted, if so; openpyxl's cells have no common type."""
    if isinstance(cell.value, (datetime, date, time, timedelta)):
        return f"Excel has made a date of it ({cell.value}); format the cell as text and type it again"
    if cell.data_type == "e":
        return f"holds Excel's error {cell.value}; mend the formula or leave the cell empty"
    if source.data_type == "f" and cell.value is None:
        return f"holds the formula {source.value!r} without a stored result; put the value there instead"
    return None


def _text(value: object, number_format: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return _number(Decimal(repr(value)), number_format)
    return str(value)


def _number(value: Decimal, number_format: str) -> str:
    """A number as the reader of the sheet sees it: `0.2` in a percentage cell is 20 %, `0.0" in"` shows inches."""
    if not value.is_finite():
        return str(value)
    positive = re.sub(r"\[[^\]]*\]", "", number_format.split(";")[0])
    literals = "".join(one or other for one, other in re.findall(r'"([^"]*)"|\\(.)', positive)).strip()
    if "%" in re.sub(r'"[^"]*"|\\.', "", positive):
        return f"{typed(value * 100)} %"
    shows_unit = any(character.isalpha() or character in "\"'°" for character in literals)
    return f"{typed(value)} {literals}" if shows_unit else typed(value)


def workbook(rows: Sequence[Sequence[str]], numeric: Sequence[bool]) -> bytes:
    """Return rows of text as a workbook; only columns marked `numeric` hold numbers, and no cell is ever a formula."""
    from openpyxl import Workbook

    book = Workbook()
    page = book.active
    if page is None:
        raise AssertionError("a new workbook has a sheet")
    page.title = "loudspeakers"
    page.freeze_panes = "A2"
    for line, row in enumerate(rows, start=1):
        for position, text in enumerate(row, start=1):
            if text:
                _fill(page.cell(line, position), text, number=numeric[position - 1] and line > 1)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _fill(cell: Any, text: str, *, number: bool) -> None:
    value = _as_number(text) if number else None
    if value is not None:
        cell.value = value
        return
    if len(text) > _LONGEST_CELL:
        raise BadInput(f"cell {cell.coordinate}: {len(text)} characters are more than a workbook holds; export CSV")
    cell.value = text
    # openpyxl would take a leading "=" for a formula and "#N/A" for an error
    cell.data_type = "s"
    cell.number_format = "@"


def _as_number(text: str) -> float | None:
    """The float of a decimal, but only where a workbook's 15 digits bring the same text back."""
    try:
        value = float(text)
    except ValueError:
        return None
    return value if typed(Decimal(format(value, ".15g"))) == text else None


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
