"""A firm's week: deliveries, what is to be ordered, what was earned, and a quote whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from tests.catalog.week_shop import AT, MILL, PAIR, fill, hold_sound, ordered, read, there_at
from triptych.catalog.database.engine import writing
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.records import PricePer
from triptych.catalog.stock import desk, suppliers
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.earnings import EarnedBy, earned, stock_value
from triptych.catalog.stock.quotes import Item
from triptych.catalog.stock.reading import LinesAsked, ledger, stock_list
from triptych.catalog.stock.reordering import article_numbers, save_article, set_reorder_point, to_order


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, fill)


def _file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "delivery.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_delivery_comes_whole_and_once(shop: sa.Engine, tmp_path: Path) -> None:
    number = ordered(shop, job="Mill House")
    with writing(shop) as session:
        save_article(session, TOWER.name, "LT 20", "Harbour", "oak")
    path = _file(
        tmp_path,
        "article,speaker,quantity,cost,serial,order\n"
        f',{CENTRE.name},2,"310,50 EUR",S1; S2,{number}\n'
        "LT 20,,4,2 040 EUR,,\n",
    )
    about = Delivery("4711", "shop", "Harbour")
    with pytest.raises(BadInput, match="line 3, per: is not stated, and it is sold in pairs"):
        receive_delivery(shop, path, about)
    about = replace(about, per=PricePer.PAIR)
    assert len(receive_delivery(shop, path, about, dry_run=True)) == 2
    assert there_at(shop, "shop") == (5, 0)
    receive_delivery(shop, path, about)
    assert there_at(shop, "shop") == (7, 2)
    oak = [one for one in read(shop, stock_list) if one.finish == "oak"]
    assert [(one.speaker, one.on_hand) for one in oak] == [(TOWER.name, 4)]
    costs = {one.quantity: one.amount for one in read(shop, ledger, LinesAsked()) if one.note == "delivery 4711"}
    assert costs == {1: Decimal("310.50"), 4: Decimal("1020.00")}
    with pytest.raises(Refused, match="delivery 4711 has come already, from line"):
        receive_delivery(shop, path, about)
    hold_sound(shop)


@pytest.mark.whole
def test_what_was_undone_of_a_delivery_comes_again_alone(shop: sa.Engine, tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        f"speaker,quantity,cost,serial\n{CENTRE.name},,300 EUR,S1; S2\n"
        f"{CENTRE.name},2,310 EUR,\n{TOWER.name},2,1 EUR,\n",
    )
    about = Delivery("77", "shop", per=PricePer.EACH)
    receive_delivery(shop, path, about)
    before = read(shop, stock_list)
    lines = [one for one in read(shop, ledger, LinesAsked()) if one.note == "delivery 77"]
    # one serial of a row, and a row whole
    desk.undo(shop, lines[1].number)
    desk.undo(shop, lines[2].number)
    (one, plain) = receive_delivery(shop, path, about)
    assert (one.done.serial, one.done.quantity, plain.done.quantity) == ("S2", 1, 2)
    assert any("came before: taken in is what of it was undone" in said for said in plain.remarks)
    assert read(shop, stock_list) == before
    with pytest.raises(Refused, match="delivery 77 has come already"):
        receive_delivery(shop, path, about)
    # what came and is in no row of a mended file would come twice
    desk.undo(shop, lines[3].number)
    path.write_text(f"speaker,quantity\n{CENTRE.name},1\n", encoding="utf-8")
    with pytest.raises(Refused, match=f"line {lines[0].number} of the ledger is in no row"):
        receive_delivery(shop, path, about)
    hold_sound(shop)


BAD_ROWS = (
    (f"{CENTRE.name},many,1 EUR,,", "quantity"),
    (f"{CENTRE.name},,1 EUR,,", "is empty, and no serial says how many"),
    (f"{CENTRE.name},1,310,,", "in which currency"),
    (f"{CENTRE.name},3,1 EUR,S1;S2,", "2 serials for 3"),
    (f"{CENTRE.name},1,1 EUR,,99", "no order has the number 99"),
    (f"{TOWER.name},3,1 EUR,,", "sold in pairs"),
    ("Oatfell Linden Centr,1,1 EUR,,", "the nearest"),
)


@pytest.mark.parametrize(("row", "said"), BAD_ROWS)
def test_a_delivery_with_one_bad_row_changes_nothing(shop: sa.Engine, tmp_path: Path, row: str, said: str) -> None:
    before = read(shop, ledger, LinesAsked())
    path = _file(tmp_path, f"speaker,quantity,cost,serial,order\n{CENTRE.name},2,300 EUR,,\n{row}\n")
    with pytest.raises(BadInput, match=rf"(?s)line 3.*{said}"):
        receive_delivery(shop, path, Delivery("1", "shop"))
    assert read(shop, ledger, LinesAsked()) == before


@pytest.mark.whole
def test_what_is_below_its_point_is_ordered_from_the_cheapest(shop: sa.Engine, tmp_path: Path) -> None:
    from triptych.catalog.stock.price_lists import import_prices

    with writing(shop) as session:
        suppliers.save_supplier(session, "Quay", 2)
        set_reorder_point(session, CENTRE.name, 6, 9)
        set_reorder_point(session, TOWER.name, 2, 4)
        save_article(session, CENTRE.name, "OURS 1")
        save_article(session, CENTRE.name, "HC-1", "Harbour")
    for supplier, cost in (("Harbour", 290), ("Quay", 300)):
        path = _file(tmp_path, f"speaker,cost,currency\n{CENTRE.name},{cost},EUR\n")
        import_prices(shop, supplier, path, date(2020, 1, 1))
    (found,) = read(shop, to_order)
    assert (found.free, found.coming, found.to_order, found.supplier, found.article) == (5, 0, 4, "Harbour", "HC-1")
    assert (found.cost_each, found.currency, found.lead_time) == (Decimal("290.00"), "EUR", 9)
    ordered(shop)
    # what comes for stock counts, what comes for a job doesn't
    assert read(shop, to_order) == []
    desk.reserve(shop, replace(MILL, quantity=4), LATER)
    ordered(shop, job="Mill House")
    assert [(one.free, one.coming, one.to_order) for one in read(shop, to_order)] == [(1, 3, 5)]
    desk.sell(shop, replace(PAIR, quantity=4))
    assert {one.speaker: one.to_order for one in read(shop, to_order)} == {CENTRE.name: 5, TOWER.name: 4}
    with writing(shop) as session:
        for least, up_to in ((3, 2), (-1, 2), (1, 10**9)):
            with pytest.raises(BadInput):
                set_reorder_point(session, CENTRE.name, least, up_to)
        with pytest.raises(BadInput, match="even number"):
            set_reorder_point(session, TOWER.name, 1, 3)
        set_reorder_point(session, CENTRE.name, 0, 0)
    assert [one.speaker for one in read(shop, to_order)] == [TOWER.name]
    assert [one.number for one in read(shop, article_numbers)] == ["OURS 1", "HC-1"]
    with writing(shop) as session, pytest.raises(BadInput, match="is Oatfell Linden Centre already"):
        save_article(session, TOWER.name, "ours 1")


@pytest.mark.whole
def test_what_was_earned_is_the_price_less_what_went_out_first(engine: sa.Engine) -> None:
    shop_in(engine)
    for units, cost in ((2, 30000), (2, 33000)):
        desk.receive(engine, replace(AT, quantity=units, amount=cost, currency="EUR"))
    desk.sell(engine, replace(MILL, quantity=3, amount=40000, currency="EUR"))
    desk.sell(engine, AT)
    # three at 400 that cost 300, 300 and 330
    (mill, none) = read(engine, earned, EarnedBy.JOB)
    assert (mill.key, mill.units, mill.net, mill.cost) == ("Mill House", 3, Decimal("1200.00"), Decimal("930.00"))
    assert mill.margin == pytest.approx(0.225)
    assert (none.key, none.units, none.unpriced, none.net, none.margin) == (None, 1, 1, Decimal(0), None)
    assert read(engine, stock_value) == []
    line = [one for one in read(engine, ledger, LinesAsked()) if one.kind == "sell"][-1].number
    desk.undo(engine, line)
    desk.take_back(engine, replace(MILL, quantity=1))
    (mill,) = read(engine, earned, EarnedBy.JOB)
    assert (mill.units, mill.net, mill.cost) == (2, Decimal("800.00"), Decimal("600.00"))
    worth = {(one.grade, one.units): one.cost for one in read(engine, stock_value)}
    assert worth == {("new", 1): Decimal("330.00"), ("quarantine", 1): Decimal("330.00")}
    (month,) = read(engine, earned, EarnedBy.MONTH)
    assert (month.key, month.units) == (f"{datetime.now(UTC):%Y-%m}", 2)


@pytest.mark.whole
def test_a_quote_has_finishes_a_discount_and_the_days_of_its_location(shop: sa.Engine) -> None:
    from triptych.catalog.stock.locations import save_location
    from triptych.catalog.stock.quote_page import quote_page

    for finish in ("oak", "ash"):
        desk.receive(shop, replace(AT, finish=finish))
    with writing(shop) as session:
        save_location(session, "shop", "Pacific/Kiritimati")
        save_location(session, "store", "Europe/Lisbon")
    items = [Item(f"{CENTRE.name}, oak", discount=12.5), Item(f"{CENTRE.name}, ash <b>"), Item(TOWER.name)]
    offer = desk.make_quote(shop, "Mill & House", items, "2030-03-04", location="shop").offer
    assert (offer.zone, offer.until) == ("Pacific/Kiritimati", datetime(2030, 3, 4, 10, tzinfo=UTC))
    assert [(one.finish, one.discount, one.full_price, one.price) for one in offer.lines] == [
        ("oak", 12.5, Decimal("480.00"), Decimal("420.00")),
        ("ash <b>", None, None, Decimal("480.00")),
        (None, None, None, Decimal("1200.00")),
    ]
    assert offer.total == Decimal("2100.00")
    page = quote_page(offer)
    for words in ("Mill &amp; House", "ash &lt;b&gt;", "<s>480.00 EUR</s> less 12.5 %", "2100.00 EUR", "4 Mar 2030"):
        assert words in page
    assert "Prices include tax of 20 %." in page
    # what it costs us is on no page for others
    assert "argin" not in page.split("</style>")[1]
    with pytest.raises(NotFound, match="no location is named 'shpo'"):
        desk.make_quote(shop, "Barn", items, location="shpo")
    for discount in (0.0, -1.0, 101.0, float("nan")):
        with pytest.raises(BadInput, match="must be above 0 and up to 100"):
            desk.make_quote(shop, "Barn", [Item(CENTRE.name, discount=discount)])
    hold_sound(shop)
