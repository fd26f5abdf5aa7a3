"""Many processes at one stock: what each was told is kept, so that the ledger can be held to it."""

from __future__ import annotations

import multiprocessing
import random
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from triptych.catalog.database import writes
from triptych.catalog.database.engine import open_engine, writing
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Overtaken, Refused
from triptych.catalog.records import LoudspeakerRecord, SoldAs
from triptych.catalog.stock import desk
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.desk import Done, Request
from triptych.catalog.stock.quotes import Item

PAIRS = "Oatfell Tower"
MODELS = (PAIRS, "Oatfell Centre", "Oatfell Wren")
PLACES = ("shop", "store")
START = 12
WARM_UP = 20
OFTEN = ("_sell",) * 6 + ("_transfer",) * 4 + ("_receive",) * 4
BEGUN = ("_reserve",) * 12 + OFTEN
DONE = ("_reserve",) * 8 + ("_release",) * 4 + OFTEN
RARE = ("_quote", "_count", "_split", "_send", "_import")
"""What clerks do, as often as it stands here: without a reservation none can be released."""

processes = multiprocessing.get_context("forkserver")
# a process that has to import everything first would not be in the crowd for the time it takes
processes.set_forkserver_preload(["tests.catalog.stock_crowd", "alembic", "iso4217", "psycopg"])


@dataclass
class Spent:
    """What one kind of thing took: how often it was done, lines written, and processor here, at the server, in all."""

    times: int = 0
    lines: int = 0
    client: float = 0.0
    server: float = 0.0
    whole: float = 0.0

    def add(self, other: Spent) -> None:
        for name in vars(self):
            setattr(self, name, getattr(self, name) + getattr(other, name))


@dataclass
class Told:
    """What one of the crowd was told: numbers of lines that are in the ledger, refusals, and anything else.

    `before` of the lines were written before all began, when each had to connect; `imported` were written by files of
    counts, which tell how many lines they wrote, and not which.
    """

    acknowledged: list[int] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    worst: float = 0.0
    before: int = 0
    sold: int = 0
    received: int = 0
    imported: int = 0
    spent: dict[str, Spent] = field(default_factory=dict)


def open_shop(engine: sa.Engine, start: int = START) -> None:
    """Make the models and receive some of each everywhere."""
    with writing(engine) as session:
        for name in MODELS:
            maker, model = name.split()
            sold_as = SoldAs.PAIR if name == PAIRS else SoldAs.SINGLE
            writes.save_loudspeakers(session, [LoudspeakerRecord(maker=maker, model=model, sold_as=sold_as)])
    for name in MODELS:
        for place in PLACES:
            desk.receive(engine, Request(name, place, start))


