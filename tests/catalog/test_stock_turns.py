"""Pairs of clerks who could wait for each other for ever on a server, and a server that goes away under them."""

from __future__ import annotations

import itertools
import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database import attempts
from triptych.catalog.database.engine import open_engine, reading
from triptych.catalog.database.models import Holding, Job, Movement, MovementKind
from triptych.catalog.errors import CatalogError, DatabaseProblem, Overtaken, Refused
from triptych.catalog.stock import desk, desk_cases, ledger, looking, operations
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item

pytestmark = [pytest.mark.crowd, pytest.mark.parametrize("engine", ["postgresql"], indirect=True)]

ROUNDS = 12
SECONDS = 3.0
Call = Callable[[int], Any]


def deadlocks(engine: sa.Engine) -> int:
    """How often the server had to choose one to give way."""
    with engine.connect() as connection:
        connection.execute(sa.text("SELECT pg_stat_force_next_flush()"))
        query = sa.text("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return int(connection.execute(query).scalar_one())


def together(engine: sa.Engine, *calls: Call) -> list[str]:
    """Let each call be made at once with the others, round after round; give what other than a refusal was said."""
    wrong: list[str] = []
    begin = threading.Barrier(len(calls))

    def work(call: Call) -> None:
        for number in range(ROUNDS):
            begin.wait()
            try:
                call(number)
            except Refused:
                pass
            except Exception as problem:  # whatever else it is, it is the finding
                wrong.append(repr(problem))

    threads = [threading.Thread(target=work, args=(call,)) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))
    return wrong


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    shop_in(engine, towers=100, centres=100)
    return engine


def test_a_sale_and_a_reservation_for_the_same_new_job(shop: sa.Engine) -> None:
    def sell(number: int) -> None:
        desk.sell(shop, Request(CENTRE.name, "shop", job=f"job {number}"))

    def reserve(number: int) -> None:
        desk.reserve(shop, Request(CENTRE.name, "shop", job=f"job {number}"), LATER)

    assert together(shop, sell, reserve, sell, reserve) == []
    assert deadlocks(shop) == 0
    with reading(shop) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Job)) == ROUNDS


def test_a_split_and_the_acceptance_of_a_quote(shop: sa.Engine) -> None:
    # the holding of single ones is the older, so that locks in the order of the work would cross
    desk.receive(shop, Request(TOWER.name, "loft", 1, single=True, serial="S0"))
    desk.receive(shop, Request(TOWER.name, "loft", 40))
    items = [Item(TOWER.name, 2), Item(TOWER.name, 1, single=True)]
    numbers = [desk.make_quote(shop, "J", items).offer.number for _ in range(ROUNDS)]

    def split(number: int) -> None:
        desk.split(shop, Request(TOWER.name, "loft"))

    def accept(number: int) -> None:
        desk.accept_quote(shop, numbers[number], location="loft")

    assert together(shop, split, accept) == []
    assert deadlocks(shop) == 0


def test_two_counts_that_make_the_same_new_locations_in_opposite_order(shop: sa.Engine, tmp_path: Path) -> None:
    def files(number: int) -> tuple[Path, Path]:
        places = [f"bay {chr(97 + number)} {place}" for place in range(1, 9)]
        found = []
        for name, order in (("up", places), ("down", places[::-1])):
            path = tmp_path / f"{name}{number}.csv"
            rows = "".join(f"{CENTRE.name},{1 + int(place[-1])},{place}\n" for place in order)
            path.write_text(f"speaker,quantity,location\n{rows}", encoding="utf-8")
            found.append(path)
        return found[0], found[1]

    made = [files(number) for number in range(ROUNDS)]

    def up(number: int) -> None:
        import_counts(shop, made[number][0], "June count")

    def down(number: int) -> None:
        import_counts(shop, made[number][1], "June count")

    assert together(shop, up, down) == []
    assert deadlocks(shop) == 0
    with reading(shop) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Holding)) == 2 + 8 * ROUNDS
        counted = sa.select(sa.func.count()).select_from(Movement).where(Movement.note == "June count")
        assert session.scalar(counted) == 8 * ROUNDS


def test_two_transfers_in_opposite_directions(shop: sa.Engine) -> None:
    desk.receive(shop, Request(CENTRE.name, "store", 50))

    def there(number: int) -> None:
        desk.transfer(shop, Request(CENTRE.name, "shop"), "store")

    def back(number: int) -> None:
        desk.transfer(shop, Request(CENTRE.name, "store"), "shop")

    assert together(shop, there, back, there, back) == []
    assert deadlocks(shop) == 0


