from __future__ import annotations

import re
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LAST, LATER, TOWER, made_quote, shop_in
from triptych.catalog import stock
from triptych.catalog.database import writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Movement, MovementKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.records import SoldAs
from triptych.catalog.stock import desk, quotes
from triptych.catalog.stock.costs import margin, net_each
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quote_promises import Swallowed, swallowed_words
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.quotes import Item
from triptych.catalog.stock.reading import reservations, stock_list


def test_a_quote_becomes_reservations_and_then_sales_at_its_prices(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=2, centres=1)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(amount=30000, currency="EUR", quantity=1, location="store"))
        number, remarks = made_quote(session, "Mill House", [Item(TOWER.name, 2), Item(CENTRE.name, 2)])
        assert remarks == []
        writes.save_loudspeakers(session, [replace(CENTRE, price=Decimal("999.00"))])
    with writing(engine) as session:
        reserved = quotes.accept(session, number)
        assert len(reserved) == 3, "two of the centres stand in two places"
        assert stock.available(session, shop.centre) == 0
        with pytest.raises(Refused, match="accepted already"):
            quotes.accept(session, number)
    with writing(engine) as session:
        quotes.sell(session, number)
        sold = session.scalars(sa.select(Movement).where(Movement.kind == MovementKind.SELL)).all()
        # 1200 a pair and 480 each with 20 % tax in them
        assert {(line.loudspeaker_id, line.amount) for line in sold} == {(shop.tower, 50000), (shop.centre, 40000)}
    with reading(engine) as session:
        offer = offers(session, number)[0]
        assert (offer.state, offer.total) == ("sold", Decimal("2160.00"))
        assert all(finding.holds for finding in check(session))


@pytest.mark.whole
def test_a_price_with_tax_at_an_unknown_rate_is_warned_of_at_each_step(engine: sa.Engine) -> None:
    shop_in(engine, towers=2, centres=2)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [replace(CENTRE, tax_rate=None)])
    rated = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, 1, tax_rate=20.0)])
    quote = desk.make_quote(engine, "Mill House", [Item(TOWER.name, 2), Item(CENTRE.name, 1)])
    told = (
        f"warning: {CENTRE.name}: the price is with tax and its rate is not known, so stock margin counts the sale as"
        " without a price"
    )
    assert (rated.warnings, quote.warnings) == ((), (f"{told}: make the quote with its tax rate",))
    accepted = desk.accept_quote(engine, quote.offer.number)
    assert accepted.warnings == (f"{told}: lapse it and make it anew with its tax rate",)
    assert desk.sell_quote(engine, quote.offer.number).warnings == (told,)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [replace(CENTRE, tax=None, tax_rate=None)])
    (unsaid,) = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, 1, tax_rate=20.0)]).warnings
    assert "whether tax is in the price is not known" in unsaid
    assert "say it in the loudspeaker's price" in unsaid


def test_prices_and_margins_without_tax() -> None:
    # 120 with 20 % in it is 100 before it; (100 - 70) / 100: trade_practice, 6.9
    from triptych.catalog.records import PricePer, Tax

    assert net_each(12000, PricePer.EACH, Tax.INCLUDED, 20.0) == 10000
    assert net_each(12000, PricePer.EACH, Tax.EXCLUDED, None) == 12000
    assert net_each(12000, PricePer.EACH, None, 20.0) is None
    assert net_each(12000, PricePer.EACH, Tax.INCLUDED, None) is None
    assert margin(Decimal(10000), 7000) == Decimal("0.3")
    assert margin(None, 7000) is None


