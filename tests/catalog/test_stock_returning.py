"""What has a serial comes back under it: so no unit stands as sold while it is on the shelf again."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, TOWER, shop_in
from triptych.catalog.database.engine import reading
from triptych.catalog.errors import Refused
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.serials import units_of_serial

JOB = "Fen House"


def _fill(engine: sa.Engine) -> None:
    shop_in(engine)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _asked(
    serial: str | None = None, quantity: int | None = None, job: str | None = JOB, finish: str = "oak"
) -> Request:
    return Request(CENTRE.name, "shop", quantity, finish=finish, serial=serial, job=job)


def _sell(shop: sa.Engine, *serials: str | None, job: str | None = JOB) -> None:
    for serial in serials:
        desk.receive(shop, _asked(serial, job=None))
        desk.sell(shop, _asked(serial, job=job))


def _state(shop: sa.Engine, serial: str) -> str:
    with reading(shop) as session:
        return units_of_serial(session, serial)[0].state


@pytest.mark.parametrize("said", [JOB, "fen  house", None])
def test_the_only_one_that_was_sold_comes_back_under_its_serial(shop: sa.Engine, said: str | None) -> None:
    _sell(shop, "A1")
    back = desk.take_back(shop, _asked(job=said))
    assert back.done.serial == "A1"
    assert back.remarks[0] == "serial A1: the only one that was sold and did not come back"
    assert back.remarks[1:] == (
        *([] if said else ["sold for Fen House, so it comes back from there"]),
        f"owed to {said or JOB} again: 1; if its money is given back, undo this and say --refund",
    )
    assert _state(shop, "A1") == "on hand"
    with pytest.raises(Refused):
        desk.receive(shop, _asked("A1", job=None))


@pytest.mark.whole
def test_of_several_the_serial_is_asked_for(shop: sa.Engine) -> None:
    _sell(shop, "A1", "A2")
    for quantity in (1, 2):
        with pytest.raises(Refused, match=r"did not come back, A1, A2: name the serial with --serial.*nothing was"):
            desk.take_back(shop, _asked(quantity=quantity))
    desk.take_back(shop, _asked("A2"))
    assert (_state(shop, "A1"), _state(shop, "A2")) == ("sold", "on hand")
    assert desk.take_back(shop, _asked()).done.serial == "A1"


def test_where_some_have_none_one_of_those_comes_back_first(shop: sa.Engine) -> None:
    _sell(shop, "A1", None)
    with pytest.raises(Refused, match="did not come back, A1 and 1 without a serial"):
        desk.take_back(shop, _asked(quantity=2))
    assert desk.take_back(shop, _asked()).done.serial is None
    # nor is what came back without a job counted as still out
    assert desk.take_back(shop, _asked()).done.serial == "A1"


@pytest.mark.whole
def test_what_came_back_for_no_job_is_out_no_more(shop: sa.Engine) -> None:
    _sell(shop, "A1", None)
    assert desk.take_back(shop, _asked(job=None)).done.serial is None
    assert desk.take_back(shop, _asked()).done.serial == "A1"


@pytest.mark.whole
def test_what_is_out_for_another_is_asked_for_where_all_without_a_serial_came_back(shop: sa.Engine) -> None:
    _sell(shop, None)
    _sell(shop, "A1", job="Barn")
    desk.take_back(shop, _asked(job=None))
    with pytest.raises(Refused, match="did not come back, A1: name the serial"):
        desk.take_back(shop, _asked())


def test_another_job_or_finish_takes_no_serial_unasked(shop: sa.Engine) -> None:
    _sell(shop, "A1")
    _sell(shop, None, job="Barn")
    assert desk.take_back(shop, _asked(job="Barn")).done.serial is None
    for other in (_asked(job="Barn"), _asked(job="Nobody"), _asked(finish="black"), _asked(job=None, finish="black")):
        with pytest.raises(Refused, match="A1: name the serial"):
            desk.take_back(shop, other)
    assert _state(shop, "A1") == "sold"


def test_what_was_sold_before_the_ledger_began_needs_none(shop: sa.Engine) -> None:
    _sell(shop, "A1")
    assert desk.take_back(shop, _asked(), before=True).done.serial is None
    assert _state(shop, "A1") == "sold"


def test_a_pair_comes_back_under_the_serial_of_the_pair(shop: sa.Engine) -> None:
    pair = Request(TOWER.name, "shop", serial="P1")
    desk.receive(shop, pair)
    desk.sell(shop, pair)
    back = desk.take_back(shop, Request(TOWER.name, "shop"))
    assert (back.done.serial, back.done.quantity) == ("P1", 2)


@pytest.mark.whole
def test_what_a_quote_sold_by_serial_comes_back_under_it(shop: sa.Engine) -> None:
    desk.receive(shop, _asked("A1", job=None))
    desk.receive(shop, _asked("A2", job=None))
    quote = desk.make_quote(shop, JOB, [Item(CENTRE.name, 1, finish="oak")]).offer.number
    desk.accept_quote(shop, quote, serials=["A2"])
    desk.sell_quote(shop, quote)
    assert desk.take_back(shop, _asked()).done.serial == "A2"
