"""Rows that newer guards would refuse don't keep a database from its upgrade: `stock check` names them after it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from tests.catalog.stock_shop import CENTRE, LATER, open_shop
from triptych.catalog import stock
from triptych.catalog.database.engine import alembic_config, open_engine, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.stock import quotes, suppliers
from triptych.catalog.stock.proof import check

pytestmark = pytest.mark.migration


@pytest.fixture
def before(empty_url: str) -> Iterator[tuple[sa.Engine, Config]]:
    """Give a database at the revision before the guards, with an order, a reservation and an accepted quote."""
    engine, config = open_engine(empty_url), alembic_config()
    config.attributes["url"] = empty_url
    command.upgrade(config, "0012")
    with writing(engine) as session:
        shop = open_shop(session, centres=5)
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="Mill House", until=LATER))
        number, _ = quotes.make(session, "Barn", [quotes.Item(CENTRE.name, 1)])
        quotes.accept(session, number, LATER)
        suppliers.save_supplier(session, "Harbour", 10)
        suppliers.order(session, CENTRE.name, 4, "Harbour", LATER.date())
    command.downgrade(config, "0011")
    yield engine, config
    engine.dispose()


def test_a_database_with_rows_that_are_refused_now_is_upgraded_and_they_are_told(
    before: tuple[sa.Engine, Config],
) -> None:
    engine, config = before
    local = engine.dialect.name == "sqlite"
    unreal = "2027-13-45" if local else "infinity"
    with engine.begin() as connection:
        connection.execute(sa.text(f"UPDATE supply_order SET expected = '{unreal}'"))
        connection.execute(sa.text(f"UPDATE price SET valid_to = '{unreal}' WHERE id = 1"))
        connection.execute(
            sa.text(
                "INSERT INTO quote_line (quote_id, ordinal, loudspeaker_id, grade, quantity, amount, per)"
                " SELECT 1, 2, loudspeaker_id, grade, 3, 1, per FROM quote_line"
            )
        )
    command.upgrade(config, "0012")
    with engine.connect() as connection:
        kept = [
            connection.execute(sa.text(f"SELECT COUNT(*) FROM {name}")).scalar() for name in ("price", "quote_line")
        ]
    assert kept == [3, 2]
    with reading(engine) as session:
        found = {finding.invariant: finding.breaches for finding in check(session) if not finding.holds}
    assert found == {
        "every instant and day is a real one": (
            f"price 1: valid_to '{unreal}'",
            f"supply_order 1: expected '{unreal}'",
        ),
        "a quote has the lines it was made with, and they are what was promised of it": (
            "quote 1: 1 of loudspeaker 2 were promised, not 4",
        ),
    }
