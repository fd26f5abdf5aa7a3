"""Plain records to rows and back. Pure: no session, no clock. What cannot be stored exactly is refused here."""

from __future__ import annotations

import dataclasses
import math
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, Final

from triptych.catalog.database.models.loudspeaker_tables import NOT_NEGATIVE, POSITIVE, DriverKind, Loudspeaker
from triptych.catalog.errors import BadInput
from triptych.catalog.money import checked_currency, to_amount, to_minor
from triptych.catalog.records import (
    Amplifier,
    Figure,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Place,
    Role,
    RoomRecord,
    Screen,
    Seat,
)

Row = Mapping[Any, Any]

SCALARS: Final = tuple(
    field.name
    for field in dataclasses.fields(LoudspeakerRecord)
    if field.name in Loudspeaker.__table__.columns and field.name != "model"
)
"""The fields of a loudspeaker that are columns of the same name; the order is that of the record."""

_DRIVER_COLUMNS: Final = ("size", "count", "type", "material", "coverage_horizontal", "coverage_vertical")


def name_key(*parts: str | None) -> str:
    """Give the text by which names are compared: without case, with single blanks.

    >>> name_key("Oatfell", None, " LINDEN  Tower")
    'oatfell linden tower'
    """
    name = unicodedata.normalize("NFKC", " ".join(part for part in parts if part)).casefold()
    return " ".join(unicodedata.normalize("NFKC", name).split())


def refuse_unstorable(what: str, value: Any, field: str = "") -> None:
    """Refuse numbers that are none and text that a database cannot hold, anywhere in a record.

    Raises
    ------
    BadInput
        Names what holds it and the field.
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise BadInput(f"{what}: {field} is {value}: leave it out where it is not known")
    if isinstance(value, str) and ("\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value)):
        raise BadInput(f"{what}: {field} holds a character that no text has: {value!r}")
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


def refuse_impossible(record: LoudspeakerRecord) -> None:
    """Refuse what the tables' CHECKs would refuse, naming loudspeaker and field.

    Raises
    ------
    BadInput
        The record cannot be stored.
    """
    name = record.name
    refuse_unstorable(repr(name), record)
    for part, text in (("maker", record.maker), ("model", record.model), ("series", record.series)):
        if text is not None and not name_key(text):
            raise BadInput(f"{name!r}: {part} is blank")
    if record.family is not None and not name_key(record.family):
        raise BadInput(f"{name!r}: family is blank")
    for field in (*POSITIVE, *NOT_NEGATIVE, "tweeter_size", "midrange_size", "woofer_size"):
        _refuse_sign(name, field, getattr(record, field), above=field not in NOT_NEGATIVE)
    _refuse_counts(record)
    _refuse_order(name, "low_limit", record.low_limit, "high_limit", record.high_limit, strict=True)
    _refuse_order(name, "amplifier_min", record.amplifier_min, "amplifier_max", record.amplifier_max, strict=False)
    _refuse_crossover(name, record.crossover)
    if record.tax_rate is not None and not 0 <= record.tax_rate <= 100:
        raise BadInput(f"{name!r}: tax_rate is {record.tax_rate:g}: must be from 0 to 100 %")


def _refuse_sign(name: str, field: str, value: float | None, *, above: bool) -> None:
    if value is not None and (value < 0 or (above and value == 0)):
        raise BadInput(f"{name!r}: {field} is {value:g}: must be {'above zero' if above else 'zero or more'}")


def _refuse_counts(record: LoudspeakerRecord) -> None:
    for field in ("midrange_count", "woofer_count"):
        count = getattr(record, field)
        if count is not None and not 0 <= count <= 1000:
            raise BadInput(f"{record.name!r}: {field} is {count}: must be from 0 to 1000")
    if record.crossover_order is not None and not 1 <= record.crossover_order <= 8:
        raise BadInput(f"{record.name!r}: crossover_order is {record.crossover_order}: must be from 1 to 8")
    if record.tweeter_coverage is not None and not all(0 < angle <= 360 for angle in record.tweeter_coverage):
        raise BadInput(
            f"{record.name!r}: tweeter_coverage is {record.tweeter_coverage}: must be above 0, up to 360 deg"
        )


def _refuse_order(name: str, low: str, lower: float | None, high: str, upper: float | None, *, strict: bool) -> None:
    if lower is not None and upper is not None and (lower > upper or (strict and lower == upper)):
        raise BadInput(f"{name!r}: {low} is {lower:g} and {high} is {upper:g}: {low} must be the smaller")


def _refuse_crossover(name: str, crossover: tuple[float, ...] | None) -> None:
    if crossover is None:
        return
    if not crossover:
        raise BadInput(f"{name!r}: crossover holds no frequency: leave it out where it is not known")
    if crossover[0] <= 0 or any(low >= high for low, high in pairwise(crossover)):
        raise BadInput(f"{name!r}: crossover is {crossover}: frequencies must be above zero and rise")


def scalar_row(record: LoudspeakerRecord) -> dict[str, Any]:
    """Give the loudspeaker's own columns that need no other table."""
    return {"model": record.model, **{name: getattr(record, name) for name in SCALARS}}


