"""What a test leaves on the PostgreSQL catalogue that all share is gone before the next."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

from tests.server_catalogue import SCHEMA, ServerCatalogue
from triptych.catalog.database.models import Maker, every_table

pytestmark = pytest.mark.server

CHANGES = {
    "rows": "INSERT INTO maker (name, name_key) VALUES ('Oatfell', 'oatfell')",
    "trigger": "DROP TRIGGER movement_sealed ON movement",
    "trigger off": "ALTER TABLE movement DISABLE TRIGGER ALL",
    "column": "ALTER TABLE maker ADD COLUMN scratch integer",
    "table": "CREATE TABLE scratch (number integer)",
    "function": "CREATE OR REPLACE FUNCTION movement_sealed() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN END'",
    "right": "GRANT SELECT ON maker TO PUBLIC",
    "setting": "SET search_path = nowhere",
    "revision": "UPDATE alembic_version SET version_num = '0012'",
    "statistics": "ANALYZE",
}


@contextmanager
def lent(kept: ServerCatalogue) -> Iterator[sa.Engine]:
    giving = kept.given()
    yield next(giving)
    assert next(giving, None) is None


def state(engine: sa.Engine) -> tuple[list[int], list[object]]:
    with engine.connect() as connection:
        counts = [
            connection.scalar(sa.select(sa.func.count()).select_from(one)) or 0 for one in every_table().sorted_tables
        ]
        asked = ("SHOW search_path", SCHEMA, "SELECT sum(last_value) FROM pg_sequences")
        return counts, [connection.exec_driver_sql(one).scalar() for one in asked]


@pytest.mark.parametrize("change", CHANGES)
def test_what_a_test_leaves_is_gone_before_the_next(one_postgresql: ServerCatalogue, change: str) -> None:
    with lent(one_postgresql) as engine:
        before = state(engine)
        with engine.begin() as connection:
            connection.exec_driver_sql(CHANGES[change])
        if change not in ("setting", "statistics"):
            assert state(engine) != before
    with lent(one_postgresql) as engine:
        assert state(engine) == before


def test_a_connection_that_a_test_left_open_is_ended(one_postgresql: ServerCatalogue) -> None:
    with lent(one_postgresql) as engine:
        before, other = state(engine), sa.create_engine(engine.url)
        left = other.connect()
        left.execute(sa.insert(Maker).values(name="Oatfell", name_key="oatfell"))
    with lent(one_postgresql) as engine:
        assert state(engine) == before
    left.invalidate()
    other.dispose()