def test_a_margin_is_of_what_the_next_unit_out_has_cost(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        for cost in (30000, 32000):
            stock.record_movement(session, shop.line(quantity=1, amount=cost, currency="EUR"))
        first, _ = made_quote(session, "J", [Item(CENTRE.name, 1)])
        stock.record_movement(session, shop.line(MovementKind.SELL))
        second, _ = made_quote(session, "J", [Item(CENTRE.name, 1)])
        found = [offers(session, number)[0] for number in (first, second)]
        assert [offer.lines[0].cost_each for offer in found] == [Decimal("300.00"), Decimal("320.00")]
        assert [round(offer.margin or 0, 6) for offer in found] == [0.25, 0.2]


@pytest.mark.whole
def test_a_quote_lapses_by_itself_or_by_hand(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        soon, _ = made_quote(session, "J", [Item(CENTRE.name, 1)], datetime.now(UTC) + timedelta(seconds=0.2))
        taken, _ = made_quote(session, "K", [Item(CENTRE.name, 1)])
        quotes.accept(session, taken)
    time.sleep(0.25)
    with writing(engine) as session:
        assert offers(session, soon)[0].state == "lapsed"
        with pytest.raises(Refused, match="lapsed at"):
            quotes.accept(session, soon)
        quotes.lapse(session, taken)
        assert stock.available(session, shop.centre) == 1
        for number in (taken,):
            with pytest.raises(Refused, match="lapsed already"):
                quotes.lapse(session, number)
        with pytest.raises(Refused, match="not accepted"):
            quotes.sell(session, taken)


def test_what_cannot_be_quoted_or_accepted_is_refused_whole(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1, last=1)
    with writing(engine) as session:
        number, remarks = made_quote(session, "J", [Item(CENTRE.name, 1), Item(CENTRE.name, 1)])
        with pytest.raises(Refused, match="0 of 1 available"):
            quotes.accept(session, number)
        assert stock.available(session, shop.centre) == 1
        _, remarks = made_quote(session, "J", [Item(CENTRE.name, 9)])
        assert "1 available now" in remarks[0]
        for items, told in (
            ([Item(LAST.name, 2)], "never back-ordered"),
            ([Item("Oatfell Nothing", 1)], "no loudspeaker"),
            ([Item(CENTRE.name, 0)], "quantity 0"),
            ([Item(CENTRE.name, 10**30)], "quantity 1000"),
            ([Item(TOWER.name, 1)], "sold in pairs"),
            ([Item(CENTRE.name, 1), Item(CENTRE.name, 1, amount=5, currency="GBP")], "EUR and GBP"),
            ([], "from 1 to"),
        ):
            with pytest.raises(CatalogError, match=told):
                made_quote(session, "J", items)
        with pytest.raises(BadInput, match="needs a job"):
            made_quote(session, " ", [Item(CENTRE.name, 1)])
        for missing in (0, 999, 2**40):
            with pytest.raises(NotFound, match="no quote"):
                quotes.accept(session, missing)


@pytest.mark.slow
def test_what_the_job_holds_already_is_taken_into_its_quote(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=2, centres=1)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(kind=MovementKind.RESERVE, quantity=1, job="Mrs Pell", until=LATER))
        number, remarks = made_quote(session, "Mrs Pell", [Item(CENTRE.name, 1)])
        assert remarks == [], "its own unit is no unit that others hold"
        others, remarks = made_quote(session, "Mr Moss", [Item(CENTRE.name, 1)])
        assert "0 available now" in remarks[0]
    with writing(engine) as session, pytest.raises(Refused, match="0 of 1 available"):
        quotes.accept(session, others)
    with writing(engine) as session:
        assert len(quotes.accept(session, number)) == 1
        quotes.sell(session, number)
    with reading(engine) as session:
        (centre,) = [row for row in stock_list(session, include_empty=True) if row.speaker == CENTRE.name]
        assert (centre.on_hand, centre.reserved) == (0, 0), "one was held, one was sold, and none is held beside it"
        assert all(finding.holds for finding in check(session))


def test_of_what_the_job_holds_only_what_is_quoted_is_taken(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=2, centres=3)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(kind=MovementKind.RESERVE, quantity=2, job="Mrs Pell", until=LATER))
        number, remarks = made_quote(session, "Mrs Pell", [Item(CENTRE.name, 1), Item(CENTRE.name, 3)])
        assert "1 available now and 1 held for the job" in remarks[0], "the first line takes one of the two held"
        quotes.lapse(session, number)
        number, _ = made_quote(session, "Mrs Pell", [Item(CENTRE.name, 1)])
        quotes.accept(session, number)
        (centre,) = [row for row in stock_list(session) if row.speaker == CENTRE.name]
        assert (centre.on_hand, centre.reserved) == (3, 2), "one for the quote, one as it was"