def role_rows(record: LoudspeakerRecord) -> list[dict[str, Any]]:
    """Give one row a role, in the order of the roles."""
    return [{"role": role} for role in Role if role in record.roles]


def driver_rows(record: LoudspeakerRecord) -> list[dict[str, Any]]:
    """Give one row for each kind of driver about which anything is known."""
    horizontal, vertical = record.tweeter_coverage or (None, None)
    known = {
        DriverKind.TWEETER: (
            record.tweeter_size,
            None,
            record.tweeter_type,
            record.tweeter_material,
            horizontal,
            vertical,
        ),
        DriverKind.MIDRANGE: (record.midrange_size, record.midrange_count, None, None, None, None),
        DriverKind.WOOFER: (record.woofer_size, record.woofer_count, None, None, None, None),
    }
    return [
        {"kind": kind, **dict(zip(_DRIVER_COLUMNS, values, strict=True))}
        for kind, values in known.items()
        if any(value is not None for value in values)
    ]


def crossover_rows(record: LoudspeakerRecord) -> list[dict[str, Any]]:
    """Give one row a hand-over; one without a frequency where only the order is known."""
    frequencies: tuple[float | None, ...] = record.crossover or ()
    if not frequencies and record.crossover_order is not None:
        frequencies = (None,)
    return [
        {"ordinal": ordinal, "frequency": frequency, "order": record.crossover_order}
        for ordinal, frequency in enumerate(frequencies, start=1)
    ]


def price_row(record: LoudspeakerRecord) -> dict[str, Any] | None:
    """Give the price and its terms, None where nothing is known of them."""
    currency = checked_currency(record.currency)
    amount = None if record.price is None else to_minor(record.price, currency)
    row = {
        "amount": amount,
        "currency": currency,
        "per": record.price_per,
        "tax": record.tax,
        "tax_rate": record.tax_rate,
    }
    return row if any(value is not None for value in row.values()) else None


def figure_basis(record: LoudspeakerRecord, quantity: str) -> str | None:
    """Give the condition that a figure holds under, where the record states one."""
    if quantity == "sensitivity" and record.sensitivity_basis is not None:
        return record.sensitivity_basis.value
    if quantity == "low_limit" and record.low_limit_drop is not None:
        return f"-{record.low_limit_drop:g} dB"
    if quantity in ("width", "height", "axis_height") and record.orientation is not None:
        return record.orientation.value
    if quantity == "price" and record.price_per is not None:
        return record.price_per.value
    return None


