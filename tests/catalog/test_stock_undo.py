"""A mistyped movement is taken back whole: all that there was is there again, and the ledger keeps both."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade, Holding, Movement
from triptych.catalog.errors import NotFound, Refused
from triptych.catalog.stock import desk
from triptych.catalog.stock.articles import sold_and_out
from triptych.catalog.stock.costs import layers
from triptych.catalog.stock.desk import Answer, Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.reading import reservations, stock_list

PLAIN = Request(CENTRE.name, "shop", 2)
NAMED = Request(CENTRE.name, "shop", serial="A1")
PAIR = Request(TOWER.name, "shop")
DEMO = replace(PLAIN, grade=Grade.DEMO)


def _fill(engine: sa.Engine) -> None:
    """Make a shop with units that came at three costs, some promised and sold."""
    shop_in(engine)
    for amount in (30000, 31000):
        desk.receive(engine, replace(PLAIN, quantity=4, amount=amount, currency="EUR"))
    desk.receive(engine, replace(NAMED, amount=32000, currency="EUR"))
    desk.receive(engine, DEMO)
    desk.receive(engine, replace(PAIR, quantity=4, amount=50000, currency="EUR"))
    desk.sell(engine, replace(PLAIN, quantity=1))
    desk.reserve(engine, replace(PLAIN, job="Mill House"), LATER)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _all(engine: sa.Engine) -> dict[str, Any]:
    """Give what there is, what is promised, what it cost and what is sold; not the numbers of the lines."""
    with reading(engine) as session:
        held_as = session.execute(sa.select(Holding.loudspeaker_id, Holding.grade).distinct()).all()
        speakers = {speaker for speaker, _ in held_as}
        costs: Counter[object] = Counter()
        for number, grade in held_as:
            for layer in layers(session, number, ("", grade)):
                costs[number, grade, layer.amount, layer.serial] += layer.units
        held: Counter[object] = Counter()
        for row in reservations(session):
            held[row.job, row.until, row.serial] += row.units
        return {
            "there": stock_list(session),
            "held": held,
            "costs": costs,
            "sold": {number: units for number, units in sold_and_out(session, speakers).items() if units},
        }


DONE: dict[str, Callable[[sa.Engine], Answer]] = {
    "receive": lambda engine: desk.receive(engine, replace(PLAIN, amount=99900, currency="EUR")),
    "receive a serial": lambda engine: desk.receive(engine, replace(NAMED, serial="B2")),
    "receive a pair": lambda engine: desk.receive(engine, PAIR),
    "reserve": lambda engine: desk.reserve(engine, replace(PLAIN, job="Barn"), LATER),
    "release": lambda engine: desk.release(engine, replace(PLAIN, quantity=1, job="Mill House")),
    "sell": lambda engine: desk.sell(engine, replace(PLAIN, amount=48000, currency="EUR")),
    "sell a serial": lambda engine: desk.sell(engine, NAMED),
    "sell what was promised": lambda engine: desk.sell(engine, replace(PLAIN, job="Mill House")),
    "sell a demo": lambda engine: desk.sell(engine, DEMO),
    "return": lambda engine: desk.take_back(engine, replace(PLAIN, quantity=1), before=True),
    "transfer": lambda engine: desk.transfer(engine, PLAIN, "van"),
    "transfer a serial": lambda engine: desk.transfer(engine, NAMED, "van"),
    "send": lambda engine: desk.transfer(engine, PLAIN, "van", send=True),
    "count up": lambda engine: desk.count(engine, replace(PLAIN, quantity=12, note="found")),
    "count down": lambda engine: desk.count(engine, replace(PLAIN, quantity=3, note="lost")),
    "regrade": lambda engine: desk.regrade(engine, PLAIN, Grade.DEMO, Grade.NEW),
    "regrade a demo": lambda engine: desk.regrade(engine, DEMO, Grade.B_STOCK, Grade.DEMO),
    "regrade to quarantine": lambda engine: desk.regrade(engine, DEMO, Grade.QUARANTINE, Grade.DEMO),
    "split": lambda engine: desk.split(engine, PAIR),
    "write off": lambda engine: desk.write_off(engine, replace(PLAIN, note="fell")),
    "write off a serial": lambda engine: desk.write_off(engine, replace(NAMED, note="fell")),
}


@pytest.mark.parametrize("done", DONE)
def test_what_is_undone_leaves_all_as_it_was(shop: sa.Engine, done: str) -> None:
    if done == "count down":
        desk.release(shop, replace(PLAIN, job="Mill House"))
    before = _all(shop)
    answer = DONE[done](shop)
    assert _all(shop) != before
    # either half of what has two may be named
    number = answer.done.lines[-1]
    undone = desk.undo(shop, number, "mistyped", "ann")
    assert _all(shop) == before
    same = (undone.done.speaker, undone.done.location, undone.done.grade)
    assert undone.done.on_hand == sum(
        row.on_hand for row in before["there"] if (row.speaker, row.location, row.grade) == same
    )
    with reading(shop) as session:
        assert all(finding.holds for finding in check(session))
        notes = set(session.scalars(sa.select(Movement.note).where(Movement.id.in_(undone.done.lines))))
    assert notes == {f"undo of line {answer.done.lines[0]}: mistyped"}
    for again in {number, answer.done.lines[0]}:
        with pytest.raises(Refused, match="undone already"):
            desk.undo(shop, again)
    with pytest.raises(Refused, match="is itself an undo of line"):
        desk.undo(shop, undone.done.lines[-1])


STOOD_ON: dict[str, tuple[Callable[[sa.Engine], Answer], Callable[[sa.Engine], Answer], str]] = {
    "sold since": (
        lambda engine: desk.receive(engine, replace(PLAIN, location="loft")),
        lambda engine: desk.sell(engine, replace(PLAIN, location="loft", quantity=1)),
        r"\(sell 1\) stands on it",
    ),
    "promised since": (
        lambda engine: desk.transfer(engine, PLAIN, "van"),
        lambda engine: desk.reserve(engine, replace(PLAIN, location="van", job="Barn"), LATER),
        r"\(reserve 2\) stands on it",
    ),
    "its serial went on": (
        lambda engine: desk.receive(engine, replace(NAMED, serial="C3")),
        lambda engine: desk.transfer(engine, replace(NAMED, serial="C3"), "van"),
        r"\(transfer out 1\), \d+ \(transfer in 1\) stand on it",
    ),
    "sold out of it": (
        lambda engine: desk.reserve(engine, replace(PLAIN, job="Barn"), LATER),
        lambda engine: desk.sell(engine, replace(PLAIN, quantity=1, job="Barn")),
        r"\(sell 1\) stands on it",
    ),
    "came back since": (
        lambda engine: desk.sell(engine, NAMED),
        lambda engine: desk.take_back(engine, replace(NAMED), before=True),
        r"\(return 1\) stands on it",
    ),
    "a single is sold": (
        lambda engine: desk.split(engine, PAIR, ["L", "R"]),
        lambda engine: desk.sell(engine, replace(PAIR, single=True, serial="R")),
        r"\(sell 1\) stands on it",
    ),
}


@pytest.mark.parametrize("later", STOOD_ON)
def test_what_later_lines_stand_on_stays_and_they_are_told(shop: sa.Engine, later: str) -> None:
    first, second, told = STOOD_ON[later]
    number = first(shop).done.lines[0]
    last = second(shop).done.lines
    before = _all(shop)
    with pytest.raises(Refused, match=told) as refused:
        desk.undo(shop, number)
    assert str(last[0]) in str(refused.value)
    assert _all(shop) == before
    # what stood on it is undone first, and then it goes
    desk.undo(shop, last[0])
    desk.undo(shop, number)
    with reading(shop) as session:
        assert all(finding.holds for finding in check(session))


def test_what_a_quote_or_nothing_accounts_for_is_refused(shop: sa.Engine) -> None:
    quote = desk.make_quote(shop, "Barn", [Item(CENTRE.name, 1)]).offer.number
    kept = desk.accept_quote(shop, quote).moved[0].lines[0]
    with pytest.raises(Refused, match=f"of quote {quote}: let it go with quote lapse {quote}"):
        desk.undo(shop, kept)
    for number in (0, 9999, 2**31):
        with pytest.raises(NotFound, match=f"no line {number}"):
            desk.undo(shop, number)


def test_two_who_undo_one_line_undo_it_once(shop: sa.Engine) -> None:
    number = desk.receive(shop, PLAIN).done.lines[0]
    outcomes: list[object] = []

    def take_back() -> None:
        try:
            outcomes.append(desk.undo(shop, number))
        except Refused as refusal:
            outcomes.append(refusal)

    threads = [threading.Thread(target=take_back) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(isinstance(outcome, Answer) for outcome in outcomes) == 1
    assert len(outcomes) == 4
