from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE, LAST, TOWER, made_quote, open_shop, shop_in
from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import writing
from triptych.catalog.database.measured_curves import Prepared, curves, save_curves
from triptych.catalog.database.models import Grade, Maker, Movement, MovementKind, Price
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.records import (
    CurveKind,
    CurveRecord,
    Figure,
    LoudspeakerRecord,
    MainsPosition,
    Orientation,
    Role,
    RoomRecord,
    Seat,
)
from triptych.catalog.stated_records import filled
from triptych.catalog.stock import desk, proof, quotes
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.grade_prices import grade_prices, set_grade_price
from triptych.catalog.stock.merging import Merged, merge_loudspeakers, remove_loudspeaker
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.reading import Entry, entries_of, stock_list
from triptych.catalog.stock.reordering import article_numbers, save_article, set_reorder_point, to_order
from triptych.catalog.stock.suppliers import save_supplier

SLIP = LoudspeakerRecord(
    "Oat Fell",
    "Centre",
    roles=frozenset({Role.CENTRE}),
    weight=9.5,
    figures={"weight": Figure("9.5 kg", "list.csv")},
)


@pytest.fixture
def session(engine: sa.Engine) -> Iterator[Session]:
    with writing(engine) as session:
        yield session


def _curve(kind: CurveKind) -> Prepared:
    record = CurveRecord(kind, (100.0, 1000.0), (80.0, 81.0), "lab.txt")
    return Prepared(record, version=1, per_octave=3, grid_first=0, grid=b"", bands=b"")


def _prices(session: Session, number: int) -> list[tuple[Any, ...]]:
    query = sa.select(Price.amount, Price.valid_from, Price.valid_to).where(Price.loudspeaker_id == number)
    return [tuple(row) for row in session.execute(query.order_by(Price.valid_from))]


def test_what_only_one_knows_goes_over_and_its_name_goes(session: Session) -> None:
    writes.save_loudspeakers(session, [replace(SLIP, price=Decimal(400), currency="EUR")], day=date(2026, 1, 2))
    writes.save_loudspeakers(session, [CENTRE], day=date(2026, 3, 4))
    save_curves(session, SLIP.name, [_curve(CurveKind.ON_AXIS), _curve(CurveKind.LISTENING_WINDOW)])
    save_curves(session, CENTRE.name, [_curve(CurveKind.ON_AXIS)])
    seats = (Seat("middle", 3.0, primary=True),)
    writes.save_room(
        session, RoomRecord("Mill", seats=seats, places=(), mains=MainsPosition(speaker="OAT FELL centre"))
    )
    merged = merge_loudspeakers(session, "oat fell centre", "OATFELL linden centre")
    assert merged == Merged(replace(CENTRE, weight=9.5), False, ("its curve on_axis", "its price from 2026-01-02"))
    [item] = [reads.stored(session, CENTRE.name)]
    assert item.record == replace(CENTRE, weight=9.5)
    assert item.record.figures["weight"] == Figure("9.5 kg", "list.csv")
    assert [one.record.kind for one in curves(session, CENTRE.name)] == [CurveKind.ON_AXIS, CurveKind.LISTENING_WINDOW]
    assert reads.room(session, "Mill").mains.speaker == CENTRE.name
    assert session.scalars(sa.select(Maker.name)).all() == ["Oatfell"]
    with pytest.raises(NotFound):
        reads.stored(session, SLIP.name)


def test_an_older_price_stays_a_price_of_its_time(session: Session) -> None:
    writes.save_loudspeakers(session, [replace(SLIP, price=Decimal(400), currency="EUR")], day=date(2026, 1, 2))
    writes.save_loudspeakers(session, [SLIP], day=date(2026, 2, 1))
    writes.save_loudspeakers(session, [CENTRE], day=date(2026, 3, 4))
    assert merge_loudspeakers(session, SLIP.name, CENTRE.name).lost == ()
    assert _prices(session, reads.number(session, CENTRE.name)) == [
        (40000, date(2026, 1, 2), date(2026, 2, 1)),
        (48000, date(2026, 3, 4), None),
    ]


