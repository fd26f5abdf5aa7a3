"""Costs against a plain replay: every unit one entry of a list, every rule one line; nothing of ours computes it.

First in, first out per model, finish and grade, or by serial: IAS 2, paragraphs 23 to 27 (specific identification for
units that can be told apart, first in first out for alike ones).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, TOWER, open_shop, shop_in
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import CatalogError
from triptych.catalog.stock import cost_memory, desk
from triptych.catalog.stock.costs import replayed
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.earnings import EarnedBy, earned, stock_value
from triptych.catalog.stock.quote_lines import Item

FINISHES = ("oak", "ash")
JOBS = ("Mill House", "Barn")


@dataclass
class Unit:
    """One loudspeaker, or where it has gone."""

    model: str
    finish: str
    came: int
    cost: int
    serial: str | None
    grade: Grade | str = Grade.NEW
    sold: tuple[int, int, str | None, str | None] | None = None


@dataclass
class Books:
    """Every unit that ever came, in the order in which it came."""

    units: list[Unit] = field(default_factory=list)

    def next_out(self, model: str, finish: str, grade: Grade, serial: str | None, count: int) -> list[Unit]:
        """The one of the serial, else the first that came of those without one."""
        found = [one for one in self.units if (one.model, one.finish, one.grade) == (model, finish, grade)]
        return [one for one in found if one.serial == serial][:count]

    def receive(self, at: int, model: str, finish: str, serial: str | None, count: int, cost: int) -> None:
        self.units += [Unit(model, finish, at, cost, serial) for _ in range(count)]

    def sell(self, at: int, *which: Any, job: str | None, quote: str | None, price: int) -> None:
        for one in self.next_out(*which):
            one.grade, one.sold = "sold", (at, price, job, quote)

    def take_back(self, at: int, model: str, finish: str, serial: str | None, count: int, job: str | None) -> None:
        """What was sold last comes back first, of the job where one is told."""
        out = [one for one in self.units if one.sold and (one.model, one.finish, one.serial) == (model, finish, serial)]
        out.sort(key=lambda one: (one.sold or (0,))[0], reverse=True)
        out.sort(key=lambda one: job is not None and one.sold is not None and one.sold[2] != job)
        for one in out[:count]:
            one.grade, one.sold = Grade.QUARANTINE, None

    def regrade(self, at: int, *which: Any, goal: Grade | str) -> None:
        for one in self.next_out(*which):
            one.grade = goal

    def split(self, at: int, finish: str, grade: Grade, serial: str | None, names: tuple[str, str]) -> None:
        for one, name in zip(self.next_out(TOWER.name, finish, grade, serial, 2), names, strict=True):
            one.serial = name

    def value(self) -> dict[Any, int]:
        found: Counter[Any] = Counter()
        for one in self.units:
            if isinstance(one.grade, Grade):
                found[one.model, one.finish, one.grade.value] += one.cost
        return dict(found)

    def earned(self, place: int) -> dict[Any, tuple[int, int, int]]:
        found: dict[Any, tuple[int, int, int]] = {}
        for one in self.units:
            if one.sold:
                units, net, cost = found.get(one.sold[place], (0, 0, 0))
                found[one.sold[place]] = (units + 1, net + one.sold[1], cost + one.cost)
        return found


Step = Callable[[Books, int], None]


class Week:
    """A random week: each movement at the desk, and what was done in plain books."""

    def __init__(self, engine: sa.Engine, seed: int) -> None:
        self.engine, self.any = engine, random.Random(seed)
        self.done: list[tuple[int | None, Step]] = []
        self.serials: list[str] = []
        self.seen: Counter[str] = Counter()

    def books(self) -> Books:
        """What was undone has never been."""
        found = Books()
        for at, (_, step) in enumerate(self.done):
            step(found, at)
        return found

    def which(self) -> tuple[str, str, Grade, str | None, int]:
        """One that may be there: of a serial, or some without."""
        units = [one for one in self.books().units if isinstance(one.grade, Grade)]
        one = self.any.choice(units) if units else Unit(CENTRE.name, "oak", 0, 0, None)
        grade = one.grade if isinstance(one.grade, Grade) else Grade.NEW
        pair = one.model == TOWER.name and not self.single(one.serial)
        return one.model, one.finish, grade, one.serial, 2 if pair else 1 if one.serial else self.any.randint(1, 2)

    @staticmethod
    def single(serial: str | None) -> bool:
        return serial is not None and serial.endswith(("L", "R"))

    def asked(self, model: str, finish: str, grade: Grade, serial: str | None, count: int, **more: Any) -> Request:
        request = Request(model, "shop", count, grade, finish, serial, single=self.single(serial))
        return replace(request, **more)

    def fresh(self) -> str | None:
        if self.any.random() < 0.6:
            return None
        self.serials.append(f"S{len(self.serials)}")
        return self.serials[-1]

    def receive(self) -> tuple[Any, Step]:
        model, finish, serial = self.any.choice((CENTRE.name, TOWER.name)), self.any.choice(FINISHES), self.fresh()
        count = 2 if model == TOWER.name else 1 if serial else self.any.randint(1, 3)
        cost = self.any.randint(100, 999) * 100
        money = {"amount": cost, "currency": "EUR"}
        answer = desk.receive(self.engine, self.asked(model, finish, Grade.NEW, serial, count, **money))
        return answer, lambda books, at: books.receive(at, model, finish, serial, count, cost)

    def sell(self) -> tuple[Any, Step]:
        which, job, price = self.which(), self.any.choice((*JOBS, None)), self.any.randint(100, 999) * 100
        answer = desk.sell(self.engine, self.asked(*which, job=job, amount=price, currency="EUR"))
        return answer, lambda books, at: books.sell(at, *which, job=job, quote=None, price=price)

    def quote(self) -> tuple[Any, Step]:
        model, finish, grade, serial, count = self.which()
        price = self.any.randint(100, 999) * 100
        # of one, with its tax of a fifth
        item = Item(model, count, grade, finish, price * 6 // 5, "EUR", single=self.single(serial))
        number = desk.make_quote(self.engine, "Barn", [item], location="shop").offer.number
        try:
            desk.accept_quote(self.engine, number, location="shop", serials=[serial] if serial else [])
        except CatalogError:
            desk.lapse_quote(self.engine, number)
            raise
        desk.sell_quote(self.engine, number)
        which = (model, finish, grade, serial, count)
        return None, lambda books, at: books.sell(at, *which, job="Barn", quote=str(number), price=price)

    def take_back(self) -> tuple[Any, Step]:
        out = [one for one in self.books().units if one.sold]
        one = self.any.choice(out) if out else Unit(CENTRE.name, "oak", 0, 0, None)
        job = one.sold[2] if one.sold and self.any.random() < 0.7 else None
        count = 2 if one.model == TOWER.name and not self.single(one.serial) else 1
        which = (one.model, one.finish, one.serial, count)
        asked = self.asked(one.model, one.finish, Grade.QUARANTINE, one.serial, count, job=job)
        return desk.take_back(self.engine, asked), lambda books, at: books.take_back(at, *which, job)

    def regrade(self) -> tuple[Any, Step]:
        which, goal = self.which(), self.any.choice((Grade.NEW, Grade.DEMO, Grade.B_STOCK))
        answer = desk.regrade(self.engine, self.asked(*which), goal, which[2])
        return answer, lambda books, at: books.regrade(at, *which, goal=goal)

    def write_off(self) -> tuple[Any, Step]:
        which = self.which()
        answer = desk.write_off(self.engine, self.asked(*which, note="fell"))
        return answer, lambda books, at: books.regrade(at, *which, goal="gone")

    def transfer(self) -> tuple[Any, Step]:
        which = self.which()
        answer = desk.transfer(self.engine, self.asked(*which), "van")
        desk.transfer(self.engine, self.asked(*which, location="van"), "shop")
        return answer, lambda books, at: None

    def split(self) -> tuple[Any, Step]:
        model, finish, grade, serial, count = self.which()
        names = (f"{len(self.done)}-{len(self.serials)}L", f"{len(self.done)}-{len(self.serials)}R")
        answer = desk.split(self.engine, self.asked(model, finish, grade, serial, count), names)
        return answer, lambda books, at: books.split(at, finish, grade, serial, names)

    def undo(self) -> None:
        """Take back one of the last movements; what later ones stand on is refused."""
        place = len(self.done) - self.any.choice((1, 1, 2, 3, 5))
        number = self.done[place][0] if place >= 0 else None
        if number is not None:
            desk.undo(self.engine, number)
            del self.done[place]

    def day(self) -> None:
        kinds = ("receive", "receive", "sell", "sell", "quote", "take_back", "take_back", "regrade", "regrade")
        kind = self.any.choice((*kinds, "write_off", "transfer", "split", "split", "undo", "undo"))
        try:
            found = getattr(self, kind)()
        except CatalogError:
            return
        self.seen[kind] += 1
        if found:
            answer, step = found
            self.done.append((answer.done.lines[0] if answer and kind != "transfer" else None, step))

    def matches(self) -> None:
        plain = self.books()
        with reading(self.engine) as session:
            value = {(one.speaker, one.finish, one.grade): int((one.cost or 0) * 100) for one in stock_value(session)}
            assert value == plain.value()
            for by, place in ((EarnedBy.JOB, 2), (EarnedBy.QUOTE, 3)):
                found = {one.key: (one.units, int(one.net * 100), int(one.cost * 100)) for one in earned(session, by)}
                assert found == plain.earned(place)


@pytest.mark.examples
@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.examples) for seed in range(1, 6))])
def test_costs_are_those_of_a_plain_replay(engine: sa.Engine, seed: int) -> None:
    shop_in(engine)
    week = Week(engine, seed)
    for _ in range(40):
        week.day()
        week.matches()


AT = Request(CENTRE.name, "shop", 1, finish="oak", currency="EUR")
PAIR = Request(TOWER.name, "shop", 2, finish="oak", currency="EUR")


def _fill(engine: sa.Engine) -> None:
    """Two that cost 300 and 330, sold for 400 to the one job and 500 to the other."""
    shop_in(engine)
    for cost in (30000, 33000):
        desk.receive(engine, replace(AT, amount=cost))
    desk.sell(engine, replace(AT, amount=40000, job="Mill House"))
    desk.sell(engine, replace(AT, amount=50000, job="Barn"))


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _left(engine: sa.Engine) -> dict[str | None, tuple[int, int, int]]:
    with reading(engine) as session:
        return {one.key: (one.units, int(one.net), int(one.cost)) for one in earned(session, EarnedBy.JOB)}


def test_what_a_job_brings_back_is_its_own_and_no_other_jobs(shop: sa.Engine) -> None:
    desk.take_back(shop, replace(AT, job="Mill House"))
    assert _left(shop) == {"Barn": (1, 500, 330)}


def test_a_return_that_is_undone_leaves_the_sale_at_its_price(shop: sa.Engine) -> None:
    before = _left(shop)
    desk.undo(shop, desk.take_back(shop, replace(AT, job="Mill House")).done.lines[0])
    assert _left(shop) == before == {"Mill House": (1, 400, 300), "Barn": (1, 500, 330)}


def test_a_single_costs_what_its_pair_did(engine: sa.Engine) -> None:
    shop_in(engine)
    for cost in (30000, 50000):
        desk.receive(engine, replace(PAIR, amount=cost, serial=f"P{cost}"))
    desk.split(engine, replace(PAIR, serial="P50000"), ["A", "B"])
    desk.sell(engine, replace(PAIR, quantity=1, single=True, serial="A", amount=60000, job="Barn"))
    assert _left(engine) == {"Barn": (1, 600, 500)}


def _costs(engine: sa.Engine, number: int) -> tuple[dict[Any, Any], dict[Any, Any]]:
    """Give what is there by what it cost, as it is remembered and as the whole ledger says."""
    with reading(engine) as session:
        kept = cost_memory.costs_of(session, [number], date(2026, 1, 1)).replayed[number].there
        read = replayed(session, [number])[number].there
        return ({sort: found for sort, found in one.items() if found} for one in (kept, read))  # type: ignore[return-value]  # a pair


@pytest.mark.whole
def test_remembered_costs_are_those_of_the_whole_ledger(engine: sa.Engine) -> None:
    chance = random.Random(7)
    with writing(engine) as session:
        number = open_shop(session, centres=9).centre
    shop = Request(CENTRE.name, "shop", note="June")
    for step in range(40):
        what = chance.choice(
            ("receive", "receive", "sell", "sell", "transfer", "count", "take_back", "regrade", "merge")
        )
        try:
            if what == "receive":
                desk.receive(engine, replace(shop, quantity=chance.randrange(1, 4), amount=100 + step, currency="EUR"))
            elif what == "sell":
                desk.sell(engine, replace(shop, job=chance.choice((*JOBS, f"job {step}"))))
            elif what == "transfer":
                desk.transfer(engine, shop, "store")
            elif what == "count":
                desk.count(engine, replace(shop, quantity=chance.randrange(4, 12)))
            elif what == "take_back":
                desk.take_back(engine, replace(shop, job=chance.choice(JOBS)))
            elif what == "regrade":
                desk.regrade(engine, shop, Grade.DEMO)
            else:
                desk.merge_jobs(engine, f"job {step - 1}", chance.choice(JOBS))
        except CatalogError:
            continue
        kept, read = _costs(engine, number)
        assert kept == read, (step, what)


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_a_line_that_got_its_number_earlier_and_came_later_is_not_passed_over(engine: sa.Engine) -> None:
    with writing(engine) as session:
        number = open_shop(session, centres=5).centre
    desk.receive(engine, Request(CENTRE.name, "store", 2, amount=100, currency="EUR"))
    late = "INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, amount, currency)"
    with engine.connect() as connection:
        connection.exec_driver_sql(
            f"{late} SELECT {number}, MAX(id), 'receive', 1, 1, 7, 'EUR' FROM holding WHERE loudspeaker_id = {number}"
        )
        desk.receive(engine, Request(CENTRE.name, "shop", amount=9, currency="EUR"))
        kept, read = _costs(engine, number)
        assert kept == read
        connection.commit()
    kept, read = _costs(engine, number)
    assert kept == read
    assert {layer.amount for found in kept.values() for layer in found} == {None, 100, 7, 9}
