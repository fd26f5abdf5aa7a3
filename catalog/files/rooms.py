"""Rooms in files: TOML to a record and back, every key accounted for."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import tomli_w

from triptych.catalog.consistency import Fault
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import ROOM_NAME, SECTIONS, Field, Section
from triptych.catalog.forms import aspect_ratio, yes_or_no
from triptych.catalog.inputs import read_text, shown, toml
from triptych.catalog.money import currency, currency_of, finer_than_money, read_amount
from triptych.catalog.names import name_key
from triptych.catalog.number_texts import plain, quoted, typed
from triptych.catalog.outputs import write_file
from triptych.catalog.problems import Problem, nearest, refuse
from triptych.catalog.quantities import Kind
from triptych.catalog.records import Hot, Listening, MainsPosition, Money, RoomRecord, Screen, Seat

_WITH_UNIT: Final = (Kind.LENGTH, Kind.MASS)

LONGEST_READ_ONCE: Final = 120
"""A key and a text of more characters are read anew each time: they are no figure and hardly a name."""

_DISAGREEMENT: Final = 0.02
"""How far a stated diagonal or aspect may be from width and height: bezels and rounding. Common practice, no source."""


def read_room(path: Path) -> RoomRecord:
    """Return the room that a TOML file describes.

    Raises
    ------
    BadInput
        The file cannot be read, or with everything that is wrong in it, a line each: file, section, key,
        what it holds and what would be right.
    """
    return room_from_toml(read_text(path), path.name)


def room_from_toml(text: str, source: str) -> RoomRecord:
    """Return the room that TOML describes; `source` names it in errors. See `read_room`."""
    return room_from_table(toml(text, source), source)


def room_from_table(data: Mapping[str, Any], source: str) -> RoomRecord:
    """Return the room that a table of TOML describes. See `read_room`."""
    room, problems = room_or_problems(data, source)
    refuse(problems)
    if room is None:
        raise AssertionError("a room that cannot be made has a problem that says why")
    return room


def room_or_problems(data: Mapping[str, Any], source: str) -> tuple[RoomRecord | None, list[Problem]]:
    """Return the room that a table of TOML describes, or None with everything that is wrong in it."""
    reader = _Reader(source)
    return reader.room(data), reader.problems


def toml_of(room: RoomRecord) -> str:
    """Return a room as TOML that reads back to the identical record."""
    parts = [tomli_w.dumps({"name": room.name})]
    for section in SECTIONS.values():
        head = f"[[{section.name}]]" if section.repeated else f"[{section.name}]"
        known = [record for record in section.records(room) if record not in (None, MainsPosition(), Listening())]
        parts += [f"{head}\n{tomli_w.dumps(_toml(section, record))}" for record in known]
    return "\n".join(parts)


def write_room(path: Path, room: RoomRecord) -> None:
    """Write a room to a TOML file, whole or not at all."""
    write_file(path, toml_of(room).encode())


def _toml(section: Section, record: object) -> dict[str, Any]:
    known = {name: value for name in section.keys if (value := getattr(record, name)) is not None}
    return {name: toml_value(section.keys[name], value) for name, value in known.items()}


def toml_value(key: Field, value: Any) -> bool | int | float | str | Decimal:
    """Return the value of a key as TOML has it: lengths and masses as text with their unit, numbers bare."""
    if key.quantity is not None and key.quantity.kind in _WITH_UNIT:
        return key.shown(value)
    found: bool | int | float | str | Decimal
    found = Decimal(key.text(value)) if isinstance(value, Decimal) else key.plain(value)
    # 8, not 8.0: a person wrote it
    return int(found) if isinstance(found, float | Decimal) and found == int(found) else found


def value_of(key: Field, value: object) -> Any:
    """Return what a TOML value, or the text of an answer, says of a key; None where it is unknown.

    Raises
    ------
    BadInput
        With what it holds and what would be right.
    """
    if key.type is bool:
        return _flag(value, "true or false")
    if key.type is Hot:
        unknown = isinstance(value, str) and value.strip().casefold() == "unknown"
        return Hot.UNKNOWN if unknown else Hot.YES if _flag(value, 'true, false or "unknown"') else Hot.NO
    if key.type is str and key.about.form == "name" and not isinstance(value, str):
        raise BadInput(f"holds {shown(value)}; write text in quotes")
    return key.read(_text_of(value))


def _flag(value: object, wanted: str) -> bool:
    if isinstance(value, bool):
        return value
    try:
        return yes_or_no(_text_of(value))
    except BadInput:
        raise BadInput(f"holds {shown(value)}; write {wanted}") from None


def _text_of(value: object) -> str:
    """A TOML string or number as the text a person would write."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        raise BadInput(f"holds {shown(value)}; write text in quotes or a number")
    return typed(value)


