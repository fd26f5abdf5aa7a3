"""Plain records to rows and back. Pure: no session, no clock. What cannot be stored exactly is refused here."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from operator import attrgetter, itemgetter
from typing import Any, Final

from triptych.catalog import consistency
from triptych.catalog.cell_readings import Stated
from triptych.catalog.database.models.loudspeaker_tables import OWN_COLUMNS, DriverKind
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, SECTIONS, Section
from triptych.catalog.money import checked_currency, to_amount, to_minor
from triptych.catalog.names import name_key as name_key
from triptych.catalog.names import refuse_hidden, shows
from triptych.catalog.records import Evidence, Figure, LoudspeakerRecord, Place, Role, RoomRecord, Seat
from triptych.catalog.stated_records import values_of

Row = Mapping[Any, Any]

SCALARS: Final = tuple(column.name for column in OWN_COLUMNS)
"""The fields of a loudspeaker that are columns of the same name; the order is that of the record."""


def stored_in(table: str) -> dict[str, str]:
    """Give the fields that are stored in a part of a loudspeaker, such as its tweeter, with their columns there."""
    places = {name: column.about.stored.partition(".") for name, column in COLUMNS.items()}
    return {name: column for name, (part, _, column) in places.items() if part == table}


DRIVERS: Final = {kind: stored_in(kind.value) for kind in DriverKind}
"""The fields of each kind of driver, with their columns in the table of drivers."""

_PRICE: Final = stored_in("price")
_SIDES: Final = ("coverage_horizontal", "coverage_vertical")


_NOTES: Final = ("note", "why", "source", "raw")
"""Fields that hold more than a name: words over several lines, or where something came from."""


def refuse_unstorable(what: str, value: Any, field: str = "") -> None:
    """Refuse numbers that are none and text that hides something, anywhere in a record.

    Raises
    ------
    BadInput
        Names what holds it and the field.
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise BadInput(f"{what}: {field} is {value}: leave it out where it is not known")
    if isinstance(value, str):
        try:
            refuse_hidden(value, note=field in _NOTES)
        except BadInput as problem:
            raise BadInput(f"{what}: {field or 'name'} {problem}") from None
    for name, part in _parts(value, field):
        refuse_unstorable(what, part, name)


def _parts(value: Any, field: str) -> Iterable[tuple[str, Any]]:
    if dataclasses.is_dataclass(value):
        return ((part.name, getattr(value, part.name)) for part in dataclasses.fields(value))
    if isinstance(value, Mapping):
        return ((str(key), part) for item in value.items() for key, part in ((item[0], item[0]), item))
    if isinstance(value, tuple):
        return ((field, part) for part in value)
    return ()


_TEXTS: Final = attrgetter(*(name for name, column in COLUMNS.items() if column.type is str))
_NUMBERS: Final = attrgetter(
    *(name for name, column in COLUMNS.items() if column.type is float and not column.about.mark)
)


def _plain(record: LoudspeakerRecord) -> bool:
    """Whether all texts of a loudspeaker show and all its numbers are some, as is seen at once of nearly every one."""
    figures = record.figures
    if isinstance(figures, Stated):
        said = [figures.source, *figures.texts.values()]  # by columns, which all show
    else:
        told = figures.values()
        said = [*figures, *(text for figure in told for text in (figure.raw, figure.source, *figure.flags))]
    numbers = [number for number in _NUMBERS(record) if number is not None]
    numbers += (*(record.crossover or ()), *(record.tweeter_coverage or ()))
    return shows("".join([*filter(None, _TEXTS(record)), *said])) and all(map(math.isfinite, numbers))


def refuse_hidden_in(record: LoudspeakerRecord) -> None:
    """Refuse a loudspeaker with numbers that are none, or texts that hide something or are blank where none may be.

    Raises
    ------
    BadInput
        The record cannot be stored.
    """
    if not _plain(record):
        refuse_unstorable(repr(record.name), record)
    for part, text in zip(_NAMES, _names(record), strict=True):
        if text is not None and not _known_key(text):
            raise BadInput(f"{record.name!r}: {part} is blank")


_NAMES: Final = ("maker", "model", "series", "family")
_names: Final = attrgetter(*_NAMES)
_known_key: Final = lru_cache(10_000)(name_key)


