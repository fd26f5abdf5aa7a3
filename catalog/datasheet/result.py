"""What was read of a datasheet: fields with status, flags and raw text, the questions left, and the lines not read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any, Final

from triptych.catalog.fields import COLUMN_UNITS, COLUMNS

NOMINAL: Final = "nominal sizes in mm and in are not equal; the metric one is taken"
"""The flag of a driver's size that is named in two units, which are names rather than measures."""
NOMINAL_SLACK: Final = 0.06
"""How far a nominal size in inches and the one sold beside it in millimetres differ; common practice, no source."""
GIVEN: Final = "given by hand"
"""The flag of what a person says and no text."""


class ReadStatus(Enum):
    """How a value came about: as printed, concluded from what is printed, or not at all."""

    READ = "read"
    INFERRED = "inferred"
    REFUSED = "refused"


_LONGEST_TOLD: Final = 100
"""How much of a line is told with a number of it. [characters]."""


@dataclass(frozen=True, slots=True)
class ReadField:
    """One column of one loudspeaker; `value` is as in `LoudspeakerRecord`, in SI, and None where it is refused."""

    value: Any
    status: ReadStatus
    flags: tuple[str, ...] = ()
    raw: str = ""


@dataclass(frozen=True, slots=True)
class SheetRecord:
    """One loudspeaker of a datasheet."""

    fields: Mapping[str, ReadField]
    questions: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def values(self) -> dict[str, Any]:
        """What was read or inferred, by column, as in `LoudspeakerRecord`."""
        known = {name: field.value for name, field in self.fields.items() if field.status is not ReadStatus.REFUSED}
        return {name: int(value) if COLUMNS[name].type is int else value for name, value in known.items()}


class Fate(Enum):
    """What became of a number of the text."""

    FIGURE = "figure"
    INFERRED = "inferred"
    REFUSED = "refused"
    CONDITION = "condition"
    NAME = "name"
    NOT_READ = "not read"


@dataclass(frozen=True, slots=True)
class SheetNumber:
    """A number of the text, from `start` to `end`: what became of it, of which columns, and why."""

    start: int
    end: int
    text: str
    fate: Fate
    columns: tuple[str, ...] = ()
    why: str = ""
    record: int | None = None
    """Which of the loudspeakers it is of, counted from 0; the first where it is of several."""


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """All loudspeakers of one text."""

    records: tuple[SheetRecord, ...]
    unread: tuple[str, ...] = ()
    """Lines that are about none of them in particular."""
    text: str = ""
    """What was read, in which `numbers` stand: a page without its tags, broken words made whole."""
    numbers: tuple[SheetNumber, ...] = ()
    """Every number of it."""

    def as_json(self) -> dict[str, Any]:
        """Return plain values; numbers are in the bare units of the loudspeaker file."""
        return {
            "records": [_record(record) for record in self.records],
            "unread": list(self.unread),
            "text": self.text,
            "numbers": [_number(one) for one in self.numbers],
        }


def left_out(sheet: ReadSheet) -> list[str]:
    """Return the numbers not read of each line that was read otherwise, with the line."""
    listed = " ".join((*sheet.unread, *(line for record in sheet.records for line in record.unread)))
    found: dict[str, list[str]] = {}
    for one in sheet.numbers:
        start = sheet.text.rfind("\n", 0, one.start) + 1
        end = sheet.text.find("\n", one.end)
        line = " ".join(sheet.text[start : end if end >= 0 else None][:_LONGEST_TOLD].split())
        if one.fate is Fate.NOT_READ and line not in listed:
            found.setdefault(line, []).append(one.text)
    return [f"{', '.join(numbers)} in {line!r}" for line, numbers in found.items()]


def _number(one: SheetNumber) -> dict[str, Any]:
    return {
        "start": one.start,
        "end": one.end,
        "fate": one.fate.value,
        "columns": list(one.columns),
        "why": one.why,
        "record": one.record,
    }


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
