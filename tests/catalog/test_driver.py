"""The connection that a thread keeps: one and the same, given back with the thread, closed with the engine."""

from __future__ import annotations

import threading
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import open_shop
from triptych.catalog import stock
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.driver import driver_connection
from triptych.catalog.errors import DatabaseProblem


def test_a_thread_keeps_one_connection_and_another_thread_has_its_own(engine: sa.Engine) -> None:
    seen: list[Any] = []

    def look() -> None:
        with driver_connection(engine) as driver:
            seen.append(driver)

    look()
    look()
    other = threading.Thread(target=look)
    other.start()
    other.join()
    assert seen[0] is seen[1]
    assert seen[2] is not seen[0]


def test_threads_that_end_give_theirs_back(engine: sa.Engine) -> None:
    """More threads, one after the other, than the pool has connections."""

    def look() -> None:
        with driver_connection(engine) as driver:
            driver.execute("SELECT 1")
            getattr(driver, "rollback", lambda: None)()

    for _ in range(40):
        one = threading.Thread(target=look)
        one.start()
        one.join()
    assert engine.pool.checkedout() <= 1  # type: ignore[attr-defined]  # a pool that counts, as an engine has here


def test_it_is_closed_with_its_engine_and_the_next_is_another(engine: sa.Engine) -> None:
    with driver_connection(engine) as first:
        pass
    engine.dispose()
    with pytest.raises(engine.dialect.loaded_dbapi.Error):
        first.execute("SELECT 1")
    with driver_connection(engine) as second:
        second.execute("SELECT 1")
    assert second is not first


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_after_the_server_has_hung_up_the_next_movement_is_written(engine: sa.Engine) -> None:
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
    stock.post(engine, shop.line(MovementKind.SELL))
    with driver_connection(engine) as driver:
        number = driver.info.backend_pid
    with writing(engine) as session:
        session.execute(sa.text("SELECT pg_terminate_backend(:number)"), {"number": number})
    with pytest.raises(DatabaseProblem):
        stock.post(engine, shop.line(MovementKind.SELL))
    stock.post(engine, shop.line(MovementKind.SELL))


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_who_waits_too_long_for_a_lock_is_told(engine: sa.Engine) -> None:
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
        session.execute(sa.text("ALTER FUNCTION post_movement SET lock_timeout = '50ms'"))
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.SELL))
        with pytest.raises(DatabaseProblem, match="writing the same units"):
            stock.post(engine, shop.line(MovementKind.SELL))
    stock.post(engine, shop.line(MovementKind.SELL))
