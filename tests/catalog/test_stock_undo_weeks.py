"""Random weeks at a desk in which anything is undone at any time, beside books kept in plain Python.

What a deed changed is taken from what there was before and after it; its undo must change that back, line by line of
the books, or be refused with a reason and change nothing.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, on_hand_by_replay, open_shop
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, Movement
from triptych.catalog.errors import CatalogError, Refused
from triptych.catalog.stock import desk, suppliers
from triptych.catalog.stock.articles import sold_and_out
from triptych.catalog.stock.desk import Answer, Request, Step
from triptych.catalog.stock.movement_lines import LENT
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.quotes import Item, QuotePart
from triptych.catalog.stock.reading import reservations, stock_list

Books = Counter[tuple[str, ...]]

JOBS = ("Barn", "Mill House")
PLACES = ("shop", "van")


def _fill(engine: sa.Engine) -> None:
    with writing(engine) as session:
        open_shop(session, towers=8, centres=9)
        suppliers.save_supplier(session, "Harbour", 9)
        for _ in range(3):
            suppliers.order(session, CENTRE.name, 4, "Harbour", job="Barn")


def _books(engine: sa.Engine) -> Books:
    """Give what stands where, what is promised to whom where, and what is sold."""
    found: Books = Counter()
    with reading(engine) as session:
        for row in stock_list(session, include_empty=True):
            found["there", row.speaker, row.location, row.grade, str(row.pack)] += row.on_hand
            for serial in row.serials:
                found["serial", row.speaker, serial, row.location, row.grade] += 1
        for held in reservations(session):
            found["held", held.speaker, held.job, held.location, str(held.pack), str(held.until)] += held.units
        numbers = session.scalars(sa.select(Movement.loudspeaker_id).distinct()).all()
        for number, units in sold_and_out(session, numbers).items():
            found["sold", str(number)] += units
        for offer in offers(session):
            for line in offer.lines:
                found["delivered", str(offer.number), line.speaker] += line.delivered
    return +found


@dataclass
class Deed:
    """What was done by which lines, and how the books changed by it."""

    what: str
    lines: tuple[int, ...]
    change: dict[tuple[str, ...], int]


class Week:
    """A desk at which somebody does anything, and undoes it."""

    def __init__(self, engine: sa.Engine, seed: int) -> None:
        self.engine, self.draw = engine, random.Random(seed)
        self.deeds: list[Deed] = []
        self.undone: Counter[str] = Counter()
        self.refused: list[str] = []
        self.serial = 0

    def step(self) -> None:
        """Do one thing, or undo one."""
        before = _books(self.engine)
        if self.deeds and self.draw.random() < 0.4:
            self._undo(before)
            return
        what = self.draw.choice(list(DOINGS))
        try:
            answer = DOINGS[what](self)
        except CatalogError:
            assert _books(self.engine) == before
            return
        moved = [answer.done] if isinstance(answer, Answer) else list(answer.moved)
        lines = tuple(number for one in moved for number in one.lines)
        if lines:
            self.deeds.append(Deed(what, lines, _difference(before, _books(self.engine))))

    def _undo(self, before: Books) -> None:
        deed = self.draw.choice(self.deeds)
        # a promise that a receipt made can be undone by itself, which is another thing
        number = deed.lines[0] if deed.what == "come for a job" else self.draw.choice(deed.lines)
        answer = self._asked_to_undo(number)
        if isinstance(answer, str):
            assert f"line {number} " in answer, answer
            assert "nothing was written" in answer
            assert _books(self.engine) == before
            self.refused.append(answer)
            return
        assert answer.done.lines
        changed = {key: -units for key, units in _difference(before, _books(self.engine)).items()}
        if deed.what == "come for a job" and changed != deed.change:
            # what was reserved of it had been let go of since
            assert {key[0] for key in changed} <= {"there", "serial"}
        else:
            assert changed == deed.change, (deed, number)
        self.deeds.remove(deed)
        self.undone[deed.what] += 1

    def _asked_to_undo(self, number: int) -> Answer | str:
        try:
            return desk.undo(self.engine, number)
        except Refused as refusal:
            return str(refusal)

    def some(self, model: str = CENTRE.name, **about: Any) -> Request:
        """Ask for one or two of a model where they stand."""
        quantity = 2 if model == TOWER.name else self.draw.choice((1, 1, 2, 3))
        return replace(Request(model, self.draw.choice(PLACES), quantity), **about)

    def job(self) -> str:
        """Name a job."""
        return self.draw.choice(JOBS)

    def named(self) -> str:
        """Name a serial."""
        self.serial += 1
        return f"S{self.serial}"

    def quote(self) -> int:
        """Give a quote that is accepted, or make one and accept it."""
        with reading(self.engine) as session:
            found = [one.number for one in offers(session) if one.state == "accepted"]
        return self.draw.choice(found) if found else 0


def _difference(before: Books, after: Books) -> dict[tuple[str, ...], int]:
    keys = before.keys() | after.keys()
    return {key: after[key] - before[key] for key in sorted(keys) if after[key] != before[key]}


def _accept(week: Week) -> Step:
    items = [Item(CENTRE.name, week.draw.choice((1, 3))), Item(TOWER.name, 2)]
    number = desk.make_quote(week.engine, week.job(), items).offer.number
    return replace(desk.accept_quote(week.engine, number), moved=())


def _deliver(week: Week) -> Step:
    parts = [QuotePart(CENTRE.name, 1)] + [QuotePart(TOWER.name, 2)] * week.draw.randint(0, 1)
    return desk.sell_quote(week.engine, week.quote(), parts=parts)


def _split(week: Week) -> Answer:
    return desk.split(week.engine, week.some(TOWER.name), [week.named(), week.named()])


def _join(week: Week) -> Answer:
    place = week.draw.choice(PLACES)
    with reading(week.engine) as session:
        there = [row for row in stock_list(session) if (row.speaker, row.location) == (TOWER.name, place)]
    serials = [serial for row in there if row.pack == 1 and row.grade == "new" for serial in row.serials]
    return desk.join(week.engine, Request(TOWER.name, place), serials[:2])


def _come(week: Week) -> Answer:
    return desk.receive(week.engine, week.some(order=week.draw.randint(1, 3)))


DOINGS: dict[str, Callable[[Week], Answer | Step]] = {
    "receive": lambda week: desk.receive(week.engine, week.some()),
    "receive a serial": lambda week: desk.receive(week.engine, week.some(quantity=1, serial=week.named())),
    "receive pairs": lambda week: desk.receive(week.engine, week.some(TOWER.name)),
    "come for a job": _come,
    "reserve": lambda week: desk.reserve(week.engine, week.some(job=week.job()), LATER),
    "reserve pairs": lambda week: desk.reserve(week.engine, week.some(TOWER.name, job=week.job()), LATER),
    "release": lambda week: desk.release(week.engine, week.some(job=week.job())),
    "sell": lambda week: desk.sell(week.engine, week.some()),
    "sell for a job": lambda week: desk.sell(week.engine, week.some(job=week.job())),
    "move": lambda week: desk.transfer(week.engine, week.some(), week.draw.choice(PLACES)),
    "send": lambda week: desk.transfer(week.engine, week.some(), week.draw.choice(PLACES), send=True),
    "carry": lambda week: desk.transfer(week.engine, week.some(job=week.job()), week.draw.choice(PLACES)),
    "carry pairs": lambda week: desk.transfer(week.engine, week.some(TOWER.name, job=week.job()), "van"),
    "lend": lambda week: desk.lend(week.engine, week.some(job=week.job()), LATER),
    "bring back": lambda week: desk.bring_back(week.engine, week.some(job=week.job())),
    "sell what is lent": lambda week: desk.sell(
        week.engine, replace(week.some(job="Barn"), location=LENT.format("Barn"))
    ),
    "split": _split,
    "join": _join,
    "accept": _accept,
    "deliver": _deliver,
    "take back": lambda week: desk.take_back(week.engine, week.some(quantity=1)),
    "regrade": lambda week: desk.regrade(week.engine, week.some(), Grade.DEMO, Grade.NEW),
    "out of quarantine": lambda week: desk.regrade(week.engine, week.some(), Grade.NEW, Grade.QUARANTINE),
    "count": lambda week: desk.count(week.engine, week.some(quantity=week.draw.randint(0, 12), note="counted")),
    "write off": lambda week: desk.write_off(week.engine, week.some(note="fell")),
}


@pytest.mark.examples
@pytest.mark.parametrize("seed", range(3))
def test_whatever_is_undone_changes_back_what_it_changed_or_is_refused(engine: sa.Engine, seed: int) -> None:
    week = Week(filled(engine, _fill), seed)
    for _ in range(60):
        week.step()
    with reading(engine) as session:
        assert [finding for finding in check(session) if not finding.holds] == []
        there = Counter(on_hand_by_replay(session))
        assert sum(there.values()) == sum(row.on_hand for row in stock_list(session))
    assert week.undone.total() > 5
    assert all("; nothing was written" in said for said in week.refused)


def hold_for(engine: sa.Engine, seeds: range, steps: int = 80) -> Counter[str]:
    """Walk through many weeks by hand, each in the same catalogue, and count what was undone."""
    undone: Counter[str] = Counter()
    for seed in seeds:
        week = Week(engine, seed)
        week.serial = 1000 * seed
        for _ in range(steps):
            week.step()
        undone += week.undone
        with reading(engine) as session:
            assert [finding for finding in check(session) if not finding.holds] == [], seed
    return undone
