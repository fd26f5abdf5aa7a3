"""Generated loudspeakers and rooms that an exchange file can state."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from enum import Enum
from typing import Any
from unicodedata import normalize

from hypothesis import strategies as st

from triptych.catalog import consistency
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, LOUDSPEAKER, ROOM_QUANTITIES, Field
from triptych.catalog.files.loudspeakers import Reading
from triptych.catalog.names import clean_name
from triptych.catalog.numbers import SMALLEST, is_unknown
from triptych.catalog.problems import refuse
from triptych.catalog.quantities import Kind, Quantity
from triptych.catalog.records import (
    Amplifier,
    Back,
    Floor,
    Hot,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Place,
    PlaceKind,
    PricePer,
    Role,
    RoomRecord,
    Screen,
    Seat,
    SensitivityBasis,
    SoldAs,
    WallKind,
)
from triptych.catalog.stated_records import values_of

AWKWARD = [
    "=1+1",
    '7" Tower',
    "O'Hara, Sons",
    "#N/A",
    "+44",
    "-3",
    "@x",
    "007",
    "1/2",
    "TRUE",
    "_x0041_",
    "a;b",
    "𝄞",
    "ß",
    "1e5",
]


def is_clean(text: str) -> bool:
    try:
        return clean_name(text) == text and not is_unknown(text)
    except BadInput:
        return False


_PRINTING = st.characters(codec="utf-8", categories=["L", "N", "P", "S"])
NAMES = st.one_of(
    st.sampled_from(AWKWARD),
    st.text(_PRINTING, min_size=1, max_size=12).map(lambda text: normalize("NFC", text)).filter(is_clean),
)
NOTES = st.one_of(
    st.sampled_from([*AWKWARD, "two\nlines", 'says "no"', "a\tb", "a,b;c", "=HYPERLINK(1)"]),
    st.text(_PRINTING | st.just(" "), min_size=1, max_size=30)
    .map(str.strip)
    .filter(lambda text: bool(text) and not is_unknown(text)),
)
MONEY = st.decimals(min_value="0.01", max_value=99_999, places=2)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def numbers(quantity: Quantity) -> st.SearchStrategy[Any]:
    if quantity.kind is Kind.COUNT:
        return st.integers(int(quantity.low), int(quantity.high))
    # the file and the database know one zero, and nothing so near to it that nobody could write it
    figures = st.floats(quantity.low, quantity.high).map(lambda value: value + 0.0)
    return figures.filter(lambda value: not 0 < abs(value) < SMALLEST)


def _rising(values: list[float]) -> tuple[float, ...]:
    return tuple(sorted(set(values)))


_OTHERS: dict[str, st.SearchStrategy[Any]] = {
    "low_limit_drop": st.sampled_from([3.0, 6.0, 10.0]),
    "tweeter_coverage": st.tuples(numbers(LOUDSPEAKER["tweeter_coverage"]), numbers(LOUDSPEAKER["tweeter_coverage"])),
    "crossover": st.lists(numbers(LOUDSPEAKER["crossover"]), min_size=1, max_size=3).map(_rising),
    "layout": st.sampled_from(["TM", "MTM", "W(T/M)W", "W(TM)W", "TMWW", "WMTMW", "BM(T/M)MB"]),
    "bung": st.booleans(),
    "price": MONEY,
    "currency": st.sampled_from(["EUR", "GBP", "USD"]),
    "note": NOTES,
}


def _strategy(column: Field) -> st.SearchStrategy[Any]:
    if column.name in _OTHERS:
        return _OTHERS[column.name]
    if column.quantity is not None:
        return numbers(column.quantity)
    return st.sampled_from(column.type) if issubclass(column.type, Enum) else NAMES


def _consistent(record: LoudspeakerRecord) -> LoudspeakerRecord:
    """Empty every cell that contradicts another, and fill what the format asks for beside another."""
    if record.series is not None and record.family is None:
        record = replace(record, family="Own Voice")
    if record.sensitivity is not None and record.sensitivity_basis is None:
        record = replace(record, sensitivity_basis=SensitivityBasis.IN_ROOM)
    if record.price is not None and record.currency is None:
        record = replace(record, currency="EUR")
    if record.price is not None and record.sold_as is SoldAs.PAIR and record.price_per is None:
        record = replace(record, price_per=PricePer.PAIR)
    while faults := consistency.faults(values_of(record)):
        empty: dict[str, Any] = dict.fromkeys(name for name, _ in faults)
        # roles are required: what is too long for a centre alone serves as a main too
        empty |= {"roles": record.roles | {Role.MAIN}} if "roles" in empty else {}
        record = replace(record, **empty)
    return record


@st.composite
def loudspeakers(draw: st.DrawFn) -> LoudspeakerRecord:
    values: dict[str, Any] = {
        "maker": draw(NAMES),
        "model": draw(NAMES),
        "series": draw(maybe(NAMES)),
        "family": draw(maybe(NAMES)),
        "roles": draw(st.frozensets(st.sampled_from(Role), min_size=1)),
    }
    values |= {name: draw(maybe(_strategy(column))) for name, column in COLUMNS.items() if name not in values}
    return _consistent(LoudspeakerRecord(**values))


CATALOGUES = st.lists(loudspeakers(), max_size=3, unique_by=lambda record: name_key(record.name))


def _section(record: type[Any], section: str, **others: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    given = {
        field.name: maybe(numbers(ROOM_QUANTITIES[f"{section}.{field.name}"]))
        for field in fields(record)
        if field.name not in others
    }
    return st.builds(record, **given, **others)


SCREENS = st.one_of(
    _section(Screen, "screen", diagonal=st.none(), aspect=st.none(), height=st.none(), transparent=st.booleans()),
    _section(
        Screen, "screen", width=st.none(), height=st.none(), diagonal=numbers(ROOM_QUANTITIES["screen.diagonal"]),
        aspect=st.sampled_from(["16:9", "2.39:1", "2.35"]), transparent=st.booleans(),
    ),
)  # fmt: skip
SEATS = _section(
    Seat, "seat", name=NAMES, x=numbers(ROOM_QUANTITIES["seat.x"]), distance=numbers(ROOM_QUANTITIES["seat.distance"]),
    primary=st.just(False), regular=st.booleans(),
)  # fmt: skip
PLACES = _section(
    Place, "place", name=NAMES, kind=st.sampled_from(PlaceKind), back=maybe(st.sampled_from(Back)),
    hot=st.sampled_from(Hot), wall=maybe(st.sampled_from(WallKind)),
)  # fmt: skip


@st.composite
def rooms(draw: st.DrawFn) -> RoomRecord:
    seats = draw(st.lists(SEATS, min_size=1, max_size=3, unique_by=lambda seat: name_key(seat.name)))
    primary = draw(st.sampled_from(range(len(seats))))
    return RoomRecord(
        name=draw(NAMES),
        seats=tuple(replace(seat, primary=index == primary) for index, seat in enumerate(seats)),
        places=tuple(draw(st.lists(PLACES, max_size=3, unique_by=lambda place: name_key(place.name)))),
        screen=draw(maybe(SCREENS)),
        mains=draw(_section(MainsPosition, "mains", speaker=maybe(NAMES), floor=maybe(st.sampled_from(Floor)))),
        amplifier=draw(maybe(_section(Amplifier, "amplifier"))),
        listening=draw(_section(Listening, "listening", needs_real_centre=st.booleans())),
        money=draw(maybe(st.builds(
            Money, centre=maybe(MONEY | st.just(Decimal(0))), currency=st.sampled_from(["EUR", "USD"]),
            tax_included=st.booleans(),
        ))),
    )  # fmt: skip


def all_or_nothing(reading: Reading) -> tuple[LoudspeakerRecord, ...]:
    """The records of a file, or BadInput with every problem."""
    refuse(reading.problems)
    return reading.records
