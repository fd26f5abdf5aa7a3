"""What goes together and when more of it could be had."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from tests.catalog.columns_told import columns_told
from tests.catalog.stock_shop import CENTRE, TOWER, Shop, shop_in
from triptych.catalog import stock
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade, MovementKind, SupplyOrder
from triptych.catalog.stock import operations
from triptych.catalog.stock.articles import Model, matching_mains, sold_and_out
from triptych.catalog.stock.availability import Asked, Promise, promise_of, promised, promises
from triptych.catalog.stock.suppliers import order, save_supplier
from triptych.catalog.stock.supply import Arrivals, Coming, Lapse, Shelf

TODAY = datetime.now(UTC).date()


def _receive(session: Session, shop: Shop, quantity: int = 1, **fields: Any) -> None:
    stock.record_movement(session, shop.line(quantity=quantity, **fields))


def _offered(session: Session, number: int) -> int | None:
    columns = columns_told(session)
    found: int | None = columns["available"][columns["id"].index(number)]
    return found


def test_single_ones_are_never_a_pair(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        tower = {"loudspeaker_id": shop.tower, "pack": 1}
        _receive(session, shop, **tower)
        _receive(session, shop, location="store", **tower)
        assert _offered(session, shop.tower) == 0
        pair = promises(session, [shop.tower], 2)[shop.tower]
        assert (pair.available, pair.when) == (0, None)
        assert "2 singles, not a pair" in pair.why
        one = promises(session, [shop.tower], 1)[shop.tower]
        assert (one.available, one.when) == (2, TODAY)
        _receive(session, shop, 2, loudspeaker_id=shop.tower)
        assert _offered(session, shop.tower) == 2
        assert promises(session, [shop.tower], 2)[shop.tower].when == TODAY


def test_two_finishes_are_not_alike(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        _receive(session, shop, finish="oak", location="store")
        assert _offered(session, shop.centre) == 1
        both = promises(session, [shop.centre], 2)[shop.centre]
        assert (both.available, both.when) == (1, None)
        assert "1 without a stated finish and 1 in 'oak', not alike" in both.why
        _receive(session, shop, finish="OAK")
        assert _offered(session, shop.centre) == 2
        assert promises(session, [shop.centre], 2)[shop.centre].when == TODAY
        _receive(session, shop, 5, grade=Grade.DEMO, finish="oak")
        assert _offered(session, shop.centre) == 2
        plain = promised(session, [shop.centre], Asked(2, any_finish=False))[shop.centre]
        assert (plain.available, plain.beside) == (1, "2 in 'oak'")


def test_what_lapses_and_what_comes_is_added_up_over_time(engine: sa.Engine) -> None:
    lapse, expected = TODAY + timedelta(days=10), TODAY + timedelta(days=37)
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
        until = lapse - timedelta(days=1)
        stock.record_movement(session, shop.line(MovementKind.RESERVE, job="J", until=until))
        order(session, CENTRE.name, 1, "Harbour", expected)
        one, two, three = (promises(session, [shop.centre], many)[shop.centre] for many in (1, 2, 3))
        assert (one.when, two.when, three.when) == (lapse, expected, None)
        assert one.why == f"reserved; free on {lapse} if nobody takes it"
        assert two.why == f"1 reserved, free on {lapse} if nobody takes it; 1 on order, expected {expected}"


def test_an_overdue_order_is_said_to_be_overdue(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
        order(session, CENTRE.name, 2, "Harbour", date(2026, 1, 5))
        late = promises(session, [shop.centre], 2)[shop.centre]
        assert late == Promise(0, None, "ordered, was expected 2026-01-05, overdue")
        soon = TODAY + timedelta(days=3)
        order(session, CENTRE.name, 1, "Harbour", soon)
        one = promises(session, [shop.centre], 1)[shop.centre]
        assert (one.when, one.why) == (
            soon, f"on order, expected {soon}; ordered, was expected 2026-01-05, overdue"
        )  # fmt: skip
        order(session, TOWER.name, 2, "Harbour")
        assert promises(session, [shop.tower], 2)[shop.tower].why == "ordered, and no date stated"
        assert session.scalar(sa.select(sa.func.count()).select_from(SupplyOrder)) == 3


MODEL = Model(1, 1, None)
SHELVES = (Shelf(1, Grade.NEW, None, "", "shop", 1),)
comings = st.lists(st.tuples(st.integers(-9, 40), st.integers(1, 3)), max_size=5)


@given(st.integers(1, 9), comings, comings)
def test_the_day_is_the_first_on_which_enough_has_come(
    quantity: int, lapses: list[tuple[int, int]], orders: list[tuple[int, int]]
) -> None:
    today = date(2026, 11, 1)
    free = [Lapse(today + timedelta(days=abs(day)), units, 1, Grade.NEW, None, "") for day, units in lapses]
    come = [Coming(today + timedelta(days=day), units) for day, units in orders]
    promise = promise_of(MODEL, SHELVES, Asked(quantity), Arrivals(today, {1: free}, {1: come}))

    def there(day: date) -> int:
        due = [one.units for one in come if one.expected and today <= one.expected <= day]
        return 1 + sum(due) + sum(one.units for one in free if one.day <= day)

    if promise.when is None:
        assert there(date.max) < quantity
    else:
        assert there(promise.when) >= quantity
        assert promise.when == today or there(promise.when - timedelta(days=1)) < quantity
    assert ("overdue" in promise.why) == (quantity > 1 and any(day < 0 for day, _ in orders))


def test_mains_that_came_back_unsold_count_for_none(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=4, last=1)
    with writing(engine) as session:
        back = shop.line(MovementKind.RETURN, 2, loudspeaker_id=shop.tower, grade=Grade.QUARANTINE)
        said = operations.never_sold(session, back)
        assert said is not None
        assert "the ledger sold 0 that did not come back, not 2" in said
        stock.record_movement(session, back)
        about = matching_mains(session, shop.last)
        assert about is not None
        assert (about.sold, about.on_hand) == (0, 6)
        stock.record_movement(session, shop.line(MovementKind.SELL, 2, loudspeaker_id=shop.tower))
        assert sold_and_out(session, [shop.tower, shop.centre]) == {shop.tower: 2}
        assert operations.never_sold(session, back) is None
        assert "did not sell Oatfell Linden Tower 7" in str(
            operations.never_sold(session, replace(back, serial="7"))
        )  # fmt: skip