def test_who_has_to_give_way_does_it_again(shop: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where an order of locks is missed some day, the server's choice is made good by another attempt."""
    desk.receive(shop, Request(CENTRE.name, "store", 50))
    monkeypatch.setattr(desk_cases, "at_once", lambda *_: None)
    monkeypatch.setattr(ledger, "lock", lambda *_: time.sleep(0.02))

    def there(number: int) -> None:
        desk.transfer(shop, Request(CENTRE.name, "shop"), "store")

    def back(number: int) -> None:
        desk.transfer(shop, Request(CENTRE.name, "store"), "shop")

    with shop.connect() as connection:
        name = connection.execute(sa.text("SELECT current_database()")).scalar_one()
        connection.execute(sa.text(f"ALTER DATABASE {name} SET deadlock_timeout = '20ms'"))
        connection.commit()
    shop.dispose()
    for _ in range(8):
        assert together(shop, there, back) == []
        if deadlocks(shop):
            break
    assert deadlocks(shop) > 0, "nobody had to give way, so this showed nothing"


@contextmanager
def cut_at_random(engine: sa.Engine) -> Iterator[list[int]]:
    """End every other connection to the database, again and again; give how many were ended."""
    own = open_engine(engine.url.render_as_string(hide_password=False))
    done, ended = threading.Event(), [0]
    query = sa.text(
        "SELECT COUNT(pg_terminate_backend(pid)) FROM pg_stat_activity"
        " WHERE datname = current_database() AND pid <> pg_backend_pid()"
    )

    def cut() -> None:
        with own.connect() as connection:
            while not done.wait(random.uniform(0.1, 0.4)):
                ended[0] += int(connection.execute(query).scalar_one())
                connection.commit()

    thread = threading.Thread(target=cut)
    thread.start()
    try:
        yield ended
    finally:
        done.set()
        thread.join()
        own.dispose()


RAW = ("FATAL", "DETAIL", "CONTEXT", "psycopg", "terminating", "server closed", "deadlock", "\n", "sqlalche.me")


def test_connections_that_are_cut_lose_no_line_and_show_no_servers_text(shop: sa.Engine) -> None:
    acknowledged: list[int] = []
    wrong: list[Exception] = []

    def work(seed: int) -> None:
        own = open_engine(shop.url.render_as_string(hide_password=False))
        asked = Request(CENTRE.name, "shop", job=f"job {seed}")
        acts: list[Callable[[], Any]] = [
            lambda: desk.receive(own, replace(asked, job=None)),
            lambda: desk.reserve(own, asked, LATER),
            lambda: desk.sell(own, asked),
            lambda: desk.transfer(own, replace(asked, job=None), "store"),
            lambda: desk.split(own, Request(TOWER.name, "shop")),
        ]
        end = time.monotonic() + SECONDS
        for number in itertools.count():
            if time.monotonic() > end:
                break
            try:
                acknowledged.extend(acts[number % len(acts)]().done.lines)
            except Refused:
                pass
            except Exception as problem:  # whatever it is, it is looked at
                wrong.append(problem)
        own.dispose()

    with cut_at_random(shop) as ended:
        threads = [threading.Thread(target=work, args=(seed,)) for seed in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert ended[0] > 4
    # what was cut while it was asked to be kept cannot be known, and is told so
    assert [repr(one) for one in wrong if not isinstance(one, CatalogError)] == []
    assert all("stand or not" in str(one) for one in wrong), wrong
    assert not any(word in str(one) for one in wrong for word in RAW)
    shop.dispose()
    with reading(shop) as session:
        assert set(acknowledged) <= set(session.scalars(sa.select(Movement.id)))
        assert all(finding.holds for finding in check(session))


def test_who_is_cut_off_while_a_refusal_is_found_out_is_refused(
    shop: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    look, times = looking.look, []

    def cut_once(session: Session, *asked: Any) -> Any:
        times.append(1)
        if len(times) == 1:
            session.execute(sa.text("SELECT pg_terminate_backend(pg_backend_pid())"))
        return look(session, *asked)

    monkeypatch.setattr(looking, "look", cut_once)
    with pytest.raises(Refused, match="100 on hand"):
        desk.reserve(shop, Request(CENTRE.name, "shop", 101, job="J"), LATER)
    assert len(times) == 2


def test_a_server_that_does_not_come_back_is_told_in_our_words(
    shop: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(attempts, "PATIENCE", 0.3)
    gone = open_engine(shop.url.set(query={"host": "/nowhere"}).render_as_string(hide_password=False))
    with pytest.raises(DatabaseProblem, match="no server answers, or it is starting") as told:
        desk.sell(gone, Request(CENTRE.name, "shop"))
    assert not any(word in str(told.value) for word in RAW)
    gone.dispose()


def test_who_is_overtaken_each_time_is_told(shop: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []

    def overtaken(*_: Any) -> None:
        tried.append(1)
        raise Overtaken("others were faster")

    with pytest.raises(Overtaken):
        attempts.until_kept(overtaken)
    assert len(tried) == attempts.ATTEMPTS


def test_returns_at_one_instant_are_of_no_more_than_was_sold(shop: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    # in the second round four want the one that is left, and all have looked before the first has written
    sold, look = 5, operations.never_sold

    def slowly(*asked: Any) -> str | None:
        found = look(*asked)
        time.sleep(0.05)
        return found

    monkeypatch.setattr(operations, "never_sold", slowly)
    desk.sell(shop, Request(CENTRE.name, "shop", sold))
    desk.transfer(shop, Request(CENTRE.name, "shop", 1), "store")

    def back(place: str) -> Call:
        return lambda _: desk.take_back(shop, Request(CENTRE.name, place))

    assert together(shop, back("shop"), back("store"), back("shop"), back("store")) == []
    assert deadlocks(shop) == 0
    with reading(shop) as session:
        query = sa.select(sa.func.sum(Movement.quantity)).where(Movement.kind == MovementKind.RETURN)
        assert session.scalar(query) == sold
