"""Many processes at one stock: what each was told is kept, so that the ledger can be held to it."""

from __future__ import annotations

import multiprocessing
import random
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from typing import Any

import sqlalchemy as sa

from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import open_engine, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stock.lines import Line

MODELS = ("Tower", "Centre", "Wren")
PLACES = ("shop", "store")
START = 12
WARM_UP = 20
BEGUN = ("_reserve",) * 6 + ("_sell",) * 3 + ("_transfer",) * 2 + ("_receive",) * 2
DONE = ("_reserve",) * 4 + ("_release",) * 2 + BEGUN[6:]
"""What clerks do, as often as it stands here: without a reservation none can be released."""

processes = multiprocessing.get_context("forkserver")
# a process that has to import everything first would not be in the crowd for the time it takes
processes.set_forkserver_preload(["tests.catalog.stock_crowd", "alembic", "psycopg"])


@dataclass
class Told:
    """What one of the crowd was told: numbers of lines that are in the ledger, refusals, and anything else.

    `before` of the lines were written before all began, when each had to connect.
    """

    acknowledged: list[int] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    worst: float = 0.0
    before: int = 0
    sold: int = 0
    received: int = 0


def open_shop(engine: sa.Engine, start: int = START) -> list[int]:
    """Make the models and receive some of each everywhere."""
    records = [LoudspeakerRecord(maker="Oatfell", model=model) for model in MODELS]
    with writing(engine) as session:
        writes.save_loudspeakers(session, records)
        numbers = [reads.stored(session, record.name).id for record in records]
        for number in numbers:
            for place in PLACES:
                stock.record_movement(session, Line(number, MovementKind.RECEIVE, start, place))
    return numbers


class Clerk:
    """One of the crowd."""

    def __init__(self, url: str, models: list[int], seed: int) -> None:
        self.engine = open_engine(url)
        self.models = models
        self.random = random.Random(seed)
        self.told = Told()
        self.name = f"job {seed}"
        self.held: list[tuple[int, int, str]] = []

    def act(self) -> None:
        """Do one thing that a clerk does, and remember what the answer was."""
        what = getattr(self, self.random.choice(DONE if self.held else BEGUN))
        start = time.perf_counter()
        try:
            self.told.acknowledged += what(self.random.choice(self.models), self.random.choice(PLACES))
        except (BadInput, NotFound, Refused) as refusal:
            self.told.refused[type(refusal).__name__] += 1
        except (CatalogError, sa.exc.SQLAlchemyError) as problem:
            self.told.wrong.append(repr(problem))
        self.told.worst = max(self.told.worst, time.perf_counter() - start)

    def _reserve(self, model: int, place: str) -> list[int]:
        until = datetime.now(UTC) + timedelta(seconds=self.random.choice([0.5, 3600]))
        line = Line(model, MovementKind.RESERVE, 1, place, job=self.name, until=until)
        number = stock.post(self.engine, line)
        self.held.append((number, model, place))
        return [number]

    def _release(self, model: int, place: str) -> list[int]:
        number, model, place = self.held.pop(self.random.randrange(len(self.held)))
        line = Line(model, MovementKind.RELEASE, 1, place, job=self.name, reservation_id=number)
        return [stock.post(self.engine, line)]

    def _sell(self, model: int, place: str) -> list[int]:
        number = job = None
        if self.held and self.random.random() < 0.5:
            number, model, place = self.held.pop()
            job = self.name
        line = Line(model, MovementKind.SELL, 1, place, job=job, reservation_id=number)
        found = [stock.post(self.engine, line)]
        self.told.sold += 1
        return found

    def _transfer(self, model: int, place: str) -> list[int]:
        to = next(other for other in PLACES if other != place)
        return stock.post_transfer(self.engine, Line(model, MovementKind.SELL, 1, place), to)

    def _receive(self, model: int, place: str) -> list[int]:
        found = [stock.post(self.engine, Line(model, MovementKind.RECEIVE, 1, place))]
        self.told.received += 1
        return found


def _work(url: str, models: list[int], seed: int, seconds: float, begin: Any, answer: Connection) -> None:
    clerk = Clerk(url, models, seed)
    for _ in range(WARM_UP):
        clerk.act()
    clerk.told.before, clerk.told.worst = len(clerk.told.acknowledged), 0.0
    begin.wait()
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        clerk.act()
    clerk.engine.dispose()
    answer.send(clerk.told)


def crowd(url: str, models: list[int], count: int, seconds: float) -> tuple[list[Told], float]:
    """Let so many processes work at once, and give what they were told and how long it took. [s]."""
    begin = processes.Barrier(count + 1)
    ends, workers = [], []
    for seed in range(count):
        near, far = processes.Pipe(duplex=False)
        worker = processes.Process(target=_work, args=(url, models, seed, seconds, begin, far))
        worker.start()
        far.close()
        ends.append(near)
        workers.append(worker)
    begin.wait()
    start = time.perf_counter()
    told = [end.recv() for end in ends]
    took = time.perf_counter() - start
    for worker in workers:
        worker.join()
    return told, took


def _write_on(url: str, models: list[int], seed: int, answer: Connection) -> None:
    clerk = Clerk(url, models, seed)
    sent = 0
    while True:
        clerk.act()
        for number in clerk.told.acknowledged[sent:]:
            answer.send(number)
        sent = len(clerk.told.acknowledged)


def killed_writer(url: str, models: list[int], seed: int, after: float) -> list[int]:
    """Start a writer, kill it in mid-work, and give the numbers of the lines that it had been told are written."""
    near, far = processes.Pipe(duplex=False)
    worker = processes.Process(target=_write_on, args=(url, models, seed, far))
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
