"""A unit is found by its serial: where it is, where it was, and for whom."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.reading import stock_list
from triptych.catalog.stock.serials import MOST, TracedUnit, units_of_serial

NAMED = Request(CENTRE.name, "shop", serial="Ab%1")


def _fill(engine: sa.Engine) -> None:
    shop_in(engine, centres=1)
    desk.receive(engine, NAMED)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _one(engine: sa.Engine, text: str = "ab%1") -> TracedUnit:
    with reading(engine) as session:
        (found,) = units_of_serial(session, text)
    return found


@pytest.mark.whole
def test_each_step_of_a_unit_is_told(shop: sa.Engine) -> None:
    found = _one(shop)
    assert (found.speaker, found.serial, found.state, found.location) == (CENTRE.name, "Ab%1", "on hand", "shop")
    desk.reserve(shop, replace(NAMED, job="Barn"), LATER)
    found = _one(shop)
    assert (found.state, found.job, found.until) == ("reserved", "Barn", LATER)
    desk.release(shop, replace(NAMED, job="Barn"))
    assert _one(shop).job is None
    sent = desk.transfer(shop, NAMED, "van", send=True).done.lines[0]
    assert (_one(shop).state, _one(shop).location) == ("on its way", "van")
    desk.arrive(shop, sent)
    quote = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1)]).offer.number
    desk.accept_quote(shop, quote, location="van", serials=["Ab%1"])
    found = _one(shop)
    assert (found.state, found.job, found.quote, found.location) == ("reserved", "Mill House", quote, "van")
    desk.sell_quote(shop, quote)
    found = _one(shop)
    assert (found.state, found.job, found.quote, found.until) == ("sold", "Mill House", quote, None)
    kinds = ["receive", "reserve", "release", "transfer_out", "transfer_in", "reserve", "sell"]
    assert [line.kind for line in found.lines] == kinds
    desk.take_back(shop, replace(NAMED, location="store"))
    found = _one(shop)
    assert (found.state, found.grade, found.location, found.job) == ("on hand", "quarantine", "store", None)
    desk.write_off(shop, replace(NAMED, location="store", grade=Grade.QUARANTINE, note="rusty"))
    assert _one(shop).state == "written off"


def test_a_pair_is_split_into_two_that_are_found(shop: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    desk.receive(shop, Request(TOWER.name, "shop", serial="P7"))
    desk.split(shop, Request(TOWER.name, "shop", serial="P7"), ["P7-L", "P7-R"])
    assert _one(shop, "p7").state == "split"
    with reading(shop) as session:
        assert [(one.serial, one.state, one.pack) for one in units_of_serial(session, "7-")] == [
            ("P7-L", "on hand", 1),
            ("P7-R", "on hand", 1),
        ]
        listed = {(row.speaker, row.pack): row.serials for row in stock_list(session)}
    assert listed == {(CENTRE.name, 1): ("Ab%1",), (TOWER.name, 1): ("P7-L", "P7-R")}
    monkeypatch.setattr("triptych.catalog.database.listings.MANY", 0)
    with reading(shop) as session:
        assert {(row.speaker, row.pack): row.serials for row in stock_list(session)} == listed


@pytest.mark.slow
def test_a_part_finds_all_that_have_it_and_signs_are_no_patterns(shop: sa.Engine) -> None:
    desk.receive(shop, Request(CENTRE.name, "shop"), [f"S{number}" for number in range(MOST)])
    with reading(shop) as session:
        assert len(units_of_serial(session, "s")) == MOST
        assert [one.serial for one in units_of_serial(session, "S4")] == ["S4"]
        assert [one.serial for one in units_of_serial(session, "%")] == ["Ab%1"]
        assert units_of_serial(session, "_") == units_of_serial(session, "/") == []
        for blank in ("", "  ", "x" * 501):
            with pytest.raises(BadInput, match="a serial has 1 to 500 characters"):
                units_of_serial(session, blank)
    desk.receive(shop, Request(CENTRE.name, "shop", serial="S x"))
    with reading(shop) as session, pytest.raises(BadInput, match="more than 50 serials have 's' in them"):
        units_of_serial(session, "s")
