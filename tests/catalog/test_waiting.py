"""Writers wait for each other: each gets its turn, nobody waits for ever, and who is cut off begins anew."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, open_shop, shop_in
from triptych.catalog.database import engine as engine_module
from triptych.catalog.database import one_writer
from triptych.catalog.database.engine import open_engine, writing
from triptych.catalog.errors import DatabaseProblem, Unreached
from triptych.catalog.stock import call_server, desk, record_movement
from triptych.catalog.stock.call_server import END_WHO_SLEEPS
from triptych.catalog.stock.desk import Request


@pytest.fixture
def file(tmp_path: Path) -> Iterator[sa.Engine]:
    opened = open_engine(f"sqlite:///{tmp_path / 'waiting.db'}")
    with writing(opened) as session:
        session.execute(sa.text("CREATE TABLE line (id INTEGER PRIMARY KEY, writer INTEGER)"))
    yield opened
    opened.dispose()


def write(file: sa.Engine, writer: int) -> None:
    with writing(file) as session:
        session.execute(sa.text("INSERT INTO line (writer) VALUES (:writer)"), {"writer": writer})


def together(*calls: threading.Thread) -> None:
    for one in calls:
        one.start()
    for one in calls:
        one.join()


@pytest.mark.whole
def test_every_writer_gets_a_turn(file: sa.Engine) -> None:
    def often(writer: int) -> None:
        for _ in range(20):
            write(file, writer)

    together(*(threading.Thread(target=often, args=(number,)) for number in range(6)))
    with file.connect() as connection:
        found = connection.execute(sa.text("SELECT COUNT(*), COUNT(DISTINCT writer) FROM line")).one()
    assert tuple(found) == (120, 6)


def test_nobody_waits_longer_than_the_limit(file: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(one_writer, "BUSY_TIMEOUT", 200)
    told: list[str] = []

    def wait() -> None:
        with pytest.raises(DatabaseProblem) as refused:
            write(file, 1)
        told.append(str(refused.value))

    start = time.monotonic()
    with writing(file) as session:
        session.execute(sa.text("SELECT 1"))
        together(*(threading.Thread(target=wait) for _ in range(4)))
    assert len(told) == 4
    assert all("another program is writing" in text for text in told)
    assert 0.2 <= time.monotonic() - start < 4.0


def test_who_waits_goes_on_when_the_other_is_done(file: sa.Engine) -> None:
    waiting = threading.Thread(target=write, args=(file, 1))
    with writing(file) as session:
        session.execute(sa.text("INSERT INTO line (writer) VALUES (0)"))
        waiting.start()
        time.sleep(0.1)
        assert waiting.is_alive()
    waiting.join()
    with file.connect() as connection:
        assert list(connection.execute(sa.text("SELECT writer FROM line ORDER BY id")).scalars()) == [0, 1]


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_after_the_server_has_hung_up_the_next_movement_is_written(engine: sa.Engine) -> None:
    shop_in(engine, centres=3)
    with pytest.raises(DatabaseProblem), writing(engine) as session:
        session.execute(sa.text("SELECT pg_terminate_backend(pg_backend_pid())"))
    assert desk.sell(engine, Request(CENTRE.name, "shop")).done.on_hand == 2


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_who_waits_too_long_for_a_lock_is_told(engine: sa.Engine) -> None:
    url = engine.url.update_query_dict({"options": "-c lock_timeout=50ms"})
    impatient = open_engine(url.render_as_string(hide_password=False))
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
    with writing(engine) as session:
        record_movement(session, shop.line())
        with pytest.raises(DatabaseProblem, match="writing the same units"):
            desk.sell(impatient, Request(CENTRE.name, "shop"))
    assert desk.sell(impatient, Request(CENTRE.name, "shop")).done.on_hand == 3
    impatient.dispose()


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_who_writes_and_is_suspended_holds_up_nobody_for_ever(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
    monkeypatch.setattr(engine_module, "WRITING_PATIENCE", 300)

    def write_and_wait() -> None:
        with writing(engine) as session:
            record_movement(session, shop.line())
            # who waits comes next, while this one does nothing
            assert desk.sell(engine, Request(CENTRE.name, "shop")).done.on_hand == 2

    start = time.monotonic()
    with pytest.raises(Unreached, match="nothing was written"):
        write_and_wait()
    assert 0.3 <= time.monotonic() - start < 10


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_who_is_suspended_before_it_is_kept_wrote_nothing(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    commit, times = psycopg.Connection.commit, [0]

    def late(connection: psycopg.Connection) -> None:
        times[0] += 1
        time.sleep(0.6)
        commit(connection)

    def write(driver: psycopg.Connection) -> bool:
        driver.execute(END_WHO_SLEEPS.replace(str(engine_module.WRITING_PATIENCE), "200"))
        driver.execute("CREATE TABLE written (number integer)")
        return True

    shop_in(engine, centres=3)
    monkeypatch.setattr(psycopg.Connection, "commit", late)
    assert call_server.past_statements(engine, write) is None
    assert times == [1]
    # what is one statement is kept with it: there is no moment to be suspended in
    assert desk.sell(engine, Request(CENTRE.name, "shop")).done.on_hand == 2
    assert times == [1]
    monkeypatch.setattr(psycopg.Connection, "commit", commit)
    assert "written" not in sa.inspect(engine).get_table_names()
