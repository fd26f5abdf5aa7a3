"""A movement of the usual kinds in one call of the server, which finds, writes and tells; else nothing was written."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind
from triptych.catalog.database.trouble import unknown_whether_kept
from triptych.catalog.stock.movement_lines import LONGEST

CALL: Final = (
    "SELECT units, lines, there, promised, name, place_zone FROM stock_movement("
    "%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)


class MovedAtOnce(NamedTuple):
    """What was written, and what is there then."""

    units: int
    lines: list[int]
    on_hand: int
    reserved: int
    speaker: str
    zone: str


class Call(NamedTuple):
    """What the server is asked; names as people write them."""

    kind: MovementKind
    model: str
    location: str
    quantity: int | None
    grade: str
    finish: str | None
    single: bool
    job: str | None
    until: datetime | None
    note: str | None
    amount: int | None
    currency: str | None
    to: str | None = None


def at_once(engine: sa.Engine, asked: Call) -> MovedAtOnce | None:
    """Do it in one call; None where the long way has to say more, or the engine is none that is called.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it.
    """
    texts = (asked.model, asked.location, asked.finish, asked.job, asked.note, asked.to)
    if engine.dialect.name == "sqlite" or not all(text is None or _plain(text) for text in texts):
        return None
    found = _called(engine, _parameters(asked))
    return None if found is None else MovedAtOnce(*found)


def _plain(text: str) -> bool:
    """Whether a text needs no look at what it holds."""
    return text.isprintable() and len(text.strip()) > 0 and len(text) <= LONGEST


def _parameters(asked: Call) -> tuple[Any, ...]:
    names = (rows.name_key(name) for name in (asked.model, asked.location))
    job, to = (None if name is None else rows.name_key(name) for name in (asked.job, asked.to))
    finish = rows.name_key(asked.finish)
    alike = (asked.quantity, asked.grade, finish, asked.single)
    return (asked.kind.value, *names, *alike, job, asked.until, asked.note, asked.amount, asked.currency, to)


def _called(engine: sa.Engine, parameters: tuple[Any, ...]) -> Any:
    """Call past all that only a statement of ours needs: that took as long as the call itself."""
    import psycopg

    try:
        pooled = engine.raw_connection()
    except (sa.exc.DBAPIError, psycopg.Error):
        return None
    driver: Any = pooled.driver_connection
    try:
        try:
            found = driver.execute(CALL, parameters, prepare=True).fetchone()
        except psycopg.Error:
            # whatever it says, nothing is written: the long way tells it, or finds it mended
            if driver.closed:
                pooled.invalidate()
            return None
        if found is None or found[1] is None:
            return None
        try:
            driver.commit()
        except psycopg.Error as problem:
            pooled.invalidate()
            raise unknown_whether_kept(engine) from problem
        return found
    finally:
        pooled.close()
