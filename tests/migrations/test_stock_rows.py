"""Rows from before the ledger had totals and guards are all there at the newest revision, and hold."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import alembic_config, open_engine, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.records import LoudspeakerRecord, SoldAs
from triptych.catalog.stock.lines import Line
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.reading import ledger, reservations, stock_list

pytestmark = pytest.mark.migration

CENTRE = LoudspeakerRecord(maker="Oatfell", model="Centre")
TOWER = LoudspeakerRecord(maker="Oatfell", model="Tower", sold_as=SoldAs.PAIR)
TODAY = datetime.now(UTC).date()
BEFORE = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)


@pytest.fixture
def old(empty_url: str) -> Iterator[tuple[sa.Engine, Config]]:
    """Give a database at the revision before, with loudspeakers."""
    engine, config = open_engine(empty_url), alembic_config()
    config.attributes["url"] = empty_url
    command.upgrade(config, "0004")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, TOWER])
    yield engine, config
    engine.dispose()


def _rows() -> list[dict[str, Any]]:
    week, past = TODAY + timedelta(days=7), date(2026, 1, 10)
    return [
        {"loudspeaker_id": 1, "kind": "receive", "quantity": 5, "location": "Shop"},
        {"loudspeaker_id": 1, "kind": "reserve", "quantity": 2, "location": "shop", "job": "Mill House", "until": week},
        {"loudspeaker_id": 1, "kind": "sell", "quantity": 1, "location": "Shop", "reservation_id": 2},
        {"loudspeaker_id": 1, "kind": "reserve", "quantity": 1, "location": "Shop", "job": "Old", "until": past},
        {"loudspeaker_id": 2, "kind": "receive", "quantity": 4, "location": "Ünder Store", "finish": "Oak"},
        {"loudspeaker_id": 2, "kind": "sell", "quantity": 2, "location": "ünder  store", "finish": "oak"},
        {"loudspeaker_id": 1, "kind": "receive", "quantity": 1, "location": "Shop", "serial": "A1", "note": "it's ½"},
        {"loudspeaker_id": 1, "kind": "count", "quantity": -1, "location": "Shop"},
    ]


def _fill(engine: sa.Engine) -> None:
    columns = ("loudspeaker_id", "kind", "quantity", "location", "job", "until", "reservation_id", "serial", "finish")
    names = (*columns, "note", "grade", "at")
    table = sa.table("movement", *(sa.column(name) for name in names))
    typed = sa.table(
        "movement",
        *(sa.column(name, sa.Date() if name == "until" else None) for name in names if name != "at"),
        sa.column("at", sa.DateTime(timezone=True)),
    )
    assert len(table.columns) == len(typed.columns)
    with writing(engine) as session:
        for row in _rows():
            session.execute(sa.insert(typed).values(**row, grade="new", at=BEFORE))


def test_the_old_ledger_is_carried_over_whole(old: tuple[sa.Engine, Config]) -> None:
    engine, config = old
    _fill(engine)
    command.upgrade(config, "head")
    with reading(engine) as session:
        found = [
            (row.speaker, row.location, row.finish, row.pack, row.on_hand, row.reserved) for row in stock_list(session)
        ]
        assert found == [("Oatfell Centre", "Shop", None, 1, 4, 1), ("Oatfell Tower", "Ünder Store", "Oak", 2, 2, 0)]
        lines = ledger(session, reads.stored(session, CENTRE.name).id)
        lines += ledger(session, reads.stored(session, TOWER.name).id)
        by_number = {line.number: line for line in lines}
        assert sorted(by_number) == list(range(1, 9))
        for number, row in enumerate(_rows(), start=1):
            line = by_number[number]
            assert (line.kind, line.quantity, line.at) == (row["kind"], row["quantity"], BEFORE)
            assert (line.job, line.serial, line.note) == (row.get("job"), row.get("serial"), row.get("note"))
            assert line.reservation == row.get("reservation_id")
        assert [(held.number, held.units) for held in reservations(session)] == [(2, 1)]
        held = reservations(session)[0]
        assert held.until.date() == TODAY + timedelta(days=8), "a day held to its end"
        assert all(finding.holds for finding in check(session)), check(session)


def test_the_ledger_goes_on_after_the_upgrade_and_back(old: tuple[sa.Engine, Config]) -> None:
    engine, config = old
    _fill(engine)
    command.upgrade(config, "head")
    with writing(engine) as session:
        line = Line(1, MovementKind.SELL, 1, "shop", reservation_id=2)
        assert stock.record_movement(session, line) > 8
        stock.record_movement(session, Line(2, MovementKind.RECEIVE, 2, "Ünder Store", finish="oak"))
        assert all(finding.holds for finding in check(session))
    with engine.connect() as connection:
        before = connection.execute(sa.text("SELECT COUNT(*), SUM(quantity) FROM movement")).one()
    command.downgrade(config, "0004")
    with engine.connect() as connection:
        assert connection.execute(sa.text("SELECT COUNT(*), SUM(quantity) FROM movement")).one() == before
        day = connection.execute(sa.text("SELECT until FROM movement WHERE id = 2")).scalar()
        assert str(day) == str(TODAY + timedelta(days=7))
    command.upgrade(config, "head")
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))