@dataclass(slots=True)
class _Reader:
    """One pass over a file; it collects problems instead of stopping at the first."""

    source: str
    problems: list[Problem] = field(default_factory=list)

    def fault(self, where: str, key: str, complaint: str) -> None:
        self.problems.append(Problem(self.source, where, key, complaint))

    def room(self, data: Mapping[str, Any]) -> RoomRecord | None:
        for name in data:
            if name not in SECTIONS and name != "name":
                self.fault("", shown(name), f"is no section or key of a room; {nearest(name, ['name', *SECTIONS])}")
        name = self.value("", ROOM_NAME, data)
        single = {
            one: self.single(SECTIONS[one], data[one]) for one in data if one in SECTIONS and not SECTIONS[one].repeated
        }
        lists = {f"{one.name}s": self.several(one, data.get(one.name, [])) for one in SECTIONS.values() if one.repeated}
        seats = self.primary(
            lists["seats"],
            whole=isinstance(data.get("seat", []), list) and len(lists["seats"]) == len(data.get("seat", [])),
        )
        self.distinct("place", lists["places"])
        if self.problems:
            return None
        sections = {one: record for one, record in single.items() if record is not None}
        return RoomRecord(name=str(name), seats=seats, places=tuple(lists["places"]), **sections)

    def single(self, section: Section, value: object) -> Any:
        if not isinstance(value, dict):
            self.fault(f"[{section.name}]", "", f"holds {shown(value)}; write [{section.name}] once, its keys below")
            return None
        return self.section(f"[{section.name}]", section, value)

    def priced(self, data: Mapping[str, Any]) -> Mapping[str, Any]:
        """The money with a currency that is written beside the amount under its own key; one that contradicts stays."""
        text, stated = data.get("centre"), data.get("currency")
        if not isinstance(text, str) or not isinstance(stated, str | None):
            return data
        try:
            amount, code = read_amount(text), currency(stated) if stated else None
        except BadInput:
            return data  # said where each key is read
        if not amount.codes:
            return data
        try:
            return {**data, "centre": amount.value, "currency": currency_of(amount, text, code)}
        except BadInput as problem:
            self.fault("[money]", "centre", str(problem))
            return {key: value for key, value in data.items() if key != "centre"}

    def several(self, section: Section, value: object) -> list[Any]:
        name = section.name
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            self.fault(f"[{name}]", "", f"write [[{name}]] in double brackets before each {name}, its keys below")
            return []
        if not value and name == "seat":
            self.fault("[[seat]]", "", "there is none; describe at least one listening position")
        found = []
        for number, one in enumerate(value, start=1):
            called = f" {quoted(one['name'])}" if isinstance(one.get("name"), str) else ""
            found.append(self.section(f"[[{name}]] {number}{called}", section, one))
        return [record for record in found if record is not None]

    def section(self, where: str, section: Section, data: Mapping[str, Any]) -> Any:
        # as a key 1 would be True; and what is wrong is told of where it stands
        known = _read_before(section.name, tuple(data.items())) if _texts_alone(section, data) else None
        return self.section_anew(where, section, data) if known is None else known

    def section_anew(self, where: str, section: Section, data: Mapping[str, Any]) -> Any:
        data = self.priced(data) if section.record is Money else data
        before = len(self.problems)
        for name in data:
            if name not in section.keys:
                self.fault(where, name, f"is no key of {section.name}; {nearest(name, section.keys)}")
        values = {
            name: self.value(where, key, data) for name, key in section.keys.items() if name in data or key.required
        }
        record = section.record(**values) if len(self.problems) == before else None
        for key, complaint in contradictions(record):
            self.fault(where, key, complaint)
        return record

    def value(self, where: str, key: Field, data: Mapping[str, Any]) -> Any:
        if key.name not in data:
            self.fault(where, key.name, "is not there; it is required")
            return None
        try:
            value = value_of(key, data[key.name])
        except BadInput as problem:
            self.fault(where, key.name, str(problem))
            return None
        if value is None and key.required:
            self.fault(where, key.name, "is empty or unknown; it is required")
        elif value is None and not key.optional:
            self.fault(where, key.name, "cannot be unknown; write what it is, or leave the key out for the usual value")
        return value

    def primary(self, seats: list[Any], *, whole: bool) -> tuple[Seat, ...]:
        """The seats with exactly one primary: a single seat is, and of several one is marked."""
        self.distinct("seat", seats)
        marked = [seat.name for seat in seats if seat.primary]
        names = ", ".join(quoted(seat.name) for seat in seats)
        if whole and len(seats) == 1:
            return (replace(seats[0], primary=True),)
        if len(marked) > 1:
            names = ", ".join(map(quoted, marked))
            self.fault("[[seat]]", "primary", f"{names} are all marked; leave primary = true at one of them")
        elif whole and seats and not marked:
            self.fault("[[seat]]", "primary", f"no seat is marked; write primary = true at one of {names}")
        return tuple(seats)

    def distinct(self, kind: str, records: Sequence[Any]) -> None:
        counts = Counter(name_key(record.name) for record in records)
        for name, count in counts.items():
            if count > 1:
                self.fault(f"[[{kind}]]", "name", f"{count} are called {quoted(name)}; give each a name of its own")