def _lines(session: Session, number: int) -> list[Entry]:
    found = entries_of(session, Movement.loudspeaker_id == number, order=Movement.id)
    return [replace(entry, speaker="") for _, entry in found]


@pytest.mark.slow
def test_the_row_with_the_history_stays_under_the_other_name(session: Session) -> None:
    shop = open_shop(session, centres=3)
    quotes.accept(session, made_quote(session, "Mill", [Item(CENTRE.name, 1)])[0])
    writes.save_loudspeakers(session, [SLIP])
    before = _lines(session, shop.centre)
    assert not merge_loudspeakers(session, CENTRE.name, SLIP.name).kept
    item = reads.stored(session, SLIP.name)
    assert (item.id, item.record.maker, item.record.weight) == (shop.centre, "Oat Fell", 9.5)
    # what the name that stays did not know is taken over, its price too
    assert item.record.price == CENTRE.price
    assert _lines(session, shop.centre) == before
    assert stock.available(session, shop.centre) == 2
    assert [one.speaker for one in stock_list(session)] == ["Oat Fell Centre"]
    assert all(finding.holds for finding in proof.check(session))


@pytest.mark.whole
def test_two_histories_stay_two_and_the_first_is_retired_when_it_is_done(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1, last=1)
    with writing(engine) as session:
        number, _ = made_quote(session, "Mill", [Item(LAST.name, 1)])
    with writing(engine) as session, pytest.raises(Refused, match="there is 1 at shop and an open quote"):
        merge_loudspeakers(session, LAST.name, CENTRE.name)
    desk.sell(engine, Request(LAST.name, location="shop", quantity=1))
    with writing(engine) as session, pytest.raises(Refused, match="there is an open quote: sell"):
        merge_loudspeakers(session, LAST.name, CENTRE.name)
    desk.lapse_quote(engine, number)
    with writing(engine) as session:
        before = _lines(session, shop.last), _lines(session, shop.centre)
        assert merge_loudspeakers(session, LAST.name, CENTRE.name).kept
        assert (_lines(session, shop.last), _lines(session, shop.centre)) == before
        assert reads.stored(session, LAST.name).retired
        assert not reads.stored(session, CENTRE.name).retired
        assert all(finding.holds for finding in proof.check(session))


def test_a_loudspeaker_is_not_merged_with_itself(session: Session) -> None:
    writes.save_loudspeakers(session, [CENTRE])
    with pytest.raises(BadInput, match="are one loudspeaker already"):
        merge_loudspeakers(session, CENTRE.name, CENTRE.name.upper())


@pytest.mark.parametrize(
    ("known", "other", "filled_in"),
    [
        ({}, {"sensitivity": 88.0, "sensitivity_basis": None}, {"sensitivity": 88.0}),
        ({"sensitivity": 87.0}, {"sensitivity": 88.0, "sensitivity_basis": None}, {}),
        ({"width": 0.5}, {"orientation": Orientation.UPRIGHT, "height": 0.9, "depth": 0.2}, {"depth": 0.2}),
        ({}, {"orientation": Orientation.UPRIGHT, "height": 0.9}, {"orientation": Orientation.UPRIGHT, "height": 0.9}),
        # together they would be wrong, so nothing is taken
        ({"high_limit": 100.0}, {"low_limit": 200.0, "depth": 0.2}, {}),
        ({"price": Decimal(5), "currency": "EUR"}, {"tax_rate": 20.0}, {}),
    ],
)
def test_a_record_is_filled_with_what_fits(known: Any, other: Any, filled_in: Any) -> None:
    bare = replace(SLIP, weight=None, figures={})
    assert filled(replace(bare, **known), replace(bare, **other)) == replace(bare, **(known | filled_in))


def test_what_nothing_refers_to_can_be_removed(session: Session) -> None:
    writes.save_loudspeakers(session, [SLIP, TOWER])
    save_curves(session, SLIP.name, [_curve(CurveKind.ON_AXIS)])
    assert remove_loudspeaker(session, "OAT FELL centre") == SLIP
    assert [one.name for one in reads.loudspeakers(session)] == [TOWER.name]
    assert session.scalars(sa.select(Maker.name)).all() == ["Oatfell"]


