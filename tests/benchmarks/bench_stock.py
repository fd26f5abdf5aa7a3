"""A crowd at the stock beside the bare engine, and a writer that is killed, on SQLite and PostgreSQL, in one run.

Run it as `python -m tests.benchmarks.bench_stock [SECONDS] [KILLS] [ENGINE]`: 60 seconds and 200 kills are judged. The
bare engine writes as many one-row transactions as the crowd's movements, from as many processes, with its own driver.
A movement is a line of the ledger with its digest, the end of its chain and what it leaves of a promise. Quotes, files
of counts and what was refused are in the time, and count for none themselves.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from tests import databases
from tests.catalog.stock_crowd import Spent, Told, crowd, killed_writer, open_shop, processes
from tests.catalog.stock_shop import on_hand_by_replay
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.database.models import Movement
from triptych.catalog.database.one_writer import BUSY_TIMEOUT
from triptych.catalog.stock.proof import check

COUNT = 16
ROUNDS = 4


def bare_sqlite(path: str, rows: int, begin: Any) -> None:
    connection = sqlite3.connect(path, isolation_level=None, timeout=BUSY_TIMEOUT / 1000)
    connection.execute("PRAGMA synchronous = FULL")
    begin.wait()
    for row in range(rows):
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO bare (model, quantity) VALUES (?, ?)", (row % 3, 1))
        connection.execute("COMMIT")
    connection.close()


def bare_postgresql(url: str, rows: int, begin: Any) -> None:
    import psycopg

    with psycopg.connect(url) as connection:
        begin.wait()
        for row in range(rows):
            connection.execute("INSERT INTO bare (model, quantity) VALUES (%s, %s)", (row % 3, 1))
            connection.commit()


def bare(target: str, work: Callable[..., None], rows: int) -> float:
    """One-row transactions a second, from as many processes as the crowd has."""
    begin = processes.Barrier(COUNT + 1)
    workers = [processes.Process(target=work, args=(target, rows // COUNT, begin)) for _ in range(COUNT)]
    for worker in workers:
        worker.start()
    begin.wait()
    start = time.perf_counter()
    for worker in workers:
        worker.join()
    return (rows // COUNT) * COUNT / (time.perf_counter() - start)


@contextmanager
def sqlite_target(folder: Path) -> Iterator[tuple[str, str, Callable[..., None]]]:
    path = str(folder / "bare.db")
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE bare (id INTEGER PRIMARY KEY, model INTEGER, quantity INTEGER)")
    connection.close()
    yield as_url(str(folder / "stock.db")), path, bare_sqlite


@contextmanager
def postgresql_target(_: Path) -> Iterator[tuple[str, str, Callable[..., None]]]:
    import psycopg

    with contextmanager(databases.any_server)(durable=True) as url:
        databases.on_server(url, "CREATE DATABASE stock")
        plain = url.replace("+psycopg", "")
        with psycopg.connect(plain, autocommit=True) as connection:
            connection.execute("CREATE TABLE bare (id SERIAL PRIMARY KEY, model INTEGER, quantity INTEGER)")
        yield databases.beside(url, "stock"), plain, bare_postgresql


def run_crowd(url: str, target: str, work: Callable[..., None], seconds: float) -> None:
    engine = open_catalogue(url)
    open_shop(engine)
    told: list[Told] = []
    took = alone = within = 0.0
    # in turns, so that what else the machine and its disk do falls on both
    for _ in range(ROUNDS):
        part, time_taken = crowd(url, COUNT, seconds / ROUNDS)
        took += time_taken
        told += part
        rows = sum(len(one.acknowledged) - one.before + one.imported for one in part)
        within += rows
        alone += rows / bare(target, work, rows)
    written = [number for one in told for number in one.acknowledged]
    wrong = [text for one in told for text in one.wrong]
    refused: Counter[str] = sum((one.refused for one in told), Counter())
    with reading(engine) as session:
        kept = set(session.scalars(sa.select(Movement.id)))
        findings = check(session)
        replayed = on_hand_by_replay(session)
    engine.dispose()
    assert not wrong, wrong[:3]
    assert set(written) <= kept
    assert all(finding.holds for finding in findings), findings
    assert all(units >= 0 for units in replayed.values())
    rate, bare_rate = within / took, within / alone
    print(f"  {COUNT} processes, {took:.1f} s: {within:.0f} movements, {sum(refused.values())} refused, 0 errors")
    print(f"  longest wait {max(one.worst for one in told):.2f} s; every invariant holds over {len(kept)} lines")
    ratio = f"{bare_rate / rate:.2f} times"
    print("  a movement is a line of the ledger; quotes, files and what was refused are in the time and count for none")
    print(f"  stock {rate:.0f} movements/s, bare engine {bare_rate:.0f} one-row transactions/s: {ratio}")
    print_spent(told, took)


def print_spent(told: list[Told], took: float) -> None:
    """Tell what each kind took: lines a second, and milliseconds of one as the processor spent and as it was waited."""
    spent: dict[str, Spent] = {}
    for kind, one in ((kind, one) for part in told for kind, one in part.spent.items()):
        spent.setdefault(kind, Spent()).add(one)
    print("  kind              times  lines/s  client ms  server ms  waited ms")
    for kind, one in sorted(spent.items(), key=lambda item: -item[1].client - item[1].server):
        waited = one.whole - one.client - one.server
        each = "  ".join(f"{1000 * part / one.times:9.2f}" for part in (one.client, one.server, waited))
        print(f"  {kind:16} {one.times:6} {one.lines / took:8.1f}  {each}")


def run_kills(url: str, kills: int) -> None:
    acknowledged: set[int] = set()
    start = time.perf_counter()
    for kill in range(kills):
        acknowledged |= set(killed_writer(url, 1000 + kill, 0.02 + (kill % 10) * 0.01))
        engine = open_catalogue(url)
        with reading(engine) as session:
            assert all(finding.holds for finding in check(session))
            kept = set(session.scalars(sa.select(Movement.id)))
        engine.dispose()
        assert acknowledged <= kept, sorted(acknowledged - kept)[:5]
    took = time.perf_counter() - start
    print(
        f"  {kills} kills in {took:.0f} s: opened and sound after each; all {len(acknowledged)} acknowledged are there"
    )


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    kills = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    wanted = sys.argv[3:] or ["SQLite", "PostgreSQL"]
    for name, target in (("SQLite", sqlite_target), ("PostgreSQL", postgresql_target)):
        if name not in wanted:
            continue
        print(name)
        with tempfile.TemporaryDirectory(dir="/tmp") as folder, target(Path(folder)) as (url, plain, work):
            run_crowd(url, plain, work, seconds)
            run_kills(url, kills)


if __name__ == "__main__":
    main()
