"""A mistyped movement is taken back whole: all that there was is there again, and the ledger keeps both."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from tests.quick_ones import quick_of
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind, Quote, QuoteState
from triptych.catalog.errors import NotFound, Refused
from triptych.catalog.stock import desk, ledger, suppliers
from triptych.catalog.stock.articles import sold_and_out
from triptych.catalog.stock.costs import layers
from triptych.catalog.stock.desk import Answer, Request
from triptych.catalog.stock.movement_lines import MovementLine
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item, QuotePart
from triptych.catalog.stock.reading import reservations, stock_list

PLAIN = Request(CENTRE.name, "shop", 2)
NAMED = Request(CENTRE.name, "shop", serial="A1")
PAIR = Request(TOWER.name, "shop")
DEMO = replace(PLAIN, grade=Grade.DEMO)
MILL = replace(PLAIN, job="Mill House")


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
    "carry": lambda engine: desk.transfer(engine, MILL, "van"),
    "carry what is promised twice": lambda engine: desk.transfer(engine, replace(MILL, quantity=4), "van"),
    "carry what a quote keeps": lambda engine: desk.transfer(engine, MILL, "van"),
    "carry on from the van": lambda engine: desk.transfer(engine, replace(MILL, location="van"), "loft"),
    "sell what was promised twice": lambda engine: desk.sell(engine, replace(MILL, quantity=3)),
    "release what was promised twice": lambda engine: desk.release(engine, replace(MILL, quantity=3)),
    "lend": lambda engine: desk.lend(engine, replace(DEMO, job="Barn"), LATER),
    "bring back": lambda engine: desk.bring_back(engine, replace(DEMO, job="Barn")),
    "bring back two loans": lambda engine: desk.bring_back(engine, replace(DEMO, job="Barn")),
    "join": lambda engine: desk.join(engine, PAIR, ["L", "R"]),
    "deliver a part of a quote": lambda engine: _part(engine),
    "write off": lambda engine: desk.write_off(engine, replace(PLAIN, note="fell")),
    "write off a serial": lambda engine: desk.write_off(engine, replace(NAMED, note="fell")),
}


BEFORE: dict[str, Callable[[sa.Engine], object]] = {
    "count down": lambda engine: desk.release(engine, MILL),
    "carry what is promised twice": lambda engine: desk.reserve(engine, MILL, LATER + timedelta(days=1)),
    "carry what a quote keeps": lambda engine: _accepted(engine, 2),
    "carry on from the van": lambda engine: desk.transfer(engine, MILL, "van"),
    "sell what was promised twice": lambda engine: desk.reserve(engine, replace(MILL, quantity=1), LATER),
    "release what was promised twice": lambda engine: desk.reserve(engine, replace(MILL, quantity=1), LATER),
    "bring back": lambda engine: desk.lend(engine, replace(DEMO, job="Barn"), LATER),
    "bring back two loans": lambda engine: (
        desk.lend(engine, replace(DEMO, job="Barn", quantity=1), LATER),
        desk.lend(engine, replace(DEMO, job="Barn", quantity=1), LATER),
    ),
    "join": lambda engine: desk.split(engine, PAIR, ["L", "R"]),
    "deliver a part of a quote": lambda engine: _accepted(engine, 3),
}
"""What is there before a thing is done."""


OFTEN = (
    *("receive", "reserve", "release", "sell", "sell what was promised", "transfer"),
    *("count down", "lend"),
)


@pytest.mark.parametrize("done", quick_of(DONE, OFTEN))
def test_what_is_undone_leaves_all_as_it_was(shop: sa.Engine, done: str) -> None:
    if done in BEFORE:
        BEFORE[done](shop)
    before = _all(shop)
    answer = DONE[done](shop)
    assert _all(shop) != before
    # any line of what has several may be named
    number = answer.done.lines[-1]
    undone = desk.undo(shop, number, "mistyped", "ann")
    assert _all(shop) == before
    same = (undone.done.speaker, undone.done.location, undone.done.grade)
    there = [row.on_hand for row in before["there"] if (row.speaker, row.location, row.grade) == same]
    assert undone.done.on_hand in (there or [0])
    with reading(shop) as session:
        assert [finding for finding in check(session) if not finding.holds] == []
        lines = sa.select(Movement.note, Movement.undoes_id).where(Movement.id.in_(undone.done.lines))
        written = session.execute(lines).all()
    assert {note for note, _ in written} == {f"undo of line {line}: mistyped" for _, line in written}
    assert {line for _, line in written} <= set(answer.done.lines)
    for again in {number, answer.done.lines[0]}:
        with pytest.raises(Refused, match="undone already"):
            desk.undo(shop, again)
    with pytest.raises(Refused, match="is itself an undo of line"):
        desk.undo(shop, undone.done.lines[-1])


def _accepted(engine: sa.Engine, units: int) -> int:
    """Make and accept a quote of so many centres for the job that holds two."""
    number = desk.make_quote(engine, "Mill House", [Item(CENTRE.name, units)]).offer.number
    desk.accept_quote(engine, number)
    return number


def _part(engine: sa.Engine) -> Answer:
    """Deliver one of the first quote."""
    return Answer(desk.sell_quote(engine, 1, parts=[QuotePart(CENTRE.name, 1)]).moved[0], ())


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


@pytest.mark.parametrize("later", quick_of(STOOD_ON, ["sold since", "promised since"]))
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
    with pytest.raises(Refused, match=f"of quote {quote}, which accounts for it: .* with quote lapse {quote}"):
        desk.undo(shop, kept)
    for number in (0, 9999, 2**31):
        with pytest.raises(NotFound, match=f"no line {number}"):
            desk.undo(shop, number)


def test_the_delivery_that_completes_a_quote_is_taken_back_and_made_again(shop: sa.Engine) -> None:
    quote = desk.make_quote(shop, "Barn", [Item(CENTRE.name, 2)]).offer.number
    desk.accept_quote(shop, quote)
    before = _all(shop)
    desk.sell_quote(shop, quote, parts=[QuotePart(CENTRE.name, 1)])
    between = _all(shop)
    for _ in range(2):
        last = desk.sell_quote(shop, quote).moved[0].lines[0]
        assert f"quote {quote} is accepted again" in " ".join(desk.undo(shop, last).remarks)
        assert _all(shop) == between
        with reading(shop) as session:
            assert session.scalar(sa.select(Quote.state)) is QuoteState.ACCEPTED
            assert all(finding.holds for finding in check(session))
    # the part before it goes as well, though all was delivered since
    last = desk.sell_quote(shop, quote).moved[0].lines[0]
    with reading(shop) as session:
        of_quote = (Movement.kind == MovementKind.SELL, Movement.quote_id == quote)
        first = session.scalar(sa.select(sa.func.min(Movement.id)).where(*of_quote))
    desk.undo(shop, first or 0)
    desk.undo(shop, last)
    assert _all(shop) == before
    step = desk.sell_quote(shop, quote, parts=[QuotePart(CENTRE.name, 1)])
    desk.lapse_quote(shop, quote)
    with pytest.raises(Refused, match=f"of quote {quote}, which has lapsed: .* with stock return"):
        desk.undo(shop, step.moved[0].lines[0])


def test_two_sales_that_follow_at_once_are_two_deeds(shop: sa.Engine) -> None:
    held = desk.reserve(shop, replace(PLAIN, quantity=3, job="Barn"), LATER).done.lines
    sold = [desk.sell(shop, replace(PLAIN, quantity=units, job="Barn")).done.lines for units in (1, 2)]
    undone = desk.undo(shop, sold[1][0])
    assert (undone.done.quantity, "as one deed" in " ".join(undone.remarks)) == (2, False)
    with reading(shop) as session:
        numbers = session.scalars(sa.select(Movement.deed_number).where(Movement.id.in_([*held, *sold[0], *sold[1]])))
        assert len(set(numbers)) == 3
        assert all(finding.holds for finding in check(session))


def test_what_a_quote_took_up_is_not_promised_to_its_job_once_more(shop: sa.Engine) -> None:
    _accepted(shop, 2)
    with reading(shop) as session:
        (freed,) = session.scalars(sa.select(Movement.id).where(Movement.kind == MovementKind.RELEASE))
    with pytest.raises(Refused, match="of quote 1, which accounts for it"):
        desk.undo(shop, freed)


@pytest.mark.whole
def test_a_receipt_takes_its_promise_along_and_the_promise_goes_alone(shop: sa.Engine) -> None:
    with writing(shop) as session:
        suppliers.save_supplier(session, "Harbour", 9)
        order = suppliers.order(session, CENTRE.name, 3, "Harbour", job="Barn")
    before = _all(shop)
    for _ in range(2):
        came = desk.receive(shop, replace(PLAIN, quantity=3, order=order)).done.lines
        desk.undo(shop, came[0])
        assert _all(shop) == before
    came = desk.receive(shop, replace(PLAIN, quantity=3, order=order)).done.lines
    desk.undo(shop, came[1])
    assert _all(shop)["held"] == before["held"]
    desk.undo(shop, came[0])
    assert _all(shop) == before


def test_what_was_carried_and_sold_there_is_refused_and_the_sale_told(shop: sa.Engine) -> None:
    freed, left, came, kept = desk.transfer(shop, MILL, "van").done.lines
    sold = desk.sell(shop, replace(MILL, location="van", quantity=1)).done.lines[0]
    before = _all(shop)
    for number in (freed, left, came, kept):
        with pytest.raises(Refused, match=rf"line {sold} \(sell 1\) stands on it"):
            desk.undo(shop, number)
    assert _all(shop) == before


@pytest.mark.whole
def test_a_promise_let_go_of_here_and_kept_elsewhere_is_found(shop: sa.Engine) -> None:
    """As the program undid one line of what was carried, until it took all of them."""
    freed = desk.transfer(shop, MILL, "van").done.lines[0]
    with writing(shop) as session:
        row = session.get_one(Movement, freed)
        again = MovementLine(row.loudspeaker_id, MovementKind.RESERVE, 2, "shop", job="Mill House", until=LATER)
        ledger.record_movement(session, replace(again, undoes_id=freed))
    with reading(shop) as session:
        (wrong,) = [finding for finding in check(session) if not finding.holds]
    assert "promised twice" in wrong.breaches[0]
    # what is left of the deed can be undone still, and then all is well
    desk.undo(shop, freed + 3)
    with reading(shop) as session:
        assert all(finding.holds for finding in check(session))


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