def test_a_removal_is_refused_with_what_refers(session: Session) -> None:
    shop = open_shop(session, centres=1)
    made_quote(session, "Mill", [Item(TOWER.name, 2)])
    seats = (Seat("middle", 3.0, primary=True),)
    writes.save_room(session, RoomRecord("Mill", seats=seats, places=(), mains=MainsPosition(speaker=TOWER.name)))
    for name, told in ((CENTRE.name, "for the stock's ledger tells"), (TOWER.name, "for quotes and room 'Mill' tell")):
        with pytest.raises(Refused, match=told):
            remove_loudspeaker(session, name)
    stock.record_movement(session, shop.line(MovementKind.SELL))
    with pytest.raises(Refused, match="ledger"):
        remove_loudspeaker(session, CENTRE.name)


def _two(session: Session) -> tuple[str, str]:
    writes.save_loudspeakers(session, [CENTRE, SLIP])
    save_supplier(session, "Harbour")
    return SLIP.name, CENTRE.name


@pytest.mark.whole
def test_articles_points_and_prices_of_grades_go_along(session: Session) -> None:
    goes, stays = _two(session)
    save_article(session, goes, "HT-20", "Harbour", "oak")
    save_article(session, goes, "OF-1")
    save_article(session, stays, "HT-21", "Harbour", "oak")
    set_reorder_point(session, goes, 2, 4)
    set_reorder_point(session, goes, 1, 2, "oak")
    set_reorder_point(session, stays, 1, 2, "OAK")
    set_grade_price(session, goes, Grade.DEMO, 40000, "EUR")
    merged = merge_loudspeakers(session, goes, stays)
    assert merged.told == (f"article HT-20 is {CENTRE.name} too, as HT-21 is",)
    assert [(one.number, one.speaker) for one in article_numbers(session)] == [
        (number, CENTRE.name) for number in ("OF-1", "HT-20", "HT-21")
    ]
    points = [(one.speaker, one.finish, one.least, one.up_to) for one in to_order(session, every=True)]
    assert points == [(CENTRE.name, None, 2, 4), (CENTRE.name, "OAK", 1, 2)]
    assert [(one.speaker, one.grade) for one in grade_prices(session)] == [(CENTRE.name, "demo")]


@pytest.mark.whole
def test_they_go_along_where_the_one_keeps_its_history(session: Session) -> None:
    goes, stays = _two(session)
    for name in (goes, stays):
        number = reads.stored(session, name).id
        stock.record_movement(session, stock.MovementLine(number, MovementKind.RECEIVE, 1, "shop"))
        stock.record_movement(session, stock.MovementLine(number, MovementKind.SELL, 1, "shop"))
    save_article(session, goes, "OF-1")
    set_reorder_point(session, goes, 2, 4)
    assert merge_loudspeakers(session, goes, stays).kept
    assert [one.speaker for one in article_numbers(session)] == [CENTRE.name]
    assert [one.speaker for one in to_order(session, every=True)] == [CENTRE.name]


def test_two_points_or_prices_that_say_two_things_are_refused(session: Session) -> None:
    goes, stays = _two(session)
    set_reorder_point(session, goes, 2, 4)
    set_reorder_point(session, stays, 3, 6)
    with pytest.raises(
        Refused, match="a reorder point of at least 2 up to 4 and a reorder point of at least 3 up to 6"
    ):
        merge_loudspeakers(session, goes, stays)
    set_reorder_point(session, goes, 0, 0)
    set_grade_price(session, goes, Grade.DEMO, 40000, "EUR")
    set_grade_price(session, stays, Grade.DEMO, 38000, "EUR")
    with pytest.raises(Refused, match=r"a price of demo, 400\.00 EUR each and a price of demo, 380\.00 EUR each"):
        merge_loudspeakers(session, goes, stays)
    assert reads.stored(session, goes), "nothing was changed"