def test_between_quote_and_sale_nobody_else_gets_the_unit(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        numbers = [made_quote(session, f"job {name}", [Item(CENTRE.name, 1)])[0] for name in range(4)]
    sold: list[int] = []

    def close(number: int) -> None:
        try:
            with writing(engine) as session:
                quotes.accept(session, number, LATER)
            with writing(engine) as session:
                quotes.sell(session, number)
            sold.append(number)
        except Refused:
            pass

    threads = [threading.Thread(target=close, args=(number,)) for number in numbers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(sold) == 1
    with reading(engine) as session:
        assert stock.level(session, shop.line()) == stock.Level(0, 0)


@pytest.mark.whole
def test_accepting_tells_which_reservations_become_part_of_the_quote(engine: sa.Engine) -> None:
    shop_in(engine, centres=3)
    held = desk.reserve(engine, Request(CENTRE.name, "shop", 2, job="Mill House"), LATER).done.lines[0]
    number = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, 1)]).offer.number
    (told,) = desk.accept_quote(engine, number).warnings
    part = f"reservation {held} of Mill House, 1 × Oatfell Linden Centre at shop, is part of quote 1 now"
    assert re.fullmatch(rf"{part}, until \d.* UTC where it was \d.* UTC", told)
    assert (
        desk.accept_quote(engine, desk.make_quote(engine, "Barn", [Item(CENTRE.name, 1)]).offer.number).warnings == ()
    )


def test_seconds_are_no_other_day_to_tell() -> None:
    held = datetime(2026, 12, 14, 18, 38, 5, tzinfo=UTC)
    for until, asked in ((held, held.replace(second=40)), (held.replace(second=40), held)):
        told = swallowed_words(2, "Barn", "UTC", [Swallowed(7, until, 1, CENTRE.name, "shop")], asked)
        assert told == ["reservation 7 of Barn, 1 × Oatfell Linden Centre at shop, is part of quote 2 now"]
    (moved,) = swallowed_words(2, "Barn", "UTC", [Swallowed(7, held, 1, CENTRE.name, "shop")], held.replace(minute=39))
    assert moved.endswith("until 14 Dec 2026 18:39 UTC where it was 14 Dec 2026 18:38 UTC")


@pytest.mark.parametrize("until", [None, "2030-06-01"])
def test_accepting_shortens_no_reservation(engine: sa.Engine, until: str | None) -> None:
    shop_in(engine, centres=4)
    long = datetime(2031, 1, 1, tzinfo=UTC)
    desk.reserve(engine, Request(CENTRE.name, "shop", 2, job="Mill House"), long)
    number = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, 3)]).offer.number
    step = desk.accept_quote(engine, number, until)
    part, told = step.warnings
    assert part.endswith("is part of quote 1 now")
    whole = "all of quote 1 is reserved until the end of 31 Dec 2030"
    assert told.startswith(f"{whole}, as Mill House held some of it so long")
    with reading(engine) as session:
        assert {one.until for one in reservations(session)} == {long}


@pytest.mark.parametrize(
    ("item", "price"),
    [
        (Item(TOWER.name, 1), "at half the price of a pair each"),
        (Item(TOWER.name, 1, amount=70000, currency="EUR"), "each at the price that is said"),
    ],
)
def test_one_of_a_pair_is_never_offered_in_silence(engine: sa.Engine, item: Item, price: str) -> None:
    shop_in(engine, towers=2)
    desk.split(engine, Request(TOWER.name, "shop"))
    told = f"warning: Oatfell Linden Tower: single ones of what is sold in pairs, {price}"
    assert told in desk.make_quote(engine, "Mill House", [item]).warnings


@pytest.mark.whole
def test_half_the_price_of_a_pair_is_no_price_of_one_that_nobody_says_is_sold_singly(engine: sa.Engine) -> None:
    shop_in(engine)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [replace(TOWER, sold_as=None)])
    for item in (Item(TOWER.name, discount=5.0), Item(TOWER.name, 3)):
        with pytest.raises(BadInput, match=r"nothing says whether one is sold singly: quote '[24] x Oatfell"):
            desk.make_quote(engine, "Mill House", [item])
    for item, total in ((Item(TOWER.name, 2), "1200.00"), (Item(TOWER.name, single=True), "600.00")):
        assert desk.make_quote(engine, "Mill House", [item]).offer.total == Decimal(total)
    assert desk.make_quote(engine, "Mill House", [Item(TOWER.name, 1, amount=70000)]).offer.total == Decimal(700)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [replace(TOWER, sold_as=SoldAs.EITHER)])
    assert desk.make_quote(engine, "Mill House", [Item(TOWER.name)]).offer.total == Decimal("600.00")
