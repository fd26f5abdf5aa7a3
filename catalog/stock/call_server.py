"""A movement of the usual kinds in one call of the server, which finds, writes and tells; else nothing was written."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.engine import WRITING_PATIENCE
from triptych.catalog.database.trouble import SUSPENDED, unknown_whether_kept
from triptych.catalog.stock.calls import Call, MovedAtOnce

CALL: Final = (
    "SELECT units, lines, there, promised, name, place_zone"
    f" FROM set_config('idle_in_transaction_session_timeout', '{WRITING_PATIENCE}', true), stock_movement("
    "%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)


def call_server(engine: sa.Engine, asked: Call) -> MovedAtOnce | None:
    """Do it in one call; None where the server says nothing.

    Raises
    ------
    DatabaseProblem
        It went away while it was asked to keep it.
    """
    found = _called(engine, _parameters(asked))
    return None if found is None else MovedAtOnce(*found)


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
        nothing = found is None or found[1] is None
        try:
            driver.commit()
        except psycopg.Error as problem:
            pooled.invalidate()
            if nothing or problem.sqlstate == SUSPENDED:
                return None
            raise unknown_whether_kept(engine) from problem
        return None if nothing else found
    finally:
        pooled.close()
