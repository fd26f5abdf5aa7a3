"""The quick way to write to the ledger: a movement as one statement, in a transaction of its own.

`record_movement` reads, decides and writes within whatever else its transaction does. Of many who move the same units
each then waits for all that the others do meanwhile. Here the database does the sums, by a statement that is put
together once and goes straight to the driver, and no lock waits for an answer to travel to us and back. What isn't
written so, because it is refused or the first of its kind, goes the long way, which says why or makes what is missing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Final
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.engine import reading, told, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.driver import driver_connection
from triptych.catalog.stock import posting_server, posting_sqlite
from triptych.catalog.stock.lines import Line, Target, refuse_incomplete
from triptych.catalog.stock.movements import record_movement, record_through, refuse_if_hopeless


def post(engine: sa.Engine, line: Line) -> int:
    """Write one movement in a transaction of its own and give its number, when it is committed.

    Raises
    ------
    CatalogError
        As `record_movement`. Nothing was written.
    """
    refuse_incomplete(line)
    found = _quickly(engine, line, None) if line.to is None and line.from_id is None else None
    if found is not None:
        return found[0]
    with _glance(engine) as session:
        refuse_if_hopeless(session, line)
    with writing(engine) as session:
        return record_movement(session, line)


def post_transfer(engine: sa.Engine, line: Line, to: str) -> list[int]:
    """Move units to another location in a transaction of its own, and give the numbers of both halves.

    Raises
    ------
    CatalogError
        As `record_movement`. Nothing was written.
    """
    out = replace(line, kind=MovementKind.TRANSFER_OUT, to=Target(to, line.grade))
    refuse_incomplete(out)
    found = _quickly(engine, out, to) if out.job is None else None
    if found is not None:
        return found
    with _glance(engine) as session:
        refuse_if_hopeless(session, out)
    with writing(engine) as session:
        back = replace(line, kind=MovementKind.TRANSFER_IN, location=to)
        return record_through(session, out, back)


def _quickly(engine: sa.Engine, line: Line, to: str | None) -> list[int] | None:
    with told(engine), driver_connection(engine) as driver:
        if _local(engine):
            return posting_sqlite.post(driver, line, to)
        return posting_server.post(engine, driver, line, to)


_alone: Final[WeakKeyDictionary[sa.Engine, sa.Engine]] = WeakKeyDictionary()


@contextmanager
def _glance(engine: sa.Engine) -> Iterator[Session]:
    """Give a session to look in: on a server each look stands alone, which spares four messages to and fro."""
    if _local(engine):
        with reading(engine) as session:
            yield session
        return
    if engine not in _alone:
        _alone[engine] = engine.execution_options(isolation_level="AUTOCOMMIT")
    with told(engine), Session(_alone[engine]) as session:
        yield session


def _local(engine: sa.Engine) -> bool:
    return bool(engine.dialect.name == "sqlite")
