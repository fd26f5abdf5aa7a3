"""A server that restarts, or cuts connections, under a crowd: what was acknowledged stays, nothing is there twice."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from typing import Final

import pytest
import sqlalchemy as sa

from tests import databases
from tests.catalog.stock_crowd import MODELS, PLACES, START, Told, crowd, open_shop
from tests.catalog.stock_shop import on_hand_by_replay
from triptych.catalog.database.engine import open_catalogue, open_engine, reading
from triptych.catalog.database.models import Movement, MovementKind
from triptych.catalog.stock.proof import check

pytestmark = [pytest.mark.crowd, pytest.mark.server]

COUNT, SECONDS, RESTARTS = 8, 3.0, 2
MOST_AT_ONCE = 4
"""So many units one act of a clerk moves at most."""


@pytest.fixture
def server() -> Iterator[databases.RunningServer]:
    with databases.server_of_ours(durable=True) as started:
        yield started


@pytest.fixture
def stock(server: databases.RunningServer) -> str:
    databases.on_server(server.url, "CREATE DATABASE stock")
    url = databases.beside(server.url, "stock")
    engine = open_catalogue(url)
    open_shop(engine)
    engine.dispose()
    return url


def test_a_server_that_restarts_under_a_crowd_loses_and_doubles_nothing(
    server: databases.RunningServer, stock: str
) -> None:
    engine = open_catalogue(stock)
    newest: list[int] = []

    def restart() -> None:
        for _ in range(RESTARTS):
            time.sleep(1.5)
            with reading(engine) as session:
                newest.append(session.scalar(sa.select(sa.func.max(Movement.id))) or 0)
            engine.dispose()
            server.stop()
            time.sleep(0.3)
            server.start()

    told, _ = crowd(stock, COUNT, SECONDS, restart)
    engine.dispose()
    assert all(max(one.acknowledged) > newest[-1] for one in told), "each went on after the last restart"
    assert newest == sorted(set(newest)), "each restart was amid the work"
    _hold_to_what_was_told(stock, told)


def test_connections_that_are_cut_under_a_crowd_lose_and_double_nothing(
    server: databases.RunningServer, stock: str
) -> None:
    chance, cuts = random.Random(7), []

    def cut() -> None:
        over = open_engine(server.url).execution_options(isolation_level="AUTOCOMMIT")
        end = time.monotonic() + CUT_FOR
        with over.connect() as connection:
            while time.monotonic() < end:
                time.sleep(chance.uniform(0.01, 0.1))
                # those that are in the midst of something, if any
                cuts.append(connection.scalar(CUT))
        over.dispose()

    told, _ = crowd(stock, COUNT, SECONDS, cut)
    assert sum(map(bool, cuts)) > 20
    _hold_to_what_was_told(stock, told)


CUT_FOR: Final = 5.0
"""How long connections are cut. [s]."""

CUT: Final = sa.text(
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'stock' AND backend_type = 'client backend'"
    " ORDER BY state = 'active' DESC, random() LIMIT 1"
)


def _hold_to_what_was_told(url: str, told: list[Told]) -> None:
    written = [number for one in told for number in one.acknowledged]
    wrong = [text for one in told for text in one.wrong]
    # whether it was kept cannot be known where the server went away in the midst of it, and that is what is said
    assert [text for text in wrong if "stand or not" not in text] == []
    engine = open_catalogue(url)
    with reading(engine) as session:
        kept = set(session.scalars(sa.select(Movement.id)))
        findings = check(session)
        left = on_hand_by_replay(session)
        sums = {
            kind: session.scalar(sa.select(sa.func.sum(Movement.quantity)).where(Movement.kind == kind)) or 0
            for kind in (MovementKind.RECEIVE, MovementKind.SELL)
        }
    engine.dispose()
    assert len(written) == len(set(written))
    assert set(written) <= kept, "an acknowledged line is lost"
    assert all(finding.holds for finding in findings), findings
    assert min(left.values()) >= 0
    sold = sum(one.sold for one in told)
    received = sum(one.received for one in told) + START * len(MODELS) * len(PLACES)
    # what nobody knows of may be there once; done twice it would be more than that, or without anybody being told
    for moved, heard in ((sums[MovementKind.SELL], sold), (sums[MovementKind.RECEIVE], received)):
        assert 0 <= moved - heard <= MOST_AT_ONCE * len(wrong)