def _texts_alone(section: Section, data: Mapping[str, Any]) -> bool:
    return len(data) <= len(section.keys) and all(
        value is True or (isinstance(value, str) and len(key) + len(value) <= LONGEST_READ_ONCE)
        for key, value in data.items()
    )


@lru_cache(maxsize=256)  # a form is read at each key that is pressed, and nearly all of it is what it was
def _read_before(section: str, said: tuple[tuple[str, Any], ...]) -> Any:
    """A section of texts as its record, None where anything is wrong with it."""
    reader = _Reader("")
    record = reader.section_anew("", SECTIONS[section], dict(said))
    return None if reader.problems else record


def contradictions(record: object) -> list[Fault]:
    """Return what the keys of one section do not agree on, by key."""
    if isinstance(record, Screen):
        return list(_screen(record))
    return list(_money(record)) if isinstance(record, Money) else []


def _money(money: Money) -> Iterator[Fault]:
    if money.centre is not None and money.currency is None:
        yield "currency", 'is not there beside an amount; write three letters, such as "EUR"'
    elif money.centre is not None and finer_than_money(money.centre, money.currency):
        yield "centre", f"{plain(money.centre)} has more decimals than {money.currency}; round it"


def _screen(screen: Screen) -> Iterator[Fault]:
    sides = [side for side in (screen.width, screen.height) if side is not None]
    if screen.diagonal is not None and screen.aspect is None and not sides:
        yield "aspect", 'is not there beside a diagonal; write one such as "16:9"'
    if screen.diagonal is not None and any(side >= screen.diagonal for side in sides):
        yield "diagonal", "is not longer than the sides; mend it or leave it out"
        return
    width, height = picture_size(screen)
    if width is None or height is None:
        return
    stated = {"diagonal": screen.diagonal, "aspect": aspect_ratio(screen.aspect) if screen.aspect else None}
    shape = {"diagonal": math.hypot(width, height), "aspect": width / height}
    for key, said in stated.items():
        if said is not None and abs(said - shape[key]) > _DISAGREEMENT * shape[key]:
            yield key, "does not agree with the other figures of the picture; mend it or leave it out"


def picture_size(screen: Screen) -> tuple[float | None, float | None]:
    """Return width and height of the picture [m], from what is stated; None where it does not follow.

    Examples
    --------
    >>> picture_size(Screen(diagonal=5.0, aspect="4:3"))
    (4.0, 3.0)
    """
    width, height, diagonal = screen.width, screen.height, screen.diagonal
    ratio = aspect_ratio(screen.aspect) if screen.aspect else None
    if width is None and height is None and diagonal is not None and ratio is not None:
        height = diagonal / math.hypot(ratio, 1.0)
    if height is None and width is not None:
        height = width / ratio if ratio is not None else _leg(diagonal, width)
    if width is None and height is not None:
        width = height * ratio if ratio is not None else _leg(diagonal, height)
    return width, height


def _leg(diagonal: float | None, side: float) -> float | None:
    return None if diagonal is None or diagonal <= side else math.sqrt(diagonal**2 - side**2)
