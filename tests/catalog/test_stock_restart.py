"""A server that is stopped and started again under a crowd: what was acknowledged stays, nothing is there twice."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
import sqlalchemy as sa

from tests import conftest
from tests.catalog.stock_crowd import MODELS, PLACES, START, crowd, open_shop
from tests.catalog.stock_shop import on_hand_by_replay
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.database.models import Movement, MovementKind
from triptych.catalog.stock.proof import check

pytestmark = [pytest.mark.crowd, pytest.mark.server]

COUNT, SECONDS, RESTARTS = 8, 3.0, 2
MOST_AT_ONCE = 4
"""So many units one act of a clerk moves at most."""


@pytest.fixture
def server() -> Iterator[conftest.RunningServer]:
    with conftest.server_of_ours(durable=True) as started:
        yield started


def test_a_server_that_restarts_under_a_crowd_loses_and_doubles_nothing(server: conftest.RunningServer) -> None:
    conftest.on_server(server.url, "CREATE DATABASE stock")
    url = conftest.beside(server.url, "stock")
    engine = open_catalogue(url)
    open_shop(engine)
    engine.dispose()
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

    told, _ = crowd(url, COUNT, SECONDS, restart)
    written = [number for one in told for number in one.acknowledged]
    wrong = [text for one in told for text in one.wrong]
    # whether it was kept cannot be known where the server went away in the midst of it, and that is what is said
    assert [text for text in wrong if "stand or not" not in text] == []
    assert all(max(one.acknowledged) > newest[-1] for one in told), "each went on after the last restart"
    assert newest == sorted(set(newest)), "each restart was amid the work"
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
