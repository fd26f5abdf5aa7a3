"""What came back is owed again until something is sold in its place, whatever else is delivered meanwhile."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, shop_in
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Movement
from triptych.catalog.errors import Refused
from triptych.catalog.stock import desk
from triptych.catalog.stock.costs import replayed
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.job_sums import JobLine, job_lines, job_story, jobs, story_words
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quote_page import quote_page
from triptych.catalog.stock.quote_reading import Offer, offers
from triptych.catalog.stock.quotes import Item, QuotePart

AT = Request(CENTRE.name, "shop")
MILL = replace(AT, job="Mill House")


def _job(engine: sa.Engine) -> JobLine:
    with reading(engine) as session:
        (line,) = job_lines(session, "Mill House")
        sums = {one.job: (one.returned, one.outstanding) for one in jobs(session, every=True)}
    assert sums["Mill House"] == (line.returned, line.outstanding)
    return line


def _offer(engine: sa.Engine, number: int) -> Offer:
    with reading(engine) as session:
        return offers(session, number)[0]


def _accepted(engine: sa.Engine, units: int) -> int:
    number = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, units)]).offer.number
    desk.accept_quote(engine, number)
    return number


@pytest.mark.whole
def test_a_delivery_of_the_rest_replaces_nothing(engine: sa.Engine) -> None:
    shop_in(engine, centres=4)
    number, one = _accepted(engine, 2), [QuotePart(CENTRE.name, 1)]
    desk.sell_quote(engine, number, parts=one)
    told = desk.take_back(engine, MILL)
    assert any("owed to Mill House again: 1" in remark for remark in told.remarks)
    desk.sell_quote(engine, number, parts=one)
    line, (quoted,) = _job(engine), _offer(engine, number).lines
    assert (line.installed, line.returned, line.outstanding) == (1, 1, 1)
    assert (quoted.delivered, quoted.to_come, quoted.returned) == (2, 0, 1)
    assert "1 came back and is owed again" in quote_page(_offer(engine, number))
    with reading(engine) as session:
        assert "owed again: 1" in story_words(job_story(session, "Mill House"))[0]
    # what is promised for it is not owed beside that
    desk.reserve(engine, MILL, LATER)
    assert (_job(engine).promised, _job(engine).outstanding) == (1, 1)
    # neither is what replaces it, if that comes back for its money
    desk.sell(engine, MILL)
    assert (_job(engine).installed, _job(engine).outstanding, _offer(engine, number).lines[0].returned) == (2, 0, 0)
    desk.take_back(engine, MILL, refund=True)
    assert (_job(engine).installed, _job(engine).outstanding) == (1, 0)


@pytest.mark.whole
def test_what_replaces_is_sold_at_the_price_of_what_came_back(engine: sa.Engine) -> None:
    shop_in(engine, centres=5)
    desk.sell_quote(engine, _accepted(engine, 1))
    before = _net(engine)
    assert before == ["400.00"]  # 480 with tax of 20 %
    desk.take_back(engine, MILL)
    told = desk.sell(engine, MILL).remarks
    assert any("400.00 EUR without tax" in remark for remark in told)
    assert _net(engine) == before
    # a price that is said holds, and what came back for its money has none to carry on
    desk.take_back(engine, MILL)
    desk.sell(engine, replace(MILL, amount=30000, currency="EUR"))
    assert _net(engine) == ["300.00"]
    desk.take_back(engine, MILL, refund=True)
    assert desk.sell(engine, MILL).remarks == ()
    # one of two would be at no price
    desk.sell(engine, replace(MILL, amount=30000, currency="EUR"))
    desk.take_back(engine, MILL)
    with pytest.raises(Refused, match=r"1 × 300.00 EUR without tax, 1 × no price: say --price"):
        desk.sell(engine, replace(MILL, quantity=2))


def _net(engine: sa.Engine) -> list[str]:
    with reading(engine) as session:
        sales = [layer for one in replayed(session, [1, 2, 3]).values() for layer in one.sold]
        found = {row.id: row.amount for row in session.scalars(sa.select(Movement))}
    return [f"{(found[layer.sale or 0] or 0) / 100:.2f}" for layer in sales for _ in range(layer.units)]


@pytest.mark.whole
def test_what_is_owed_again_is_to_be_ordered_where_there_is_none(engine: sa.Engine) -> None:
    shop_in(engine, centres=2)
    number = _accepted(engine, 2)
    desk.sell_quote(engine, number)
    desk.take_back(engine, MILL)
    assert (_job(engine).to_order, _offer(engine, number).state) == (1, "sold")
    desk.receive(engine, AT)
    assert (_job(engine).to_order, _job(engine).outstanding) == (0, 1)


def test_what_comes_back_comes_back_from_the_job_it_was_sold_for(engine: sa.Engine) -> None:
    shop_in(engine, centres=4)
    desk.receive(engine, AT, ["S1"])
    desk.sell(engine, replace(MILL, serial="S1"))
    desk.sell(engine, MILL)
    answer = desk.take_back(engine, replace(AT, serial="S1"))
    assert (answer.done.job, _job(engine).returned) == ("Mill House", 1)
    # all that is out of it was sold for one
    assert desk.take_back(engine, AT).done.job == "Mill House"
    desk.sell(engine, replace(AT, quantity=2, job="Barn"))
    desk.sell(engine, MILL)
    answer = desk.take_back(engine, AT)
    assert answer.done.job is None
    assert any("undo this and say --job" in remark for remark in answer.remarks)


@pytest.mark.slow
@pytest.mark.whole
@pytest.mark.parametrize("seed", range(3))
def test_owed_is_quoted_less_delivered_and_what_came_back_unreplaced(engine: sa.Engine, seed: int) -> None:
    """Counted beside it: of each step its number only."""
    chance = random.Random(seed)
    shop_in(engine, centres=30)
    count: Counter[str] = Counter()
    left: dict[int, int] = {}
    for _ in range(24):
        step = chance.choice(("quote", "part", "part", "sell", "return", "return", "refund"))
        try:
            if step == "quote":
                units = chance.randint(1, 3)
                left[_accepted(engine, units)] = units
                count["quoted"] += units
            elif step == "part" and (due := [number for number, units in left.items() if units]):
                number = chance.choice(due)
                desk.sell_quote(engine, number, parts=[QuotePart(CENTRE.name, 1)])
                left[number] -= 1
                count["delivered"] += 1
            elif step == "sell" and not any(left.values()):
                # what a quote holds would go first
                desk.sell(engine, MILL)
                count["replaced" if count["back"] > count["replaced"] else "apart"] += 1
            elif step in ("return", "refund"):
                desk.take_back(engine, MILL, refund=step == "refund")
                count["back" if step == "return" else "refunded"] += 1
        except Refused:
            # nothing is out that could come back
            out = count["delivered"] + count["replaced"] + count["apart"] - count["back"] - count["refunded"]
            assert (step, out) in {("return", 0), ("refund", 0)}
            continue
        if not count:
            continue
        line = _job(engine)
        owed = count["back"] - count["replaced"]
        assert line.returned == owed
        assert line.outstanding == count["quoted"] - count["delivered"] + owed
        assert sum(_offer(engine, number).lines[0].returned for number in left) <= owed
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))