def refuse_impossible(record: LoudspeakerRecord) -> None:
    """Refuse figures that the tables' CHECKs would refuse, naming loudspeaker and field.

    Raises
    ------
    BadInput
        The record cannot be stored.
    """
    for field, complaint in consistency.unstorable(values_of(record)):
        raise BadInput(f"{record.name!r}: {field} {complaint}")


scalars: Final[Callable[[LoudspeakerRecord], tuple[Any, ...]]] = attrgetter(*SCALARS)
"""Gives the values of `SCALARS` that a loudspeaker has."""

ROLE_ROW: Final = ("role",)


def role_rows(record: LoudspeakerRecord) -> tuple[tuple[Role], ...]:
    """Give one row a role, in the order of the roles."""
    return _role_rows(record.roles)


@lru_cache(1_000)
def _role_rows(roles: frozenset[Role]) -> tuple[tuple[Role], ...]:
    return tuple((role,) for role in Role if role in roles)


_OF_DRIVERS: Final = ("type", "material", "size", "count", *_SIDES)
DRIVER_ROW: Final = ("kind", *_OF_DRIVERS)


def driver_rows(record: LoudspeakerRecord) -> list[tuple[Any, ...]]:
    """Give one row for each kind of driver about which anything is known."""
    found = []
    for kind, told, places in _TOLD_OF_DRIVERS:
        values = told(record)
        if values != (None,) * len(values):
            *rest, coverage = places((*values, None))
            found.append((kind, *rest, *(coverage or (None, None))))
    return found


def _places(columns: Iterable[str]) -> Callable[[tuple[Any, ...]], tuple[Any, ...]]:
    """Where each column of a driver stands among those that its kind has; the last is None for what it hasn't."""
    known = list(columns)
    of_drivers = (*_OF_DRIVERS[: -len(_SIDES)], "coverage")
    return itemgetter(*(known.index(name) if name in known else len(known) for name in of_drivers))


_TOLD_OF_DRIVERS: Final[tuple[tuple[DriverKind, Callable[[Any], tuple[Any, ...]], Any], ...]] = tuple(
    (kind, attrgetter(*columns), _places(columns.values())) for kind, columns in DRIVERS.items()
)


CROSSOVER_ROW: Final = ("ordinal", "frequency", "order")


def crossover_rows(record: LoudspeakerRecord) -> list[tuple[int, float | None, int | None]]:
    """Give one row a hand-over; one without a frequency where only the order is known."""
    frequencies: tuple[float | None, ...] = record.crossover or ()
    if not frequencies and record.crossover_order is not None:
        frequencies = (None,)
    return [(ordinal, frequency, record.crossover_order) for ordinal, frequency in enumerate(frequencies, start=1)]


def said_of(figures: Mapping[str, Figure]) -> str:
    """Give as JSON what is said of each figure by where it comes from, its text alone where that is all."""
    if isinstance(figures, Stated):
        return _written({figures.source: figures.texts})
    said: dict[str, dict[str, Any]] = {}
    for name, one in figures.items():
        plain = one.evidence is Evidence.STATED and not one.flags
        told = one.raw if plain else (one.raw, one.evidence.value, one.flags)
        said.setdefault(one.source, {})[name] = told
    return _written(said)


_written: Final = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False).encode


def figures_said(said: Mapping[str, Mapping[str, Any]]) -> dict[str, Figure]:
    """Give the figures that `said_of` wrote, in order of their names."""
    found = {name: _figure(told, source) for source, figures in said.items() for name, told in figures.items()}
    return dict(sorted(found.items()))


def _figure(told: Any, source: str) -> Figure:
    if isinstance(told, str):
        return Figure(told, source)
    return Figure(told[0], source, Evidence(told[1]), tuple(told[2]))


def price_row(record: LoudspeakerRecord) -> dict[str, Any] | None:
    """Give the price and its terms, None where nothing is known of them."""
    currency = checked_currency(record.currency)
    amount = None if record.price is None else to_minor(record.price, currency)
    row = dict(zip(_PRICE.values(), _of_price(record), strict=True)) | {"amount": amount}
    return row if row != _NO_PRICE else None


_of_price: Final[Callable[[LoudspeakerRecord], tuple[Any, ...]]] = attrgetter(*_PRICE)
_NO_PRICE: Final[Row] = dict.fromkeys((*_PRICE.values(), "amount"))