class Clerk:
    """One of the crowd."""

    def __init__(self, url: str, seed: int) -> None:
        self.engine = open_engine(url)
        self.random = random.Random(seed)
        self.told = Told()
        self.name = f"job {seed}"
        self.held: list[Request] = []
        self.folder = tempfile.TemporaryDirectory(prefix="count", dir="/tmp")
        self.file = Path(self.folder.name) / "count.csv"
        self.served_by = 0
        sa.event.listen(self.engine, "connect", self._connected)

    def _connected(self, driver: Any, _: object) -> None:
        self.served_by = 0 if self.engine.dialect.name == "sqlite" else driver.info.backend_pid

    def act(self) -> None:
        """Do one thing that a clerk does, and remember what the answer was."""
        kind = self.random.choice((DONE if self.held else BEGUN) + RARE)
        what = getattr(self, kind)
        asked = Request(self.random.choice(MODELS), self.random.choice(PLACES))
        lines, clocks = len(self.told.acknowledged) + self.told.imported, self._clocks()
        start = time.perf_counter()
        try:
            what(asked)
        except (BadInput, NotFound, Refused, Overtaken) as refusal:
            self.told.refused[type(refusal).__name__] += 1
            kind += " refused"
        except (CatalogError, sa.exc.SQLAlchemyError) as problem:
            self.told.wrong.append(repr(problem))
        whole = time.perf_counter() - start
        self.told.worst = max(self.told.worst, whole)
        client, server = (now - before for now, before in zip(self._clocks(), clocks, strict=True))
        lines = len(self.told.acknowledged) + self.told.imported - lines
        self.told.spent.setdefault(kind[1:], Spent()).add(Spent(1, lines, client, server, whole))

    def _clocks(self) -> tuple[float, float]:
        """Give the time of the processor spent here, and by what serves us where that runs on this machine. [s]."""
        try:
            server = int(Path(f"/proc/{self.served_by}/schedstat").read_text(encoding="ascii").split()[0]) / 1e9
        except OSError:
            server = 0.0
        return time.process_time(), server

    def _heard(self, done: Done) -> None:
        self.told.acknowledged += done.lines

    def _reserve(self, asked: Request) -> None:
        until = datetime.now(UTC) + timedelta(seconds=self.random.choice([0.5, 3600]))
        asked = replace(asked, job=self.name)
        self._heard(desk.reserve(self.engine, asked, until).done)
        self.held.append(asked)

    def _release(self, asked: Request) -> None:
        asked = self.held.pop(self.random.randrange(len(self.held)))
        self._heard(desk.release(self.engine, asked).done)

    def _sell(self, asked: Request) -> None:
        if self.held and self.random.random() < 0.5:
            asked = self.held.pop()
        self._sold(desk.sell(self.engine, asked).done)

    def _sold(self, done: Done) -> None:
        self._heard(done)
        self.told.sold += done.quantity

    def _transfer(self, asked: Request) -> None:
        self._heard(desk.transfer(self.engine, asked, self._other(asked)).done)

    def _other(self, asked: Request) -> str:
        return next(place for place in PLACES if place != asked.location)

    def _receive(self, asked: Request) -> None:
        done = desk.receive(self.engine, asked).done
        self._heard(done)
        self.told.received += done.quantity

    def _send(self, asked: Request) -> None:
        sent = desk.transfer(self.engine, asked, self._other(asked), send=True).done
        self._heard(sent)
        for done in desk.arrive(self.engine, sent.lines[0]):
            self._heard(done)

    def _count(self, asked: Request) -> None:
        there = replace(asked, quantity=2 * self.random.randrange(1, START), note="a count of the crowd's")
        self._heard(desk.count(self.engine, there).done)

    def _import(self, asked: Request) -> None:
        rows = "".join(f"{model},{2 * self.random.randrange(1, START)},{asked.location}\n" for model in MODELS)
        self.file.write_text(f"speaker,quantity,location\n{rows}", encoding="utf-8")
        self.told.imported += len(import_counts(self.engine, self.file, f"a count of {self.name}").changes)

    def _split(self, asked: Request) -> None:
        self._heard(desk.split(self.engine, replace(asked, model=PAIRS)).done)

    def _quote(self, asked: Request) -> None:
        items = [Item(model, amount=100, currency="EUR") for model in MODELS]
        number = desk.make_quote(self.engine, self.name, items).offer.number
        for done in desk.accept_quote(self.engine, number).moved:
            self._heard(done)
        if self.random.random() < 0.3:
            for done in desk.lapse_quote(self.engine, number).moved:
                self._heard(done)
            return
        for done in desk.sell_quote(self.engine, number).moved:
            self._sold(done)


def _work(url: str, seed: int, begin: Any, over: Any, answer: Connection) -> None:
    clerk = Clerk(url, seed)
    for _ in range(WARM_UP):
        clerk.act()
    clerk.told.before, clerk.told.worst, clerk.told.imported = len(clerk.told.acknowledged), 0.0, 0
    clerk.told.spent.clear()
    begin.wait()
    while not over.is_set():
        clerk.act()
    clerk.engine.dispose()
    answer.send(clerk.told)


def crowd(url: str, count: int, seconds: float, during: Callable[[], None] = lambda: None) -> tuple[list[Told], float]:
    """Let so many processes work at once, and give what they were told and how long it took. [s].

    `during` is done here while they work; the seconds count from its end.
    """
    begin, over = processes.Barrier(count + 1), processes.Event()
    ends, workers = [], []
    for seed in range(count):
        near, far = processes.Pipe(duplex=False)
        worker = processes.Process(target=_work, args=(url, seed, begin, over, far))
        worker.start()
        far.close()
        ends.append(near)
        workers.append(worker)
    begin.wait()
    start = time.perf_counter()
    during()
    time.sleep(seconds)
    over.set()
    told = [end.recv() for end in ends]
    took = time.perf_counter() - start
    for worker in workers:
        worker.join()
    return told, took


def _write_on(url: str, seed: int, answer: Connection) -> None:
    clerk = Clerk(url, seed)
    sent = 0
    while True:
        clerk.act()
        for number in clerk.told.acknowledged[sent:]:
            answer.send(number)
        sent = len(clerk.told.acknowledged)


def killed_writer(url: str, seed: int, after: float) -> list[int]:
    """Start a writer, kill it in mid-work, and give the numbers of the lines that it had been told are written."""
    near, far = processes.Pipe(duplex=False)
    worker = processes.Process(target=_write_on, args=(url, seed, far))
    worker.start()
    far.close()
    told = [near.recv()]
    time.sleep(after)
    worker.kill()
    try:
        while True:
            told.append(near.recv())
    except EOFError:
        worker.join()
        return told
