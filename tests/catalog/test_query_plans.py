"""What looks a thing up reads no table whole that grows with the catalogue or the ledger: by the engines' own plans."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database import reads
from triptych.catalog.database.edits import edit_loudspeaker
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import available
from triptych.catalog.stock import desk, serials
from triptych.catalog.stock.articles import matching_mains
from triptych.catalog.stock.availability import promises
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.reading import LinesAsked, ledger, stock_list

GROWS = frozenset(
    ("loudspeaker", "loudspeaker_role", "driver", "crossover", "price", "acoustic_profile", "provenance", "holding")
) | {"movement", "reservation", "quote", "quote_line", "signature", "supply_order", "supplier_price", "curve"}

LOOKED_UP: dict[str, Callable[[Session, int], object]] = {
    "a loudspeaker by name": lambda session, _: reads.loudspeaker(session, CENTRE.name),
    "its number": lambda session, _: reads.number(session, CENTRE.name),
    "some by their keys": lambda session, _: reads.stored_by_key(session, [name_key(CENTRE.name)]),
    "an edit": lambda session, _: edit_loudspeaker(session, CENTRE.name, {"weight": "9 kg"}),
    "stock of one": lambda session, number: stock_list(session, number, None),
    "the ledger of one": lambda session, _: ledger(session, LinesAsked(CENTRE.name)),
    "a quote": lambda session, _: offers(session, 1),
    "when one can be had": lambda session, number: promises(session, [number]),
    "how many are available": lambda session, number: available(session, number),
    "mains of its family": lambda session, number: matching_mains(session, number),
    "the story of a serial": lambda session, _: serials.units_of_serial(session, "A1"),
}

MOVED: dict[str, Callable[[sa.Engine], object]] = {
    "receive": lambda engine: desk.receive(engine, Request(CENTRE.name, "shop")),
    "reserve": lambda engine: desk.reserve(engine, Request(CENTRE.name, "shop", job="Barn"), LATER),
    "sell": lambda engine: desk.sell(engine, Request(CENTRE.name, "shop")),
    "transfer": lambda engine: desk.transfer(engine, Request(CENTRE.name, "shop"), "store"),
    "count": lambda engine: desk.count(engine, Request(CENTRE.name, "shop", 3, note="June")),
    "accept a quote": lambda engine: desk.accept_quote(engine, 1),
}


@contextmanager
def asked(engine: sa.Engine) -> Iterator[list[tuple[str, Any]]]:
    found: list[tuple[str, Any]] = []

    def see(_: Any, __: Any, statement: str, parameters: Any, ___: Any, many: bool) -> None:
        if statement.lstrip().upper().startswith(("SELECT", "WITH", "UPDATE", "DELETE")):
            found.append((statement, parameters[0] if many else parameters))

    sa.event.listen(engine, "before_cursor_execute", see)
    try:
        yield found
    finally:
        sa.event.remove(engine, "before_cursor_execute", see)


def read_whole(engine: sa.Engine, statements: list[tuple[str, Any]]) -> list[str]:
    """Tables that grow of which a statement reads every row, with the plan; an index of some is not all of them."""
    found = []
    with engine.connect() as connection:
        cursor = connection.connection.cursor()
        sqlite = engine.dialect.name == "sqlite"
        if sqlite:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND sql LIKE '% WHERE %'")
        else:
            cursor.execute("SET enable_seqscan = off")  # a table of few rows is read whole otherwise
        some = {name for (name,) in cursor.fetchall()} if sqlite else set()
        for statement, parameters in statements:
            cursor.execute(f"EXPLAIN {'QUERY PLAN ' if sqlite else ''}{statement}", parameters)
            for (told,) in [row[-1:] for row in cursor.fetchall()]:
                scan = re.search(r"(?:SCAN|Seq Scan on) (\w+)(?: USING (?:COVERING )?INDEX (\w+))?", str(told))
                if scan and re.sub(r"_\d+$", "", scan[1]) in GROWS and scan[2] not in some:
                    found.append(f"{told}: {' '.join(statement.split())}")
    return found


def _fill(engine: sa.Engine) -> None:
    shop_in(engine, towers=4, centres=9)
    desk.receive(engine, Request(CENTRE.name, "shop", serial="A1"))
    desk.make_quote(
        engine,
        "Quay Loft",
        [Item(CENTRE.name, 1, amount=50_000, currency="EUR"), Item(TOWER.name, 2, amount=50_000, currency="EUR")],
    )
    desk.transfer(engine, Request(CENTRE.name, "shop"), "store")


@pytest.fixture
def stocked(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


@pytest.mark.parametrize("what", LOOKED_UP)
def test_what_is_looked_up_is_found_by_an_index(stocked: sa.Engine, what: str) -> None:
    with reading(stocked) as session:
        number = reads.number(session, CENTRE.name)
    with asked(stocked) as found, writing(stocked) as session:
        LOOKED_UP[what](session, number)
    assert found
    assert read_whole(stocked, found) == []


@pytest.mark.parametrize("what", MOVED)
def test_a_movement_reads_no_ledger_whole(stocked: sa.Engine, what: str) -> None:
    with asked(stocked) as found:
        MOVED[what](stocked)
    assert read_whole(stocked, found) == []


def test_a_table_that_is_read_whole_is_found_out(stocked: sa.Engine) -> None:
    with asked(stocked) as found, reading(stocked) as session:
        session.execute(sa.text("SELECT count(*) FROM movement WHERE note = 'x'")).all()
    assert len(read_whole(stocked, found)) == 1


READ = "SELECT seq_tup_read + idx_tup_fetch FROM pg_stat_xact_user_tables WHERE relid = 'movement'::regclass"

IN_ONE_CALL = {
    "a quote of which older lines are known": (
        "SELECT stock_facts(ARRAY['oatfell linden centre'], 'barn', current_date,"
        " (SELECT json_agg(json_build_array(holding_id, sequence)) FROM ledger_end))"
    ),
    "a sale at no price for a job": (
        "SELECT lines[1] + 0 FROM stock_move('sell', 'oatfell linden centre', 'shop', 1, 'new', '', false, 'barn',"
        " NULL, NULL, NULL, NULL, NULL)"
    ),
}


@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
@pytest.mark.parametrize("what", IN_ONE_CALL)
def test_what_a_server_does_in_one_call_reads_as_much_of_a_long_ledger(stocked: sa.Engine, what: str) -> None:
    desk.reserve(stocked, Request(CENTRE.name, "shop", job="Barn"), LATER)

    def rows_read() -> int:
        with stocked.connect() as connection:
            for table in ("movement", "holding", "reservation"):
                connection.exec_driver_sql(f"ANALYZE {table}")
            connection.commit()
            connection.exec_driver_sql("SET LOCAL enable_seqscan = off")
            before = connection.exec_driver_sql(READ).scalar_one()
            assert connection.exec_driver_sql(IN_ONE_CALL[what]).scalar_one() is not None
            return int(connection.exec_driver_sql(READ).scalar_one()) - int(before)

    few = rows_read()
    for _ in range(60):
        desk.receive(stocked, Request(CENTRE.name, "shop"))
    assert rows_read() <= few + 5