def loudspeaker_record(
    base: Row,
    roles: Iterable[Role] = (),
    drivers: Iterable[Row] = (),
    crossovers: Sequence[Row] = (),
    price: Row | None = None,
    figures: Mapping[str, Figure] | None = None,
) -> LoudspeakerRecord:
    """Build the record from its rows; `base` has maker, series and family by name, `crossovers` rise."""
    kinds: dict[DriverKind, Row] = {row["kind"]: row for row in drivers}
    tweeter, midrange, woofer = (kinds.get(kind, {}) for kind in DriverKind)
    coverage = (tweeter.get("coverage_horizontal"), tweeter.get("coverage_vertical"))
    frequencies = tuple(row["frequency"] for row in crossovers if row["frequency"] is not None)
    terms = price or {}
    amount, currency = terms.get("amount"), terms.get("currency")
    given: dict[str, Any] = {} if figures is None else {"figures": figures}
    return LoudspeakerRecord(
        **{name: base[name] for name in ("maker", "series", "family", "model", *SCALARS)},
        roles=frozenset(roles),
        tweeter_type=tweeter.get("type"),
        tweeter_size=tweeter.get("size"),
        tweeter_material=tweeter.get("material"),
        tweeter_coverage=None if coverage[0] is None or coverage[1] is None else (coverage[0], coverage[1]),
        midrange_size=midrange.get("size"),
        midrange_count=midrange.get("count"),
        woofer_size=woofer.get("size"),
        woofer_count=woofer.get("count"),
        crossover=frequencies or None,
        crossover_order=crossovers[0]["order"] if crossovers else None,
        price=None if amount is None else to_amount(amount, currency),
        price_per=terms.get("per"),
        currency=currency,
        tax=terms.get("tax"),
        tax_rate=terms.get("tax_rate"),
        **given,
    )


_ROOM_SECTIONS: Final[dict[str, type]] = {
    "screen": Screen,
    "mains": MainsPosition,
    "amplifier": Amplifier,
    "listening": Listening,
    "money": Money,
}


def _names(kind: type) -> list[str]:
    return [field.name for field in dataclasses.fields(kind)]


def room_row(room: RoomRecord) -> dict[str, Any]:
    """Give the room's own row, without its seats and places."""
    row: dict[str, Any] = {"name": room.name, "name_key": name_key(room.name), "amplifier": room.amplifier is not None}
    for section, kind in _ROOM_SECTIONS.items():
        given = getattr(room, section)
        row |= {f"{section}_{name}": None if given is None else getattr(given, name) for name in _names(kind)}
    if room.money is not None:
        currency = checked_currency(room.money.currency)
        row["money_centre"] = None if room.money.centre is None else to_minor(room.money.centre, currency)
    return row


def part_rows(parts: Iterable[Seat | Place]) -> list[dict[str, Any]]:
    """Give one row a seat or a place, numbered as they come."""
    return [
        {"ordinal": ordinal, "name_key": name_key(part.name), **_fields(part)} for ordinal, part in enumerate(parts)
    ]


def _fields(part: Seat | Place) -> dict[str, Any]:
    return {name: getattr(part, name) for name in _names(type(part))}


def room_record(base: Row, seats: Iterable[Row], places: Iterable[Row]) -> RoomRecord:
    """Build the record from its rows; `seats` and `places` come in their order."""

    def section(name: str, kind: type) -> Any:
        return kind(**{field: base[f"{name}_{field}"] for field in _names(kind)})

    money = None
    if base["money_tax_included"] is not None:
        minor, currency = base["money_centre"], base["money_currency"]
        centre = None if minor is None else to_amount(minor, currency)
        money = Money(centre=centre, currency=currency, tax_included=base["money_tax_included"])
    return RoomRecord(
        name=base["name"],
        seats=tuple(Seat(**{name: row[name] for name in _names(Seat)}) for row in seats),
        places=tuple(Place(**{name: row[name] for name in _names(Place)}) for row in places),
        screen=None if base["screen_transparent"] is None else section("screen", Screen),
        mains=section("mains", MainsPosition),
        amplifier=section("amplifier", Amplifier) if base["amplifier"] else None,
        listening=section("listening", Listening),
        money=money,
    )


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
