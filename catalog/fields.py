"""Every attribute of a loudspeaker and of a room, as its line in `records.py` describes it, and what follows from that.

The columns of the loudspeaker file, the keys of the room file, options, JSON, tables and the README's tables are driven
from here; `database/models` makes its columns and CHECKs of the same lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields
from decimal import Decimal
from enum import Enum, EnumType
from math import floor, log10
from types import NoneType, UnionType
from typing import Any, Final, get_args, get_origin, get_type_hints

from triptych.catalog import numbers
from triptych.catalog.forms import ValueForm, form_of
from triptych.catalog.numerals import Mark
from triptych.catalog.quantities import About, Kind, Quantity
from triptych.catalog.records import (
    Amplifier,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Place,
    RoomRecord,
    Screen,
    Seat,
)
from triptych.catalog.words import Hot


@dataclass(frozen=True, slots=True)
class Field:
    """One attribute of a record: a column of the loudspeaker file, or a key of the room file.

    `type` is without None; `choices` are the words that it chooses from.
    """

    name: str
    type: Any
    about: About
    optional: bool
    required: bool
    quantity: Quantity | None
    form: ValueForm
    choices: tuple[str, ...]

    @property
    def unit(self) -> str | None:
        """The unit of a bare number; None where it has none."""
        return None if self.quantity is None or self.quantity.kind is Kind.COUNT else self.quantity.bare_unit

    @property
    def figure(self) -> bool:
        """Whether it is a number whose source is kept."""
        return self.quantity is not None or self.about.form == "price"

    @property
    def help(self) -> str:
        """What an option says of it, with its words and its unit."""
        words = self.about.header or self.about.meaning[0].upper() + self.about.meaning[1:]
        choices = f": {', '.join(self.choices)}" if self.choices else ""
        return words + self.about.note + choices + (f" [{self.unit}]" if self.unit else "")

    @property
    def check(self) -> str:
        """The sign that the tables hold it to: `> 0`, `>= 0` or none."""
        if self.about.check is not None or self.quantity is None:
            return self.about.check or ""
        return "> 0" if self.quantity.low > 0 else ">= 0" if self.quantity.low == 0 else ""

    def read(self, text: str, mark: Mark | None = None) -> Any:
        """Return the value that a text states, None where it is unknown; raises BadInput.

        `mark` is the decimal one of a number that could be read two ways.
        """
        return None if self.says_nothing(text) else self.form.read(text, mark)

    def says_nothing(self, text: str) -> bool:
        """Whether a text leaves the value unknown; where `unknown` is one of its words, only an empty one does."""
        return not text.strip() if "unknown" in self.choices else numbers.is_unknown(text)

    def text(self, value: Any) -> str:
        """Return a value as text that reads back to it; unknown is empty."""
        return "" if value is None else self.form.write(value)

    def plain(self, value: Any) -> Any:
        """Return a value as JSON has it: numbers in the unit of a bare number, words as in the file."""
        if value is None or isinstance(value, bool | str):
            return value
        if isinstance(value, Hot):
            return {Hot.YES: True, Hot.NO: False}.get(value, value.value)
        if isinstance(value, Enum):
            return value.value
        if isinstance(value, frozenset):
            return self.text(value).split(self.about.mark)
        if isinstance(value, tuple):
            return [self.plain(one) for one in value]
        return self._number(value)

    def _number(self, value: float | Decimal) -> float | int:
        if self.quantity is None:
            return float(value)
        return int(value) if self.quantity.kind is Kind.COUNT else float(numbers.write(float(value), self.quantity))

    def legible(self, value: Any) -> str:
        """Return a value with its unit for people, a computed number with no more than four figures that count."""
        if isinstance(value, float) and self.quantity is not None:
            number = float(numbers.write(value, self.quantity))
            places = max(0, 3 - floor(log10(abs(number)))) if number else 0
            return f"{round(number, places):.10g} {self.unit or ''}".strip()
        return self.shown(value)

    def rounded(self, value: float | None) -> str:
        """Return a number for a table, in the unit of a bare number; a dash where it is unknown."""
        return "–" if value is None else f"{self._number(value):.{self.about.digits}f}"

    def shown(self, value: Any) -> str:
        """Return a value as text with its unit, for people."""
        single = isinstance(value, float) and self.quantity is not None
        text = numbers.write(value, self.quantity) if single and self.quantity else self.text(value)
        return f"{text} {self.unit}" if text and self.unit else text


def fields_of(record: type) -> dict[str, Field]:
    """Return the attributes that a record describes, by name, in its order."""
    hints = get_type_hints(record, include_extras=True)
    made = {one.name: one.default is MISSING and one.default_factory is MISSING for one in fields(record)}
    return {
        name: _field(name, hints[name], about, required)
        for name, required in made.items()
        for about in getattr(hints[name], "__metadata__", ())
    }


def _field(name: str, hint: Any, about: About, required: bool) -> Field:
    base = hint.__origin__
    optional = isinstance(base, UnionType)
    type_ = next(kind for kind in get_args(base) if kind is not NoneType) if optional else base
    quantity = about.quantity(name)
    form = form_of(type_, about, quantity)
    return Field(name, type_, about, optional, required or about.required, quantity, form, _choices(type_))


def _choices(type_: Any) -> tuple[str, ...]:
    if type_ is bool:
        return ("yes", "no")
    members = get_args(type_)[0] if get_origin(type_) is frozenset else type_
    return _values(members) if isinstance(members, EnumType) else ()


def _values(members: Iterable[Enum]) -> tuple[str, ...]:
    return tuple(str(member.value) for member in members)


COLUMNS: Final[Mapping[str, Field]] = fields_of(LoudspeakerRecord)
"""Every column of the loudspeaker file by name, in the order of an export."""

REQUIRED: Final = tuple(name for name, column in COLUMNS.items() if column.required)
"""The columns that a file must fill."""

COLUMN_UNITS: Final[Mapping[str, str]] = {name: column.unit for name, column in COLUMNS.items() if column.unit}
"""The unit of a bare number, by column."""

LOUDSPEAKER: Final[Mapping[str, Quantity]] = {
    name: column.quantity for name, column in COLUMNS.items() if column.quantity is not None
}
"""The numbers of a loudspeaker, by column."""


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the room file: the record that its keys make, and the keys in the order of an export.

    A `repeated` one may stand more than once; an `optional` one is unknown as a whole where it doesn't stand.
    """

    name: str
    record: type
    keys: Mapping[str, Field]
    repeated: bool
    optional: bool
    asked_first: tuple[str, ...] = ()

    @property
    def asked(self) -> list[Field]:
        """Its keys in the order in which they are asked."""
        return [self.keys[name] for name in dict.fromkeys((*self.asked_first, *self.keys))]

    def records(self, room: RoomRecord) -> tuple[Any, ...]:
        """Give the room's records of this section; one None where an optional one isn't known."""
        return getattr(room, f"{self.name}s") if self.repeated else (getattr(room, self.name),)


def _section(name: str, record: type, *, asked_first: tuple[str, ...] = (), repeated: bool = False) -> Section:
    found = fields_of(record)
    # a seat's place reads from side to side first, but only its distance cannot be left out
    order = dict.fromkeys(("name", "x", *found)) if record is Seat else found
    optional = isinstance(get_type_hints(RoomRecord).get(name), UnionType)
    return Section(name, record, {key: found[key] for key in order}, repeated, optional, asked_first)


SECTIONS: Final[Mapping[str, Section]] = {
    section.name: section
    for section in (
        _section("screen", Screen, asked_first=("diagonal", "aspect")),
        _section("mains", MainsPosition),
        _section("seat", Seat, repeated=True),
        _section("place", Place, repeated=True),
        _section("amplifier", Amplifier),
        _section("listening", Listening),
        _section("money", Money),
    )
}
"""Every section by name, in the order of an export."""

ROOM_NAME: Final = fields_of(RoomRecord)["name"]
"""The key above all sections."""

ROOM_QUANTITIES: Final[Mapping[str, Quantity]] = {
    f"{section.name}.{key.name}": key.quantity
    for section in SECTIONS.values()
    for key in section.asked
    if key.quantity is not None
}
"""The numbers of a room, by section and key."""
