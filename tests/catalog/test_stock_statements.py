"""How many statements a movement takes, by the function that its command calls."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database.models import Grade
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request

BEGIN_AND_COMMIT = 2

USUAL = {"receive": 4, "reserve": 4, "release": 5, "sell": 4, "sell what is reserved": 6, "transfer": 6}
USUAL |= {"count": 4, "send": 5, "split": 7}
"""What a server does in one call, and how many statements it takes in a file, its beginning and its end among them."""

ASKED = Request(CENTRE.name, "shop", job="Mill House")
MOVEMENTS: dict[str, tuple[int, Callable[[sa.Engine], Any]]] = {
    "receive": (USUAL["receive"], lambda engine: desk.receive(engine, Request(CENTRE.name, "shop"))),
    "receive one with a serial": (8, lambda engine: desk.receive(engine, Request(CENTRE.name, "shop", serial="A1"))),
    "reserve": (USUAL["reserve"], lambda engine: desk.reserve(engine, ASKED, LATER)),
    "release": (USUAL["release"], lambda engine: desk.release(engine, ASKED)),
    "sell": (USUAL["sell"], lambda engine: desk.sell(engine, Request(CENTRE.name, "shop"))),
    "sell what is reserved": (USUAL["sell what is reserved"], lambda engine: desk.sell(engine, ASKED)),
    "write off": (6, lambda engine: desk.write_off(engine, Request(CENTRE.name, "shop", note="broken"))),
    "count": (USUAL["count"], lambda engine: desk.count(engine, Request(CENTRE.name, "shop", 99, note="June"))),
    "transfer": (USUAL["transfer"], lambda engine: desk.transfer(engine, Request(CENTRE.name, "shop"), "store")),
    "send": (USUAL["send"], lambda engine: desk.transfer(engine, Request(CENTRE.name, "shop"), "store", send=True)),
    "take back": (8, lambda engine: desk.take_back(engine, Request(CENTRE.name, "shop"), before=True)),
    "take back what was sold": (10, lambda engine: desk.take_back(engine, Request(CENTRE.name, "shop"))),
    "regrade": (
        10,
        lambda engine: desk.regrade(engine, Request(CENTRE.name, "shop"), Grade.DEMO, Grade.NEW),
    ),
    "split": (USUAL["split"], lambda engine: desk.split(engine, Request(TOWER.name, "shop"))),
}
"""What is done, and how many statements it may take, its beginning and its end among them."""


@contextmanager
def traced(engine: sa.Engine) -> Iterator[list[str]]:
    """Give what the driver of a file is asked, whoever asks it; but neither what its triggers do nor settings."""
    found: list[str] = []

    def see(statement: str) -> None:
        # each line of a trigger is told as the statement that set it off
        if not statement.startswith("PRAGMA") and statement not in found:
            found.append(statement)

    pooled = engine.raw_connection()
    driver: Any = pooled.driver_connection
    pooled.close()
    driver.set_trace_callback(see)
    try:
        yield found
    finally:
        driver.set_trace_callback(None)


@contextmanager
def counted(engine: sa.Engine) -> Iterator[list[str]]:
    """Give what is asked through SQLAlchemy, but settings."""
    found: list[str] = []

    def see(connection: Any, cursor: Any, statement: str, *_: Any) -> None:
        if not statement.startswith("SET LOCAL"):
            found.append(statement)

    sa.event.listen(engine, "before_cursor_execute", see)
    try:
        yield found
    finally:
        sa.event.remove(engine, "before_cursor_execute", see)


@pytest.mark.parametrize("what", MOVEMENTS)
def test_a_movement_takes_few_statements(engine: sa.Engine, what: str) -> None:
    shop_in(engine, towers=4, centres=9)
    # what is there already needs no making
    desk.split(engine, Request(TOWER.name, "shop"))
    desk.transfer(engine, Request(CENTRE.name, "shop"), "store")
    desk.take_back(engine, Request(CENTRE.name, "shop"), before=True)
    desk.regrade(engine, Request(CENTRE.name, "shop"), Grade.DEMO, Grade.NEW)
    desk.sell(engine, Request(CENTRE.name, "shop"))
    desk.reserve(engine, ASKED, LATER)
    most, do = MOVEMENTS[what]
    if engine.dialect.name == "sqlite" and what in USUAL:
        with traced(engine) as found:
            do(engine)
        assert len(found) == USUAL[what], "\n".join(found)
        return
    with counted(engine) as found:
        do(engine)
    if what in USUAL:
        assert found == [], "one call does it, past all statements of ours"
        return
    assert 3 <= len(found) + BEGIN_AND_COMMIT <= most, "\n".join(found)
