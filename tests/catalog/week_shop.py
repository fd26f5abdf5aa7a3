"""A shop with a supplier for tests of a firm's week, and what is asked of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, TOWER, shop_in
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.stock import suppliers
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.reading import stock_list

AT = Request(CENTRE.name, "shop")
PAIR = Request(TOWER.name, "shop")
MILL = replace(AT, job="Mill House")


def fill(engine: sa.Engine) -> None:
    """Open a shop with a supplier."""
    shop_in(engine, towers=4, centres=5)
    with writing(engine) as session:
        suppliers.save_supplier(session, "Harbour", 9)


def read(engine: sa.Engine, what: Callable[..., Any], *arguments: Any) -> Any:
    """Read something in a session of its own."""
    with reading(engine) as session:
        return what(session, *arguments)


def hold_sound(engine: sa.Engine) -> None:
    """Hold the ledger to all its invariants."""
    assert [finding for finding in read(engine, check) if not finding.holds] == []


def there_at(engine: sa.Engine, place: str, speaker: str = CENTRE.name) -> tuple[int, int]:
    """Give how many are there at a place, and reserved."""
    found = [one for one in read(engine, stock_list) if one.location == place and one.speaker == speaker]
    return sum(one.on_hand for one in found), sum(one.reserved for one in found)


def ordered(engine: sa.Engine, **about: Any) -> int:
    """Order three centres."""
    with writing(engine) as session:
        return suppliers.order(session, CENTRE.name, 3, "Harbour", **about)
