"""XLSX: the first sheet as text cells, and text cells as a sheet."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.files.tables import Row, tidy
from triptych.catalog.numbers import typed

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

_LONGEST_CELL: Final = 32_767
"""Characters that a cell of a workbook can hold. From memory."""


def read_sheet(content: bytes, source: str) -> tuple[list[Row], list[str]]:
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


def sheet(rows: Sequence[Sequence[str]], numeric: Sequence[bool]) -> bytes:
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
