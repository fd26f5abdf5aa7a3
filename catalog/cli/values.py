"""Records as plain values and as rows for people, in the units of the exchange files."""

from __future__ import annotations

from decimal import Decimal
from enum import Enum
from typing import Any, Final

from triptych.catalog import numbers
from triptych.catalog.files.loudspeaker_columns import COLUMNS, UNITS, Column
from triptych.catalog.files.room_keys import REPEATED, SECTIONS, Section
from triptych.catalog.quantities import LOUDSPEAKER, ROOM, Quantity
from triptych.catalog.records import Hot, LoudspeakerRecord, RoomRecord

LOUDSPEAKER_UNITS: Final = dict(UNITS)
ROOM_UNITS: Final = {name: quantity.bare_unit for name, quantity in ROOM.items()}


def loudspeaker_values(record: LoudspeakerRecord) -> dict[str, Any]:
    """Return a loudspeaker as JSON's values by column, numbers in `LOUDSPEAKER_UNITS`, unknown as None."""
    return {"name": record.name} | {name: _value(column, getattr(record, name)) for name, column in COLUMNS.items()}


def _value(column: Column, value: Any) -> Any:
    if isinstance(value, frozenset):
        return column.text(value).split(";")
    if isinstance(value, float):
        return _number(value, LOUDSPEAKER[column.name])
    return _simple(value)


def _simple(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return float(value)
    return list(value) if isinstance(value, tuple) else value


def _number(value: float, quantity: Quantity) -> float:
    return float(numbers.write(value, quantity))


def room_values(room: RoomRecord) -> dict[str, Any]:
    """Return a room as JSON's values, sections and keys as in its file, numbers in `ROOM_UNITS`, unknown as None."""
    values: dict[str, Any] = {"name": room.name}
    for name, section in SECTIONS.items():
        if name in REPEATED:
            values[name] = [_section(section, record) for record in getattr(room, f"{name}s")]
        else:
            record = getattr(room, name)
            values[name] = None if record is None else _section(section, record)
    return values


def _section(section: Section, record: object) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for name in section.keys:
        value = getattr(record, name)
        if isinstance(value, Hot):
            value = {Hot.YES: True, Hot.NO: False}.get(value, value.value)
        quantity = ROOM.get(f"{section.name}.{name}")
        values[name] = _simple(value) if value is None or quantity is None else _number(value, quantity)
    return values


def with_unit(text: str, unit: str | None) -> str:
    """Return a cell's text with its unit, for people."""
    return f"{text} {unit}" if text and unit else text


def rounded(value: float | None, name: str, digits: int = 0) -> str:
    """Return a figure of a loudspeaker for a table: in its bare unit, rounded; a dash where it is unknown."""
    return "–" if value is None else f"{_number(value, LOUDSPEAKER[name]):.{digits}f}"
