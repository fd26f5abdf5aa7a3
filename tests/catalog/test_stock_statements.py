"""How many statements a movement takes, by the function that its command calls."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, TOWER, open_shop
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request

BEGIN_AND_COMMIT = 2

ASKED = Request(CENTRE.name, "shop", job="Mill House")
MOVEMENTS: dict[str, tuple[int, Callable[[sa.Engine], Any]]] = {
    "receive": (6, lambda engine: desk.receive(engine, Request(CENTRE.name, "shop"))),
    "receive one with a serial": (8, lambda engine: desk.receive(engine, Request(CENTRE.name, "shop", serial="A1"))),
    "reserve": (6, lambda engine: desk.reserve(engine, ASKED, LATER)),
    "release": (8, lambda engine: desk.release(engine, ASKED)),
    "sell": (6, lambda engine: desk.sell(engine, Request(CENTRE.name, "shop"))),
    "sell what is reserved": (9, lambda engine: desk.sell(engine, ASKED)),
    "write off": (6, lambda engine: desk.write_off(engine, Request(CENTRE.name, "shop", note="broken"))),
    "count": (9, lambda engine: desk.count(engine, Request(CENTRE.name, "shop", 99, note="June"))),
    "transfer": (9, lambda engine: desk.transfer(engine, Request(CENTRE.name, "shop"), "store")),
    "send": (8, lambda engine: desk.transfer(engine, Request(CENTRE.name, "shop"), "store", send=True)),
    "take back": (8, lambda engine: desk.take_back(engine, Request(CENTRE.name, "shop"), before=True)),
    "take back what was sold": (10, lambda engine: desk.take_back(engine, Request(CENTRE.name, "shop"))),
    "regrade": (
        10,
        lambda engine: desk.regrade(engine, Request(CENTRE.name, "shop"), Grade.DEMO, Grade.NEW),
    ),
    "split": (19, lambda engine: desk.split(engine, Request(TOWER.name, "shop"))),
}
"""What is done, and how many statements it may take, its beginning and its end among them."""


USUAL = ("receive", "reserve", "release", "sell", "sell what is reserved", "transfer")
"""What a server does in one call."""


@contextmanager
def counted(engine: sa.Engine) -> Iterator[list[str]]:
    found: list[str] = []

    def see(connection: Any, cursor: Any, statement: str, *_: Any) -> None:
        found.append(statement)

    sa.event.listen(engine, "before_cursor_execute", see)
    try:
        yield found
    finally:
        sa.event.remove(engine, "before_cursor_execute", see)


@pytest.mark.parametrize("what", MOVEMENTS)
def test_a_movement_takes_few_statements(engine: sa.Engine, what: str) -> None:
    with writing(engine) as session:
        open_shop(session, towers=4, centres=9)
    # what is there already needs no making
    desk.transfer(engine, Request(CENTRE.name, "shop"), "store")
    desk.take_back(engine, Request(CENTRE.name, "shop"), before=True)
    desk.regrade(engine, Request(CENTRE.name, "shop"), Grade.DEMO, Grade.NEW)
    desk.sell(engine, Request(CENTRE.name, "shop"))
    desk.reserve(engine, ASKED, LATER)
    most, do = MOVEMENTS[what]
    with counted(engine) as found:
        do(engine)
    if engine.dialect.name == "postgresql" and what in USUAL:
        assert found == [], "one call does it, past all statements of ours"
        return
    assert 3 <= len(found) + BEGIN_AND_COMMIT <= most, "\n".join(found)
