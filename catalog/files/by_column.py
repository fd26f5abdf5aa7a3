"""Rows of loudspeakers read by column, each text once: only a row at which something is odd is read by itself."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import compress, repeat
from typing import Any

from triptych.catalog.cell_readings import Stated
from triptych.catalog.consistency import disagreeing
from triptych.catalog.fields import COLUMNS, REQUIRED
from triptych.catalog.files.cells import Row
from triptych.catalog.files.headed_sheet import HeadedSheet
from triptych.catalog.files.header_units import in_unit
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import SOURCED, family_of


def records_of(sheet: HeadedSheet, rows: Sequence[Row]) -> list[LoudspeakerRecord | None]:
    """Give the records of rows of which the catalogue knows nothing, None where a row must be read by itself.

    A record is the one that `record_from_texts` makes of the row. Where anything is wrong or odd that alone knows the
    words for it.
    """
    if not rows:
        return []
    odd = {at for at, row in enumerate(rows) if row.complaints or len(row.cells) > sheet.width}
    columns: dict[str, Sequence[Any]] = dict.fromkeys(COLUMNS, [None] * len(rows))
    stated: dict[str, Sequence[str | None]] = {}
    cells = list(zip(*(_whole(row.cells, sheet.width) for row in rows), strict=True))
    for name, at in sheet.positions.items():
        texts: Sequence[str] = cells[at]
        if unit := sheet.units.get(name):
            units = {text: in_unit(text, unit, COLUMNS[name]) for text in set(texts)}
            texts = list(map(units.__getitem__, texts))
        columns[name], told = _read(sheet, name, texts, odd)
        if name in SOURCED:
            stated[name] = told
    if "price" in stated:
        columns["currency"] = _currencies(sheet, stated["price"], columns["currency"], odd)
    for name in REQUIRED:
        odd.update(at for at, value in enumerate(columns[name]) if not value)
    columns["family"] = list(map(family_of, *(columns[name] for name in ("family", "maker", "series"))))
    odd |= disagreeing(columns)
    known = zip(*stated.values(), strict=True) if stated else repeat((), len(rows))
    figures = (
        # a text that states nothing is None here
        Stated(dict(compress(zip(stated, texts, strict=True), texts)), f"{sheet.table.source}, line {row.line}")
        for texts, row in zip(known, rows, strict=True)
    )
    made = map(LoudspeakerRecord, *columns.values(), figures)
    return [None if at in odd else record for at, record in enumerate(made)]


def _whole(cells: tuple[str, ...], width: int) -> Sequence[str]:
    """The cells of a row under the header: a row may be short, as spreadsheets leave empty cells at its end out."""
    return cells if len(cells) == width else (*cells[:width], *repeat("", width - len(cells)))


def _read(
    sheet: HeadedSheet, name: str, texts: Sequence[str], odd: set[int]
) -> tuple[Sequence[Any], Sequence[str | None]]:
    """The values that the texts of a column state, and those texts that state one; a bad one makes its row odd."""
    values: dict[str, Any] = {"": None}
    stating: dict[str, str | None] = {"": None}
    bad = set[str]()
    for text in set(texts) - {""}:
        values[text], complaint = sheet.reader.read(name, text)
        stating[text] = None if values[text] is None else text
        if complaint:
            bad.add(text)
    if bad:
        odd.update(at for at, text in enumerate(texts) if text in bad)
    return list(map(values.__getitem__, texts)), list(map(stating.__getitem__, texts))


def _currencies(
    sheet: HeadedSheet, prices: Sequence[str | None], stated: Sequence[Any], odd: set[int]
) -> Sequence[Any]:
    """The currencies of prices, as their texts or the column of currencies state them."""
    pairs = list(zip(prices, stated, strict=True))
    found = {(price, own): sheet.reader.currency(price, own) if price else (own, "") for price, own in set(pairs)}
    odd.update(at for at, pair in enumerate(pairs) if found[pair][1])
    return [found[pair][0] for pair in pairs]
