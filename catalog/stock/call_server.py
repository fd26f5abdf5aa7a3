"""A movement of the usual kinds in one call of the server, which finds, writes and tells; else nothing was written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any, Final, TypeVar

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.engine import WRITING_PATIENCE
from triptych.catalog.database.trouble import SUSPENDED, unknown_whether_kept
from triptych.catalog.stock.calls import ArrivedAtOnce, Call, MovedAtOnce, ShortAtOnce

END_WHO_SLEEPS: Final = f"SET LOCAL idle_in_transaction_session_timeout = {WRITING_PATIENCE}"
"""What is asked first in a transaction that others may wait for."""

CALL: Final = (
    "SELECT units, lines, there, promised, name, place_zone, apart"
    " FROM stock_move(%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)

Result = TypeVar("Result")


def call_server(engine: sa.Engine, asked: Call) -> MovedAtOnce | ShortAtOnce | None:
    """Do it in one call, or say why there is too little; None where the server says nothing.

    Raises
    ------
    DatabaseProblem
        It went away while it was asked to keep it.
    """
    found = asked_once(engine, CALL, _parameters(asked), writes=True)
    if found is None:
        return None
    units, lines, there, promised, name, zone, apart = found
    if lines is not None:
        return MovedAtOnce(units, lines, there, promised, name, zone, apart)
    return None if apart is None else _short(units, there, promised, zone, *apart)


def _short(units: int, there: int, promised: int, zone: str, *why: Any) -> ShortAtOnce:
    speaker, pack, own, (held, sorts, tags) = why
    held = [(job, rest, as_instant(until)) for job, rest, until in held]
    return ShortAtOnce(units, there, promised, zone, speaker, pack, own, (held, sorts, tags))


def arrival_at_server(engine: sa.Engine, number: int) -> ArrivedAtOnce | None:
    """Take what was sent into stock in one call; None where the server says nothing.

    Raises
    ------
    DatabaseProblem
        It went away while it was asked to keep it.
    """
    found = asked_once(engine, _ARRIVE, (number,), writes=True)
    return None if found is None or found[1] is None else ArrivedAtOnce(*found)


_ARRIVE: Final = "SELECT units, line, there, promised, name, place_zone, place, grade, finish FROM stock_arrival(%s)"


def _parameters(asked: Call) -> tuple[Any, ...]:
    names = (rows.name_key(name) for name in (asked.model, asked.location))
    job, to = (None if name is None else rows.name_key(name) for name in (asked.job, asked.to))
    finish = rows.name_key(asked.finish)
    alike = (asked.quantity, asked.grade, finish, asked.single)
    kind = "send" if asked.sent else asked.kind.value
    return (kind, *names, *alike, job, asked.until, asked.note, asked.amount, asked.currency, to)


def as_instant(microseconds: int) -> datetime:
    """Give an instant as a server tells it in JSON."""
    return _EPOCH + timedelta(microseconds=microseconds)


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


@contextmanager
def _lent(engine: sa.Engine) -> Iterator[sa.PoolProxiedConnection | None]:
    """Lend a connection of the driver's from the pool; None where there is none to be had."""
    import psycopg

    try:
        pooled = engine.raw_connection()
    except (sa.exc.DBAPIError, psycopg.Error):
        yield None
        return
    try:
        yield pooled
    finally:
        pooled.close()


def asked_once(engine: sa.Engine, statement: str, values: Sequence[Any], *, writes: bool = False) -> Any | None:
    """Ask in one statement that is a transaction by itself, and give its row; None where the server says no.

    It is kept in the same breath, so that nobody waits for a lock while a message goes to and fro.

    Raises
    ------
    DatabaseProblem
        It `writes`, and the connection broke without a word: a server that ends it says so, and then kept nothing.
    """
    import psycopg

    with _lent(engine) as pooled:
        if pooled is None:
            return None
        driver: Any = pooled.driver_connection
        try:
            driver.autocommit = True
            try:
                return driver.execute(statement, values, prepare=True).fetchone()
            finally:
                if not driver.closed:
                    driver.autocommit = False
        except psycopg.Error as problem:
            if driver.closed:
                pooled.invalidate()
                if writes and problem.sqlstate is None:
                    raise unknown_whether_kept(engine) from problem
            # whatever it says, nothing is written: the long way tells it, or finds it mended
            return None


def past_statements(engine: sa.Engine, do: Callable[[Any], Result | None]) -> Result | None:
    """Do it in one transaction past all that only a statement of ours needs: that took as long as the calls themselves.

    None where it gives that, or the server says no: then nothing was written.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it.
    """
    import psycopg

    with _lent(engine) as pooled:
        if pooled is None:
            return None
        driver: Any = pooled.driver_connection
        try:
            found = do(driver)
        except psycopg.Error:
            # whatever it says, nothing is written: the long way tells it, or finds it mended
            if driver.closed:
                pooled.invalidate()
            return None
        try:
            # rolled back, psycopg would forget the statements that it has prepared
            driver.commit()
        except psycopg.Error as problem:
            pooled.invalidate()
            if found is None or problem.sqlstate == SUSPENDED:
                return None
            raise unknown_whether_kept(engine) from problem
        return found
