"""Records as JSON's values, in the units of the exchange files."""

from __future__ import annotations

from typing import Any, Final

from triptych.catalog.fields import COLUMN_UNITS, COLUMNS, ROOM_QUANTITIES, SECTIONS, Section
from triptych.catalog.records import LoudspeakerRecord, RoomRecord

LOUDSPEAKER_UNITS: Final = dict(COLUMN_UNITS)
ROOM_UNITS: Final = {name: quantity.bare_unit for name, quantity in ROOM_QUANTITIES.items()}


def loudspeaker_values(record: LoudspeakerRecord) -> dict[str, Any]:
    """Return a loudspeaker as JSON's values by column, numbers in `LOUDSPEAKER_UNITS`, unknown as None."""
    return {"name": record.name} | {name: column.plain(getattr(record, name)) for name, column in COLUMNS.items()}


def room_values(room: RoomRecord) -> dict[str, Any]:
    """Return a room as JSON's values, sections and keys as in its file, numbers in `ROOM_UNITS`, unknown as None."""
    values: dict[str, Any] = {"name": room.name}
    for name, section in SECTIONS.items():
        found = [_section(section, record) for record in section.records(room)]
        values[name] = found if section.repeated else found[0]
    return values


def _section(section: Section, record: object) -> dict[str, Any] | None:
    if record is None:
        return None
    return {name: key.plain(getattr(record, name)) for name, key in section.keys.items()}
