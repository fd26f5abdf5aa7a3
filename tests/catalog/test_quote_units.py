"""Which units a quote promises and sells, and at what price and cost each."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE, LAST, LATER, TOWER, Shop, made_quote, shop_in
from triptych.catalog import stock
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade, Movement, MovementKind, SupplierPrice
from triptych.catalog.errors import BadInput, CatalogError, Refused
from triptych.catalog.stock import operations, quotes
from triptych.catalog.stock.cost_memory import costs_of
from triptych.catalog.stock.costs import NEW, Sort, layers
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.quotes import Item
from triptych.catalog.stock.suppliers import save_supplier, supplier_named

TODAY = datetime.now(UTC).date()


def _receive(session: Session, shop: Shop, *serials: str | None, **fields: Any) -> None:
    for serial in serials:
        stock.record_movement(session, shop.line(serial=serial, **fields))


def _quote(session: Session, *items: Item) -> int:
    return made_quote(session, "Mill House", items)[0]


def _moved(session: Session, numbers: list[int]) -> list[tuple[int, str | None]]:
    found = session.execute(sa.select(Movement.quantity, Movement.serial).where(Movement.id.in_(numbers)))
    return sorted((row[0], row[1] or "") for row in found)


def _sold(session: Session, number: int) -> list[tuple[int, int | None, str | None]]:
    query = sa.select(Movement.quantity, Movement.amount, Movement.serial).where(
        Movement.quote_id == number, Movement.kind == MovementKind.SELL
    )
    return [(row[0], row[1], row[2]) for row in session.execute(query.order_by(Movement.id))]


@pytest.mark.whole
def test_units_that_have_serials_are_sold_by_a_quote(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        _receive(session, shop, "B2", "A1")
        number = _quote(session, Item(CENTRE.name, 1))
        assert _moved(session, quotes.accept(session, number)) == [(1, "B2")], "the oldest received"
        quotes.sell(session, number)
        assert _sold(session, number) == [(1, 40000, "B2")]
        assert offers(session, number)[0].state == "sold"
        assert all(finding.holds for finding in check(session))


def test_serials_are_named_when_a_quote_is_accepted(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        _receive(session, shop, "A1", "A2", "A3")
        number = _quote(session, Item(CENTRE.name, 2))
        for serials, told in (
            (["B9"], "free are 'A1', 'A2', 'A3'"),
            (["A1", "A2", "A3"], "more serials are named"),
            (["A1", "A1"], "named twice"),
            ([" "], "blank"),
        ):
            with pytest.raises(BadInput, match=told):
                quotes.accept(session, number, serials=serials)
        # plain ones go before those that have serials, but for what is named
        assert _moved(session, quotes.accept(session, number, serials=["A2"])) == [(1, ""), (1, "A2")]
        other = _quote(session, Item(CENTRE.name, 1))
        with pytest.raises(BadInput, match="free are 'A1', 'A3'"):
            quotes.accept(session, other, serials=["A2"])


def test_a_serial_is_named_when_a_quote_is_sold(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        _receive(session, shop, "A1", "A2", "A3")
        number = _quote(session, Item(CENTRE.name, 1))
        quotes.accept(session, number)
        stock.record_movement(session, shop.line(MovementKind.RESERVE, serial="A2", job="K", until=LATER))
        with pytest.raises(BadInput, match="'A2' is not among what is kept"):
            quotes.sell(session, number, serials=["A2"])
        quotes.sell(session, number, serials=["A3"])
        assert _sold(session, number) == [(1, 40000, "A3")]
        assert stock.level(session, shop.line()) == stock.Level(2, 1)
        assert all(finding.holds for finding in check(session))


@pytest.mark.whole
def test_what_was_kept_without_a_serial_goes_out_with_one_where_only_such_are_left(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=2)
    with writing(engine) as session:
        number = _quote(session, Item(CENTRE.name, 2))
        quotes.accept(session, number)
        _receive(session, shop, "A2", "A1")
        stock.record_movement(session, shop.line(MovementKind.SELL))
        quotes.sell(session, number)
        assert _sold(session, number) == [(1, 40000, None), (1, 40000, "A2")]
        assert all(finding.holds for finding in check(session))


@pytest.mark.whole
def test_the_singles_of_a_split_pair_are_quoted_singly(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=4)
    with writing(engine) as session:
        operations.split(session, shop.line(loudspeaker_id=shop.tower), ["7A", "7B"])
        number, remarks = made_quote(session, "J", [Item(TOWER.name, 1)])
        assert "at half the price of a pair" in remarks[0]
        assert _moved(session, quotes.accept(session, number, serials=["7B"])) == [(1, "7B")]
        quotes.sell(session, number)
        # a pair is 1200 with 20 % tax in it
        assert _sold(session, number) == [(1, 50000, "7B")]
        assert float(offers(session, number)[0].total) == 600
        with pytest.raises(Refused, match=r"1 available; .*single ones of what is sold in pairs are not ordered"):
            _quote(session, Item(TOWER.name, 2, single=True))
        operations.split(session, shop.line(loudspeaker_id=shop.tower), ["8A", "8B"])
        two = _quote(session, Item(TOWER.name, 2, single=True))
        assert _moved(session, quotes.accept(session, two)) == [(1, "7A"), (1, "8A")]
        assert all(finding.holds for finding in check(session))


def test_what_cannot_be_promised_is_not_offered(engine: sa.Engine) -> None:
    shop = shop_in(engine, last=1)
    with writing(engine) as session:
        for place in ("shop", "store"):
            stock.record_movement(session, shop.line(loudspeaker_id=shop.tower, pack=1, location=place))
        number, remarks = made_quote(session, "J", [Item(TOWER.name, 2)])
        assert "0 available now; 2 singles, not a pair" in remarks[0]
        with pytest.raises(Refused, match="0 of 2 available; 2 singles, not a pair"):
            quotes.accept(session, number)
        with pytest.raises(Refused, match=r"0 available; 1 without a stated finish; last of line: never back-ordered"):
            _quote(session, Item(LAST.name, 1, finish="oak"))
        with pytest.raises(Refused, match="1 available, 1 of them in lines before; last of line: never"):
            _quote(session, Item(LAST.name, 1), Item(LAST.name, 1))
        with pytest.raises(Refused, match="0 available; only new ones are ordered"):
            _quote(session, Item(CENTRE.name, 1, Grade.DEMO))
        stock.record_movement(session, shop.line(grade=Grade.QUARANTINE))
        with pytest.raises(BadInput, match="quarantine is neither sold nor promised"):
            _quote(session, Item(CENTRE.name, 1, Grade.QUARANTINE))


def test_lines_of_one_model_are_checked_together_and_sold_each_at_its_price(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=2)
    with writing(engine) as session:
        items = [Item(CENTRE.name, 1), Item(CENTRE.name, 1, amount=36000, currency="EUR")]
        number, remarks = made_quote(session, "J", items)
        assert remarks == []
        _, remarks = made_quote(session, "J", [Item(CENTRE.name, 2), Item(CENTRE.name, 1)])
        assert "2 available now, 2 of them in lines before" in remarks[0]
        quotes.accept(session, number)
        quotes.sell(session, number)
        # 480 and 360 with 20 % tax in them
        assert _sold(session, number) == [(1, 40000, None), (1, 30000, None)]
        assert shop.centre


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"amount": -5, "currency": "EUR"}, "price -5"),
        ({"amount": 1.5, "currency": "EUR"}, "price 1.5"),
        ({"amount": True, "currency": "EUR"}, "price True"),
        ({"amount": 10**18, "currency": "EUR"}, "price 1000"),
        ({"amount": 5, "currency": "XQZ"}, "no code of ISO 4217"),
        ({"quantity": "1"}, "quantity '1'"),
        ({"quantity": True}, "quantity True"),
        ({"quantity": 1.0}, "quantity 1.0"),
        ({"tax_rate": float("nan")}, "tax rate nan"),
        ({"tax_rate": "20"}, "tax rate 20"),
        ({"finish": " "}, "finish is blank"),
        ({"finish": "o\0k"}, "do not print"),
        ({"finish": "x" * 501}, "501 characters"),
    ],
)
def test_an_item_that_makes_no_sense_is_refused(engine: sa.Engine, change: dict[str, Any], told: str) -> None:
    shop_in(engine, centres=1)
    with writing(engine) as session, pytest.raises(BadInput, match=told):
        made_quote(session, "J", [replace(Item(CENTRE.name, 1), **change)])


def test_the_cost_of_a_quote_is_that_of_its_units(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        for cost in (40000, 60000):
            stock.record_movement(session, shop.line(amount=cost, currency="EUR"))
        together = offers(session, _quote(session, Item(CENTRE.name, 2)))[0]
        assert [float(line.cost_each or 0) for line in together.lines] == [500]
        apart = offers(session, _quote(session, Item(CENTRE.name, 1), Item(CENTRE.name, 1)))[0]
        assert [float(line.cost_each or 0) for line in apart.lines] == [400, 600]
        # of three the third hasn't come, and nobody says what it will cost
        assert costs_of(session, [shop.centre], TODAY).each(shop.centre, 3, "EUR") is None
        assert costs_of(session, [shop.centre], TODAY).each(shop.centre, 1, "GBP") is None
        save_supplier(session, "Harbour")
        listed = {"supplier_id": supplier_named(session, "Harbour"), "loudspeaker_id": shop.centre, "cost": 80000}
        session.execute(sa.insert(SupplierPrice).values(**listed, currency="EUR", valid_from=TODAY))
        assert costs_of(session, [shop.centre], TODAY).each(shop.centre, 3, "EUR") == 60000


def _costs(session: Session, shop: Shop, sort: Sort = NEW) -> list[int | None]:
    return [one.amount for one in layers(session, shop.centre, sort)]


def test_what_comes_back_brings_its_cost_back_when_it_is_out_of_quarantine(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        for cost, serial in ((40000, None), (60000, None), (70000, "A1")):
            stock.record_movement(session, shop.line(amount=cost, currency="EUR", serial=serial))
        back = shop.line(MovementKind.RETURN, grade=Grade.QUARANTINE)
        stock.record_movement(session, shop.line(MovementKind.SELL, serial="A1"))
        stock.record_movement(session, shop.line(MovementKind.SELL))
        assert _costs(session, shop) == [60000]
        stock.record_movement(session, replace(back, serial="A1"))
        stock.record_movement(session, back)
        stock.record_movement(session, back)
        # nobody can sell it yet, so it isn't the next out
        assert _costs(session, shop) == [60000]
        assert _costs(session, shop, ("", Grade.QUARANTINE)) == [None, 40000, 70000]
        operations.regrade(session, replace(back, serial="A1"), Grade.NEW)
        assert _costs(session, shop) == [60000, 70000]
        operations.regrade(session, replace(back, quantity=2), Grade.DEMO)
        assert _costs(session, shop, ("", Grade.DEMO)) == [None, 40000]
        operations.count(session, shop.line(quantity=1, note="lost", serial=None))
        assert _costs(session, shop) == [70000]


def test_each_finish_and_grade_has_costs_of_its_own(engine: sa.Engine) -> None:
    """A dear oak one after cheap white ones: its margin is its own. Worked by hand."""
    shop = shop_in(engine)
    with writing(engine) as session:
        for cost, finish in ((20000, "White"), (20000, "White"), (39500, "Oak")):
            stock.record_movement(session, shop.line(amount=cost, currency="EUR", finish=finish))
        stock.record_movement(session, shop.line(amount=10000, currency="EUR", grade=Grade.DEMO, finish="Oak"))
        items = [Item(CENTRE.name, 1, finish=finish) for finish in ("Oak", "White")]
        items += [Item(CENTRE.name, 1, Grade.DEMO, finish="oak")]
        lines = offers(session, _quote(session, *items))[0].lines
        assert [float(line.cost_each or 0) for line in lines] == [395, 200, 100]
        # 480 with 20 % tax is 400 without: 5 of 400, 200 of 400, 300 of 400
        assert [line.margin for line in lines] == pytest.approx([0.0125, 0.5, 0.75])


def test_an_error_leaves_no_quote(engine: sa.Engine) -> None:
    shop_in(engine, centres=1)
    with writing(engine) as session:
        for job, note in (("J\0", None), ("J", "a\0b"), ("x" * 501, None)):
            with pytest.raises(CatalogError):
                made_quote(session, job, [Item(CENTRE.name, 1)], note=note)
        assert offers(session) == []
