"""A loudspeaker while its sheet is read: candidates a column, questions, and the rule which candidate stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from triptych.catalog.datasheet.amounts import WrittenAmount
from triptych.catalog.datasheet.readings import UnitReading
from triptych.catalog.datasheet.result import ReadField, ReadStatus
from triptych.catalog.records import PricePer

AXES: Final = ("width", "height", "depth")
"""The sides of a box."""
DENSITY: Final = (60.0, 1500.0)
"""What a loudspeaker weighs by the volume of its box, at least and at most; common practice, no source. [kg/m³]."""


@dataclass(frozen=True, slots=True)
class ReadSide:
    """One printed width, height or depth, and under what condition it holds."""

    axis: str
    condition: str
    reading: UnitReading
    bare: WrittenAmount | None = None
    """The figure, where nothing names its unit."""


@dataclass(frozen=True, slots=True)
class ReadLevel:
    """One printed sensitivity before conversion. [dB, V, W, m, ohm]; None where the sheet does not say."""

    reading: UnitReading
    volts: float | None
    watts: float | None
    distance: float | None
    load: float | None
    basis: str
    raw: str


@dataclass(frozen=True, slots=True)
class Band:
    """One printed frequency range, and how far down its ends are. [Hz, dB]."""

    low: UnitReading | None
    high: UnitReading | None
    drop: float | None
    in_room: bool
    raw: str


@dataclass(frozen=True, slots=True)
class ReadOffer:
    """An amount of money as it stands, in what currency, of what, and what makes it none of today's."""

    printed: str
    currency: str | None
    per: PricePer | None
    aside: str | None
    today: bool
    raw: str


@dataclass(slots=True)
class Draft:
    """What the lines of one loudspeaker have given so far."""

    fields: dict[str, ReadField] = field(default_factory=dict)
    given: frozenset[str] = frozenset()
    """Columns that a person said, which no text changes."""
    questions: dict[str, str] = field(default_factory=dict)
    order: tuple[str | None, ...] | None = None
    """In which order the sheet gives the sides of its other loudspeakers."""
    unit: str | None = None
    """In which unit the sheet says that all its sizes are."""
    unread: list[str] = field(default_factory=list)
    sides: list[ReadSide] = field(default_factory=list)
    levels: list[ReadLevel] = field(default_factory=list)
    condition: tuple[str, float | None] | None = None
    """The field and the voltage of which a line on sensitivity without a level tells. [V]."""
    bands: list[Band] = field(default_factory=list)
    drop: tuple[float, str] | None = None
    """How far down limits are that other lines tell, and the line. [dB]."""
    enclosures: list[tuple[str, str]] = field(default_factory=list)
    cones: list[tuple[str, str]] = field(default_factory=list)
    """Drivers that nothing names, with their line."""
    passing: list[tuple[str, str, str]] = field(default_factory=list)
    """Enclosures that sentences about something else name, with their clause and line."""
    offers: list[ReadOffer] = field(default_factory=list)
    per: PricePer | None = None
    """What prices are of that say nothing of it."""
    savings: list[tuple[Decimal, bool]] = field(default_factory=list)
    """What is saved on a former price, and whether that is a share of it in percent."""

    def known(self, column: str) -> Any:
        """Return the value of a column so far, or None."""
        found = self.fields.get(column)
        return None if found is None else found.value

    def put(self, column: str, value: Any, raw: str, flags: Iterable[str] = (), *, inferred: bool = False) -> None:
        """Set a column; a second, different value refuses both, a printed one stands above an inferred one."""
        if column in self.given or value is None:
            return
        status = ReadStatus.INFERRED if inferred else ReadStatus.READ
        new, old = ReadField(value, status, tuple(flags), raw), self.fields.get(column)
        if old is not None and old.value is not None and old.value != value and old.status is status:
            self.refuse(column, f"two figures that disagree: {old.raw} and {raw}", f"{old.raw} | {raw}")
        elif old is None or self._stands_above(new, old):
            self.fields[column] = new
            self.questions.pop(column, None)

    def _stands_above(self, new: ReadField, old: ReadField) -> bool:
        if old.status is ReadStatus.REFUSED:
            # a contradiction is not settled by one side of it
            return "disagree" not in " ".join(old.flags)
        return old.status is ReadStatus.INFERRED and new.status is ReadStatus.READ

    def take(self, column: str, reading: UnitReading, raw: str, question: str | None = None) -> None:
        """Set a column from a reading, or refuse it with the reading's reason."""
        if reading.value is None:
            self.refuse(column, reading.refusal or "not readable", raw, question)
        else:
            self.put(column, reading.value, raw, reading.flags, inferred=reading.inferred)

    def refuse(self, column: str, why: str, raw: str, question: str | None = None, *, of: str | None = None) -> None:
        """Say why a column has no value, unless it has one; a contradiction takes a value away."""
        old = self.fields.get(column)
        if column in self.given or (old is not None and old.value is not None and "disagree" not in why):
            return
        self.fields[column] = ReadField(None, ReadStatus.REFUSED, (why,), raw)
        self.ask(column, question or f"{why}; what is it?", of)

    def flag(self, column: str, *flags: str) -> None:
        """Add flags to a column that is there."""
        old = self.fields.get(column)
        if old is not None:
            self.fields[column] = ReadField(old.value, old.status, tuple(dict.fromkeys(old.flags + flags)), old.raw)

    def ask(self, column: str, question: str, of: str | None = None) -> None:
        """Leave one question a column; `of` names what it is about where that is more than the column."""
        if column not in self.given:
            self.questions[column] = f"{of or column}: {question}"
