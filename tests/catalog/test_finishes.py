"""A finish that was forgotten or mistyped: named in every refusal, and never taken in silence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.stock import desk, suppliers
from triptych.catalog.stock.articles import model_named
from triptych.catalog.stock.availability import Asked, promised
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.job_sums import job_lines
from triptych.catalog.stock.quotes import Item, QuotePart
from triptych.catalog.stock.reading import stock_list
from triptych.catalog.stock.reordering import set_reorder_point, to_order
from triptych.catalog.stock.shortfalls import OtherFinish

AT = Request(CENTRE.name, "shop")
OAK, WALNUT = replace(AT, finish="oak"), replace(AT, finish="walnut")
MILL = replace(AT, job="Mill House")


def _fill(engine: sa.Engine) -> None:
    """Three centres in oak and one in walnut, none without a finish."""
    shop_in(engine)
    with writing(engine) as session:
        suppliers.save_supplier(session, "Harbour", 9)
    desk.receive(engine, replace(OAK, quantity=3))
    desk.receive(engine, WALNUT)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _there(engine: sa.Engine) -> dict[str | None, tuple[int, int]]:
    with reading(engine) as session:
        return {one.finish: (one.on_hand, one.reserved) for one in stock_list(session) if one.location == "shop"}


TAKING: dict[str, Callable[[sa.Engine, Request], Any]] = {
    "reserve": lambda engine, asked: desk.reserve(engine, replace(asked, job="Mill House"), LATER),
    "sell": desk.sell,
    "transfer": lambda engine, asked: desk.transfer(engine, asked, "shop van"),
    "send": lambda engine, asked: desk.transfer(engine, asked, "shop van", send=True),
    "lend": lambda engine, asked: desk.lend(engine, replace(asked, job="Mill House"), LATER),
    "write off": lambda engine, asked: desk.write_off(engine, replace(asked, note="fell")),
    "regrade": lambda engine, asked: desk.regrade(engine, asked, Grade.DEMO, Grade.NEW),
    "count": lambda engine, asked: desk.count(engine, replace(asked, quantity=2, note="June")),
}


@pytest.mark.parametrize("what", TAKING)
def test_a_forgotten_finish_is_refused_with_those_that_are_there(shop: sa.Engine, what: str) -> None:
    before = _there(shop)
    with pytest.raises(OtherFinish) as refusal:
        TAKING[what](shop, AT)
    assert "3 in 'oak'" in str(refusal.value)
    assert "1 in 'walnut'" in str(refusal.value)
    assert "--finish" in str(refusal.value)
    assert ("oak", 3) in [(one.finish, one.units) for one in refusal.value.finishes]
    assert _there(shop) == before
    TAKING[what](shop, replace(AT, finish=refusal.value.finishes[0].finish))
    assert _there(shop) != before


def test_of_a_mistyped_finish_only_those_that_have_enough_are_asked_about(shop: sa.Engine) -> None:
    with pytest.raises(OtherFinish) as refusal:
        desk.sell(shop, replace(AT, finish="waltnut", quantity=2))
    assert [one.finish for one in refusal.value.finishes] == ["oak"]
    with pytest.raises(Refused) as none:
        desk.sell(shop, replace(AT, quantity=4))
    assert not isinstance(none.value, OtherFinish)
    assert "3 in 'oak'" in str(none.value)


def test_what_is_promised_in_another_finish_is_asked_about(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(OAK, job="Mill House", quantity=3), LATER)
    doing: tuple[Callable[[], Any], ...] = (
        lambda: desk.release(shop, MILL),
        lambda: desk.transfer(shop, MILL, "shop van"),
        lambda: desk.sell(shop, MILL),
    )
    for do in doing:
        with pytest.raises(OtherFinish) as refusal:
            do()
        assert "oak" in [one.finish for one in refusal.value.finishes]
    with pytest.raises(Refused) as stranger:
        desk.sell(shop, replace(AT, job="Barn", quantity=2))
    assert "'oak'" not in str(stranger.value), "what is promised to another is not offered"
    desk.release(shop, replace(OAK, job="Mill House"))
    assert _there(shop)["oak"] == (3, 2)


def test_a_return_without_its_finish_is_asked_about(shop: sa.Engine) -> None:
    desk.sell(shop, OAK)
    with pytest.raises(OtherFinish, match="1 in 'oak', none without a stated finish"):
        desk.take_back(shop, AT)
    assert desk.take_back(shop, OAK).done.grade == "quarantine"
    desk.take_back(shop, AT, before=True)


def test_a_new_finish_is_counted_and_a_mistyped_one_is_not(shop: sa.Engine, tmp_path: Path) -> None:
    with pytest.raises(OtherFinish, match="did you mean 'walnut'"):
        desk.count(shop, replace(AT, finish="waltnut", quantity=1, note="June"))
    desk.count(shop, replace(AT, finish="white", quantity=1, note="June"))
    assert _there(shop)["white"] == (1, 0)
    file = tmp_path / "june.csv"
    file.write_text(f"speaker,quantity,finish\n{CENTRE.name},4,\n{CENTRE.name},1,blue\n")
    with pytest.raises(BadInput, match="line 2, finish: cannot count 4 without a stated finish at 'shop'"):
        import_counts(shop, file, "June", "shop")
    assert set(_there(shop)) == {"oak", "walnut", "white"}


def test_what_comes_without_its_finish_or_in_a_mistyped_one_is_asked_about(shop: sa.Engine, tmp_path: Path) -> None:
    file = tmp_path / "note.csv"
    for said, words, meant in (
        ("waltnut", "new finish 'waltnut'; did you mean 'walnut'? Say which with --finish", ["walnut", "waltnut"]),
        (None, "without a finish, and so far it was in 'oak' and in 'walnut': say which", ["oak", "walnut", None]),
    ):
        with pytest.raises(OtherFinish) as refusal:
            desk.receive(shop, replace(AT, finish=said))
        assert words in str(refusal.value)
        assert [one.finish for one in refusal.value.finishes] == meant
        file.write_text(f"speaker,quantity,finish\n{CENTRE.name},2,{said or ''}\n")
        with pytest.raises(BadInput, match=r"line 2, finish: cannot receive 2: (new|without a) finish"):
            receive_delivery(shop, file, Delivery("1", "shop"))
    assert _there(shop) == {"oak": (3, 0), "walnut": (1, 0)}
    assert desk.receive(shop, replace(AT, finish="white")).remarks == ()
    receive_delivery(shop, file, Delivery("1", "shop", new_finishes=True))
    desk.receive(shop, AT)
    desk.receive(shop, replace(AT, finish="waltnut", new_finish=True))
    assert _there(shop) == {None: (3, 0), "oak": (3, 0), "walnut": (1, 0), "waltnut": (1, 0), "white": (1, 0)}


def test_what_was_ordered_in_a_new_finish_comes_in_it(shop: sa.Engine) -> None:
    with writing(shop) as session:
        number = suppliers.order(session, CENTRE.name, 1, "Harbour", finish="oaks")
    assert desk.receive(shop, replace(AT, order=number)).done.finish == "oaks"


def test_a_quote_without_a_finish_is_refused_where_it_could_never_be_taken(shop: sa.Engine) -> None:
    with pytest.raises(OtherFinish, match="say which with --finish, or as 'MODEL, FINISH'"):
        desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 2)])
    desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 2, finish="white")])
    with pytest.raises(
        Refused, match=r", white: 0 of 2 available; 3 in 'oak' and 1 in 'walnut'; make a quote with that finish"
    ):
        desk.accept_quote(shop, 1)
    desk.make_quote(shop, "Mill House", [Item(TOWER.name, 2)])


@pytest.mark.whole
def test_a_part_of_a_quote_in_two_finishes_is_asked_about(shop: sa.Engine) -> None:
    items = [Item(CENTRE.name, 2, finish="oak"), Item(CENTRE.name, 1, finish="walnut")]
    desk.make_quote(shop, "Mill House", items)
    desk.accept_quote(shop, 1)
    with pytest.raises(OtherFinish) as refusal:
        desk.sell_quote(shop, 1, parts=[QuotePart(CENTRE.name, 1)])
    assert "2 in 'oak' and 1 in 'walnut' left to deliver" in str(refusal.value)
    assert (refusal.value.speaker, len(refusal.value.finishes)) == (CENTRE.name, 2)
    with pytest.raises(BadInput, match="say one finish"):
        desk.sell_quote(shop, 1, parts=[QuotePart(f"{CENTRE.name}, walnut", 1, "oak")])
    sold = desk.sell_quote(shop, 1, parts=[QuotePart(f"{CENTRE.name}, walnut", 1)])
    assert [one.finish for one in sold.moved] == ["walnut"]
    rest = desk.sell_quote(shop, 1, parts=[QuotePart(CENTRE.name, 2)])
    assert rest.offer.state == "sold", "all that is left needs no finish"


@pytest.mark.whole
def test_what_is_to_be_ordered_for_a_job_counts_its_own_finish_and_no_offers(shop: sa.Engine) -> None:
    desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 2, finish="white"), Item(CENTRE.name, 2, finish="oak")])
    with reading(shop) as session:
        found = {one.finish: (one.offered, one.to_order, one.to_order_if_taken) for one in job_lines(session)}
    assert found == {"white": (2, 0, 2), "oak": (2, 0, 0)}, "oak in stock is no white, and an offer is no order"
    desk.make_quote(shop, "Barn", [Item(CENTRE.name, 3, finish="oak")])
    desk.accept_quote(shop, 2)
    with reading(shop) as session:
        held = {(one.job, one.finish): (one.to_order, one.to_order_if_taken) for one in job_lines(session)}
    assert held["Barn", "oak"] == (0, 0)
    assert held["Mill House", "oak"] == (0, 2), "they are promised to another now"
    desk.release(shop, replace(OAK, job="Barn", quantity=3))
    desk.sell(shop, replace(OAK, quantity=3))
    with reading(shop) as session:
        lost = {(one.job, one.finish): (one.to_order, one.to_order_if_taken) for one in job_lines(session)}
    assert lost["Barn", "oak"] == (3, 0), "what was accepted and is gone has to be ordered"


def test_points_of_one_finish_and_of_all_order_nothing_twice(shop: sa.Engine) -> None:
    with writing(shop) as session:
        set_reorder_point(session, CENTRE.name, 6, 9)
        set_reorder_point(session, CENTRE.name, 3, 4, "walnut")
    with reading(shop) as session:
        found = [(one.finish, one.free, one.coming, one.to_order) for one in to_order(session)]
    # 4 there; 3 more in walnut make 7, which is not below 6
    assert found == [("walnut", 1, 0, 3)]
    with writing(shop) as session:
        set_reorder_point(session, CENTRE.name, 8, 9)
    with reading(shop) as session:
        found = [(one.finish, one.free, one.coming, one.to_order) for one in to_order(session)]
    assert found == [(None, 4, 3, 2), ("walnut", 1, 0, 3)]


def test_an_order_of_one_finish_is_no_promise_of_another(shop: sa.Engine) -> None:
    day = datetime.now(UTC).date() + timedelta(days=5)
    with writing(shop) as session:
        suppliers.order(session, CENTRE.name, 4, "Harbour", day, finish="white")
        centre = model_named(session, CENTRE.name).number
        oak = promised(session, [centre], Asked(4, finish="oak", any_finish=False))[centre]
        white = promised(session, [centre], Asked(4, finish="white", any_finish=False))[centre]
        either = promised(session, [centre], Asked(4))[centre]
    assert (oak.when, white.when, either.when) == (None, day, day)
    assert oak.why == "1 in 'walnut'; no more in stock, and no supplier has stated when"
