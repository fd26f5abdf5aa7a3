"""Writers of one SQLite file take turns, with and without a queue, and nobody waits for ever."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from triptych.catalog import turns


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "turns.db"
    with sqlite3.connect(made) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE line (id INTEGER PRIMARY KEY, writer INTEGER)")
    connection.close()
    return made


@pytest.fixture
def held(path: Path) -> Iterator[Any]:
    """A writer who has the turn."""
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    yield holder
    holder.close()


def begin(path: Path) -> bool:
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        return turns.begin_soon(connection)
    finally:
        connection.close()


def without_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError("no locks here")

    monkeypatch.setattr("fcntl.flock", refuse)


@pytest.mark.parametrize("queue", [True, False])
def test_every_writer_gets_a_turn(path: Path, queue: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if not queue:
        without_locks(monkeypatch)

    def write(writer: int) -> None:
        connection = sqlite3.connect(path, isolation_level=None)
        for _ in range(20):
            assert turns.begin_soon(connection)
            connection.execute("INSERT INTO line (writer) VALUES (?)", (writer,))
            connection.execute("COMMIT")
        connection.close()

    writers = [threading.Thread(target=write, args=(number,)) for number in range(6)]
    for one in writers:
        one.start()
    for one in writers:
        one.join()
    connection = sqlite3.connect(path)
    assert connection.execute("SELECT COUNT(*), COUNT(DISTINCT writer) FROM line").fetchone() == (120, 6)
    connection.close()


@pytest.mark.parametrize("queue", [True, False])
def test_nobody_waits_longer_than_the_limit(
    path: Path, held: Any, queue: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(turns, "BUSY_TIMEOUT", 200)
    if not queue:
        without_locks(monkeypatch)
    start = time.monotonic()
    results: list[bool] = []
    waiting = [threading.Thread(target=lambda: results.append(begin(path))) for _ in range(4)]
    for one in waiting:
        one.start()
    for one in waiting:
        one.join()
    assert results == [False] * 4
    assert 0.2 <= time.monotonic() - start < 2.0


def test_who_waits_goes_on_when_the_turn_is_given_up(path: Path, held: Any) -> None:
    results: list[bool] = []
    waiting = threading.Thread(target=lambda: results.append(begin(path)))
    waiting.start()
    time.sleep(0.1)
    assert results == []
    held.execute("COMMIT")
    waiting.join()
    assert results == [True]


def test_what_is_wrong_for_another_reason_is_not_waited_for(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN")
    start = time.monotonic()
    assert not turns.begin_soon(connection)
    assert time.monotonic() - start < 1.0
    connection.close()


def test_a_database_in_memory_has_no_queue() -> None:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    assert turns.begin_soon(connection)
    with turns._queue(connection) as first:
        assert not first
    connection.close()
