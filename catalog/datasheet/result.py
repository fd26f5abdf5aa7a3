"""What was read of a datasheet: fields with status, flags and raw text, the questions left, and the lines not read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from triptych.catalog.fields import COLUMN_UNITS, COLUMNS


class Status(Enum):
    """How a value came about: as printed, concluded from what is printed, or not at all."""

    READ = "read"
    INFERRED = "inferred"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Field:
    """One column of one loudspeaker; `value` is as in `LoudspeakerRecord`, in SI, and None where it is refused."""

    value: Any
    status: Status
    flags: tuple[str, ...] = ()
    raw: str = ""


@dataclass(frozen=True, slots=True)
class SheetRecord:
    """One loudspeaker of a datasheet."""

    fields: Mapping[str, Field]
    questions: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def values(self) -> dict[str, Any]:
        """What was read or inferred, by column, as in `LoudspeakerRecord`."""
        known = {name: field.value for name, field in self.fields.items() if field.status is not Status.REFUSED}
        return {name: int(value) if COLUMNS[name].type is int else value for name, value in known.items()}


@dataclass(frozen=True, slots=True)
class Sheet:
    """All loudspeakers of one text."""

    records: tuple[SheetRecord, ...]

    def as_json(self) -> dict[str, Any]:
        """Return plain values; numbers are in the bare units of the loudspeaker file."""
        return {"records": [_record(record) for record in self.records]}


def _record(record: SheetRecord) -> dict[str, Any]:
    fields = {
        name: {
            "value": COLUMNS[name].plain(field.value),
            "unit": COLUMN_UNITS.get(name),
            "status": field.status.value,
            "flags": list(field.flags),
            "raw": field.raw,
        }
        for name, field in record.fields.items()
    }
    return {"fields": fields, "questions": list(record.questions), "unread": list(record.unread)}
