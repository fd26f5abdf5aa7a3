"""Any record that the catalogue may hold, for property tests."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from triptych.catalog.database.models.loudspeaker_tables import NOT_NEGATIVE, POSITIVE
from triptych.catalog.database.rows import name_key
from triptych.catalog.money import minor_digits
from triptych.catalog.records import (
    Amplifier,
    Back,
    Enclosure,
    Evidence,
    Figure,
    Hot,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Orientation,
    Place,
    PlaceKind,
    PortLocation,
    PricePer,
    Role,
    RoomRecord,
    Screen,
    Seat,
    SensitivityBasis,
    SoldAs,
    Status,
    Tax,
    TweeterType,
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


@st.composite
def loudspeaker_records(draw: st.DrawFn) -> LoudspeakerRecord:
    scalars = {name: draw(maybe(above_zero)) for name in POSITIVE}
    scalars |= {name: draw(maybe(zero_or_more)) for name in NOT_NEGATIVE}
    for low, high, least in (("low_limit", "high_limit", 2), ("amplifier_min", "amplifier_max", 1)):
        if scalars[low] is not None and scalars[high] is not None:
            scalars[high] = max(scalars[high], scalars[low] * least)
    frequencies = st.sets(above_zero, min_size=1, max_size=4).map(lambda found: tuple(sorted(found)))
    angles = st.floats(0, 360, exclude_min=True)
    figures = st.builds(Figure, texts, texts, st.sampled_from(Evidence), st.lists(texts, max_size=2).map(tuple))
    return LoudspeakerRecord(
        maker=draw(names),
        model=draw(names),
        series=draw(maybe(names)),
        family=draw(maybe(names)),
        roles=draw(st.frozensets(st.sampled_from(Role))),
        orientation=draw(maybe(st.sampled_from(Orientation))),
        enclosure=draw(maybe(st.sampled_from(Enclosure))),
        port_location=draw(maybe(st.sampled_from(PortLocation))),
        bung=draw(maybe(st.booleans())),
        sensitivity_basis=draw(maybe(st.sampled_from(SensitivityBasis))),
        tweeter_type=draw(maybe(st.sampled_from(TweeterType))),
        tweeter_size=draw(maybe(above_zero)),
        tweeter_material=draw(maybe(texts)),
        tweeter_coverage=draw(maybe(st.tuples(angles, angles))),
        midrange_size=draw(maybe(above_zero)),
        midrange_count=draw(maybe(counts)),
        woofer_size=draw(maybe(above_zero)),
        woofer_count=draw(maybe(counts)),
        layout=draw(maybe(texts)),
        crossover=draw(maybe(frequencies)),
        crossover_order=draw(maybe(st.integers(1, 8))),
        sold_as=draw(maybe(st.sampled_from(SoldAs))),
        status=draw(maybe(st.sampled_from(Status))),
        note=draw(maybe(texts)),
        figures=draw(st.dictionaries(names, figures, max_size=3)),
        **scalars,
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
