"""Workbooks: the filled cells of the first sheet as text, and rows of text as a workbook."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.files.cells import MOST_COLUMNS, MOST_ROWS, Row, tidy
from triptych.catalog.number_texts import typed

LARGEST_UNPACKED: Final = 128 * 2**20
"""What the parts of a workbook may hold together. [bytes]."""

_UNPACKED_AT_LEAST: Final = 2**20
_TIGHTEST: Final = 100
"""A workbook of figures is never packed tighter; those that repeat come to 15, the rest is room. No source."""

_LONGEST_CELL: Final = 32_767
"""Characters that a cell of a workbook can hold. From memory."""


def read_workbook(content: bytes, source: str) -> tuple[list[Row], list[str]]:
    """Return the rows of the first sheet of a workbook in which a cell is filled, and remarks.

    Numbers come as they were typed, a percentage with its sign, a unit that only the cell's format shows with its unit.
    A date, an error and a formula without a stored result have no text that can be trusted, and say so.

    Raises
    ------
    BadInput
        The file is no workbook that can be read, or unpacks to more than one holds.
    """
    with warnings.catch_warnings():
        # openpyxl warns of styles and extensions that it leaves out; no cell depends on them
        warnings.simplefilter("ignore")
        try:
            _refuse_bomb(content)
            rows, names = _read(content)
        except Exception as problem:  # a broken archive or sheet surfaces as almost any error inside openpyxl
            said = " ".join(str(problem).split()) or type(problem).__name__
            raise BadInput(f"{source}: no workbook that can be read ({said}); save it again as .xlsx or .csv") from None
    return rows, [f"{source}: only the first sheet, {names[0]!r}, is read"] if len(names) > 1 else []


def _refuse_bomb(content: bytes) -> None:
    """Refuse an archive by what it says that it unpacks to; more than it says is never unpacked."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        size = sum(part.file_size for part in archive.infolist())
    tight = size > max(_UNPACKED_AT_LEAST, _TIGHTEST * len(content))
    if tight or size > LARGEST_UNPACKED:
        raise BadInput(f"it unpacks to {size / 2**20:.0f} MiB, which no table of loudspeakers does")


def _read(content: bytes) -> tuple[list[Row], list[str]]:
    from openpyxl import load_workbook

    book: Any = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    rows = []
    for (line, cells), (_, sources) in zip(_parsed(book, values=True), _parsed(book, values=False), strict=True):
        row = _row(line, cells, sources)
        if not row.empty:
            rows.append(row)
        if len(rows) > MOST_ROWS:
            raise BadInput(f"it has more than {MOST_ROWS} rows; divide it")
    return sorted(rows, key=lambda row: row.line), book.sheetnames


def _parsed(book: Any, *, values: bool) -> Iterator[tuple[int, list[Any]]]:
    """The cells that stand in the first sheet, row by row: the values that were stored, or the formulas.

    openpyxl's own walk lays out every cell up to the farthest, and drops those out of order; its parser does neither.
    """
    from openpyxl.cell.read_only import ReadOnlyCell
    from openpyxl.worksheet._reader import WorkSheetParser

    sheet = book.worksheets[0]
    with sheet._get_source() as stream:
        parser = WorkSheetParser(
            stream,
            sheet._shared_strings,
            data_only=values,
            epoch=book.epoch,
            date_formats=book._date_formats,
            timedelta_formats=book._timedelta_formats,
        )
        for line, found in parser.parse():
            yield line, [ReadOnlyCell(sheet, **cell) for cell in found]


def _row(line: int, cells: Sequence[Any], sources: Sequence[Any]) -> Row:
    texts: dict[int, str] = {}
    complaints: dict[int, str] = {}
    numeric: set[int] = set()
    for cell, formula in zip(cells, sources, strict=True):
        position = cell.column - 1
        complaint = "stands in the sheet twice; save it again" if position in texts else _complaint(cell, formula)
        if complaint:
            complaints[position] = complaint
        text = tidy(_text(formula.value if complaint and cell.value is None else cell.value, cell.number_format))
        if text:
            texts[position] = text
        if isinstance(cell.value, (int, float)):
            numeric.add(position)
    return Row(line, _laid_out(texts, complaints), complaints, frozenset(numeric))


def _laid_out(texts: Mapping[int, str], complaints: Mapping[int, str]) -> tuple[str, ...]:
    width = max((*texts, *complaints), default=-1) + 1
    if len(texts) > MOST_COLUMNS:
        raise BadInput(f"a row of it has {len(texts)} cells; {MOST_COLUMNS} are the most")
    return tuple(texts.get(position, "") for position in range(width))


def _complaint(cell: Any, source: Any) -> str | None:
    """Why a cell cannot be trusted, if so; openpyxl's cells have no common type."""
    if isinstance(cell.value, (datetime, date, time, timedelta)):
        return f"Excel has made a date of it ({cell.value}); format the cell as text and type it again"
    if cell.data_type == "e":
        return f"holds Excel's error {cell.value}; mend the formula or leave the cell empty"
    if source.data_type == "f" and cell.value is None:
        shown = getattr(source.value, "text", source.value)
        return f"holds the formula {shown!r} without a stored result; put the value there instead"
    return None


def _text(value: object, number_format: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # a spreadsheet reckons and shows 15 digits; what a formula leaves behind them nobody wrote
        return _number(Decimal(f"{value:.15g}"), number_format)
    if isinstance(value, int):
        return _number(Decimal(value), number_format)
    return str(value)


def _number(value: Decimal, number_format: str) -> str:
    """A number as the reader of the sheet sees it: `0.2` in a percentage cell is 20 %, `0.0" in"` shows inches."""
    if not value.is_finite():
        return str(value)
    # what a format pads with, and its colours and conditions, show nothing of the number; a currency's sign does
    positive = re.sub(r"[_*].", "", re.sub(r"\[\$([^\]-]*)[^\]]*\]", r'"\1"', number_format).split(";")[0])
    positive = re.sub(r"\[[^\]]*\]", "", positive)
    literals = "".join(map("".join, re.findall(r'"([^"]*)"|\\(.)|([€£$¥])', positive))).strip()
    codes = re.sub(r'"[^"]*"|\\.', "", positive)
    shows_unit = any(character.isalpha() or character in "\"'°€£$¥" for character in literals)
    text = f"{typed(value * 100)} %" if "%" in codes else typed(value)
    if re.search("[0#?],+(?![,0#?])", codes):
        return f"{text} shown in thousands"
    return f"{text} {literals}" if shows_unit else text


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