def loudspeaker_record(
    base: Row,
    roles: Iterable[Role] = (),
    drivers: Iterable[Row] = (),
    crossovers: Sequence[Row] = (),
    price: Row | None = None,
    figures: Mapping[str, Figure] | None = None,
) -> LoudspeakerRecord:
    """Build the record from its rows; `base` has maker, series and family by name, `crossovers` rise."""
    values = {name: base[name] for name in ("maker", "series", "family", *SCALARS)}
    for row in drivers:
        values |= _driver_values(row)
    frequencies = tuple(row["frequency"] for row in crossovers if row["frequency"] is not None)
    values["crossover_order"] = crossovers[0]["order"] if crossovers else None
    if price is not None:
        values |= _price_values(price)
    if figures is not None:
        values["figures"] = figures
    return LoudspeakerRecord(**values, roles=frozenset(roles), crossover=frequencies or None)


def _driver_values(row: Row) -> dict[str, Any]:
    sides = tuple(row[side] for side in _SIDES)
    whole = {**row, "coverage": None if None in sides else sides}
    return {name: whole[column] for name, column in DRIVERS[row["kind"]].items()}


def _price_values(price: Row) -> dict[str, Any]:
    values = {name: price[column] for name, column in _PRICE.items()}
    amount, currency = price["amount"], price["currency"]
    return values | {"price": None if amount is None else to_amount(amount, currency)}


def room_row(room: RoomRecord) -> dict[str, Any]:
    """Give the room's own row, without its seats and places."""
    from triptych.catalog.database.models.room_tables import ROOM_SECTIONS

    row: dict[str, Any] = {"name": room.name, "name_key": name_key(room.name), "amplifier": room.amplifier is not None}
    for section in ROOM_SECTIONS:
        given = getattr(room, section.name)
        row |= {f"{section.name}_{key}": None if given is None else getattr(given, key) for key in section.keys}
    if room.money is not None:
        currency = checked_currency(room.money.currency)
        row["money_centre"] = None if room.money.centre is None else to_minor(room.money.centre, currency)
    return row


def part_rows(parts: Iterable[Seat | Place]) -> list[dict[str, Any]]:
    """Give one row a seat or a place, numbered as they come."""
    return [
        {"ordinal": ordinal, "name_key": name_key(part.name), **dataclasses.asdict(part)}
        for ordinal, part in enumerate(parts)
    ]


def room_record(base: Row, seats: Iterable[Row], places: Iterable[Row]) -> RoomRecord:
    """Build the record from its rows; `seats` and `places` come in their order."""
    from triptych.catalog.database.models.room_tables import ROOM_SECTIONS

    sections = {section.name: _section(section, base) for section in ROOM_SECTIONS}
    money = sections["money"]
    if money is not None and money.centre is not None:
        sections["money"] = dataclasses.replace(money, centre=to_amount(money.centre, money.currency))
    return RoomRecord(
        name=base["name"],
        seats=tuple(Seat(**{name: row[name] for name in SECTIONS["seat"].keys}) for row in seats),
        places=tuple(Place(**{name: row[name] for name in SECTIONS["place"].keys}) for row in places),
        **sections,
    )


def _section(section: Section, base: Row) -> Any:
    """The record of a section; None where the room has none, which shows in what could not be unknown."""
    values = {name: base[f"{section.name}_{name}"] for name in section.keys}
    told = base["amplifier"] if section.name == "amplifier" else None not in _sure(section, values)
    return section.record(**values) if told else None


def _sure(section: Section, values: Mapping[str, Any]) -> list[Any]:
    return [values[name] for name, key in section.keys.items() if not key.optional]


def refuse_impossible_room(room: RoomRecord) -> None:
    """Refuse a room without a name, with doubled names, or without exactly one primary seat.

    Raises
    ------
    BadInput
        The record cannot be stored.
    """
    refuse_unstorable(f"room {room.name!r}", room)
    if not name_key(room.name):
        raise BadInput("a room needs a name")
    if (primary := sum(seat.primary for seat in room.seats)) != 1:
        raise BadInput(f"room {room.name!r}: {primary} primary seats: mark exactly one seat primary")
    for what, names in (("seat", [seat.name for seat in room.seats]), ("place", [place.name for place in room.places])):
        keys = [name_key(name) for name in names]
        if doubled := [name for name, key in zip(names, keys, strict=True) if keys.count(key) > 1]:
            raise BadInput(f"room {room.name!r}: two of its {what}s are named {doubled[0]!r}")
