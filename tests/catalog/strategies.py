"""Any record that the catalogue may hold, for property tests."""

from __future__ import annotations

from decimal import Decimal
from enum import Enum
from typing import Any, get_args, get_origin

from hypothesis import strategies as st

from triptych.catalog.database.rows import name_key
from triptych.catalog.fields import COLUMNS, Field
from triptych.catalog.money import minor_digits
from triptych.catalog.records import (
    Amplifier,
    Back,
    Evidence,
    Figure,
    Hot,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Place,
    PlaceKind,
    PricePer,
    RoomRecord,
    Screen,
    Seat,
    Tax,
    WallKind,
)

texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
names = texts.filter(name_key)
above_zero = st.floats(min_value=0, max_value=1e6, exclude_min=True, allow_nan=False)
zero_or_more = st.floats(min_value=0, max_value=1e6, allow_nan=False)
signed = st.floats(min_value=-1e3, max_value=1e3, allow_nan=False)
counts = st.integers(0, 1000)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


@st.composite
def prices(draw: st.DrawFn) -> dict[str, Any]:
    currency = draw(st.sampled_from([None, "EUR", "GBP", "JPY", "KWD", "CLF", "USD"]))
    minor = draw(maybe(st.integers(0, 10**9)))
    return {
        "currency": currency,
        "price": None if minor is None else Decimal(minor).scaleb(-minor_digits(currency)),
        "price_per": draw(maybe(st.sampled_from(PricePer))),
        "tax": draw(maybe(st.sampled_from(Tax))),
        "tax_rate": draw(maybe(st.floats(0, 100))),
    }


def _storable(column: Field) -> st.SearchStrategy[Any]:
    """Whatever a column may hold, told by its description alone, so that a new column is tried unasked."""
    kind, many = column.type, get_origin(column.type)
    if many is frozenset:
        return st.frozensets(st.sampled_from(get_args(kind)[0]))
    if many is tuple and Ellipsis in get_args(kind):
        return st.sets(above_zero, min_size=1, max_size=4).map(lambda found: tuple(sorted(found)))
    if many is tuple:
        return st.tuples(*[_numbers(column)] * 2)
    if kind in (float, int):
        return _numbers(column)
    if kind is bool:
        return st.booleans()
    return st.sampled_from(kind) if issubclass(kind, Enum) else texts


def _numbers(column: Field) -> st.SearchStrategy[Any]:
    above, most = column.check == "> 0", column.about.most or 1e6
    if column.type is int:
        return st.integers(int(above), int(most))
    least = 0.0 if column.check else -1e3
    return st.floats(least, most, exclude_min=above, allow_nan=False)


@st.composite
def loudspeaker_records(draw: st.DrawFn) -> LoudspeakerRecord:
    apart = {"maker", "model", "series", "family", "roles", "price", "currency", "price_per", "tax", "tax_rate"}
    values = {name: draw(maybe(_storable(column))) for name, column in COLUMNS.items() if name not in apart}
    for low, high, least in (("low_limit", "high_limit", 2), ("amplifier_min", "amplifier_max", 1)):
        if values[low] is not None and values[high] is not None:
            values[high] = max(values[high], values[low] * least)
    figures = st.builds(Figure, texts, texts, st.sampled_from(Evidence), st.lists(texts, max_size=2).map(tuple))
    return LoudspeakerRecord(
        maker=draw(names),
        model=draw(names),
        series=draw(maybe(names)),
        family=draw(maybe(names)),
        roles=draw(_storable(COLUMNS["roles"])),
        figures=draw(st.dictionaries(names, figures, max_size=3)),
        **values,
        **draw(prices()),
    )


@st.composite
def room_records(draw: st.DrawFn) -> RoomRecord:
    length, size = maybe(zero_or_more), maybe(above_zero)
    seat_names = draw(st.lists(names, min_size=1, max_size=4, unique_by=name_key))
    place_names = draw(st.lists(names, max_size=4, unique_by=name_key))
    primary = draw(st.integers(0, len(seat_names) - 1))
    seats = tuple(
        Seat(name, draw(above_zero), draw(signed), draw(size), number == primary, draw(st.booleans()))
        for number, name in enumerate(seat_names)
    )
    places = tuple(
        draw(
            st.builds(
                Place,
                st.just(name),
                st.sampled_from(PlaceKind),
                size,
                size,
                size,
                length,
                length,
                maybe(st.sampled_from(Back)),
                length,
                st.sampled_from(Hot),
                maybe(st.sampled_from(WallKind)),
                length,
                maybe(signed),
            )
        )
        for name in place_names
    )
    price = draw(prices())
    return RoomRecord(
        name=draw(names),
        seats=seats,
        places=places,
        screen=draw(maybe(st.builds(Screen, size, size, size, maybe(texts), length, st.booleans()))),
        mains=draw(st.builds(MainsPosition, maybe(texts), size, length, maybe(signed), length)),
        amplifier=draw(maybe(st.builds(Amplifier, size, size, size, length))),
        listening=draw(st.builds(Listening, maybe(signed), maybe(signed), st.booleans())),
        money=draw(maybe(st.just(Money(price["price"], price["currency"], draw(st.booleans()))))),
    )
