"""A short crowd and a few kills; `tests/benchmarks/bench_stock.py` has the whole minute and 200."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from tests.catalog.stock_crowd import MODELS, PLACES, START, crowd, killed_writer, open_shop
from tests.catalog.stock_shop import on_hand_by_replay
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.database.models import Movement, MovementKind
from triptych.catalog.stock.proof import check

pytestmark = pytest.mark.crowd

COUNT, SECONDS, KILLS = 10, 1.5, 12


def _url(engine: sa.Engine) -> str:
    return engine.url.render_as_string(hide_password=False)


def test_a_crowd_oversells_nothing_and_hears_nothing_but_refusals(engine: sa.Engine) -> None:
    open_shop(engine)
    told, _ = crowd(_url(engine), COUNT, SECONDS)
    written = [number for one in told for number in one.acknowledged]
    assert [text for one in told for text in one.wrong] == []
    assert len(written) == len(set(written)) > COUNT
    assert sum(one.refused.total() for one in told) > 0, "nobody was refused, so nothing was scarce"
    with reading(engine) as session:
        assert set(written) <= set(session.scalars(sa.select(Movement.id)))
        findings = check(session)
        left = on_hand_by_replay(session)
        kinds = {
            kind: session.scalar(sa.select(sa.func.sum(Movement.quantity)).where(Movement.kind == kind)) or 0
            for kind in (MovementKind.RECEIVE, MovementKind.SELL, MovementKind.COUNT)
        }
    assert all(finding.holds for finding in findings), findings
    assert min(left.values()) >= 0
    assert kinds[MovementKind.SELL] == sum(one.sold for one in told)
    assert kinds[MovementKind.RECEIVE] == sum(one.received for one in told) + START * len(MODELS) * len(PLACES)
    assert sum(left.values()) == sum(
        units if kind is not MovementKind.SELL else -units for kind, units in kinds.items()
    )


def test_what_was_acknowledged_outlives_a_writer_that_is_killed(engine: sa.Engine) -> None:
    open_shop(engine, start=1000)
    acknowledged: set[int] = set()
    for kill in range(KILLS):
        acknowledged |= set(killed_writer(_url(engine), kill, kill * 0.004))
        opened = open_catalogue(_url(engine))
        with reading(opened) as session:
            assert all(finding.holds for finding in check(session))
            assert acknowledged <= set(session.scalars(sa.select(Movement.id)))
        opened.dispose()
    assert len(acknowledged) >= KILLS
