"""The driver's own connection of a thread, for what is too short to borrow and give back one each time."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final
from weakref import WeakKeyDictionary, WeakSet

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.pool import PoolProxiedConnection


class _Kept(threading.local):
    """What a thread keeps of each engine; it goes back to the engine's pool when the thread ends."""

    def __init__(self) -> None:
        self.of: WeakKeyDictionary[sa.Engine, PoolProxiedConnection] = WeakKeyDictionary()


_kept: Final = _Kept()
_lent: Final[WeakKeyDictionary[sa.Engine, WeakSet[PoolProxiedConnection]]] = WeakKeyDictionary()
_lending: Final = threading.Lock()


@contextmanager
def driver_connection(engine: sa.Engine) -> Iterator[Any]:
    """Give the driver's connection that this thread keeps of an engine, outside any transaction.

    Raises
    ------
    sqlalchemy.exc.DBAPIError
        In place of the driver's own, so that it is told as a session's; a connection that may be broken is not used
        again.
    """
    borrowed = _kept.of.get(engine)
    if borrowed is None or not borrowed.is_valid:
        borrowed = _kept.of[engine] = _borrow(engine)
    try:
        yield borrowed.driver_connection
    except engine.dialect.loaded_dbapi.Error as problem:
        if isinstance(problem, engine.dialect.loaded_dbapi.OperationalError):
            del _kept.of[engine]
            borrowed.invalidate(problem)
        raise sa.exc.DBAPIError.instance(
            "a movement", None, problem, engine.dialect.loaded_dbapi.Error, dialect=engine.dialect
        ) from problem


def _borrow(engine: sa.Engine) -> PoolProxiedConnection:
    borrowed = engine.raw_connection()
    with _lending:
        if engine not in _lent:
            _lent[engine] = WeakSet()
            event.listen(engine, "engine_disposed", _close)
        _lent[engine].add(borrowed)
    return borrowed


def _close(engine: sa.Engine) -> None:
    """Close what threads keep of an engine that is no longer used."""
    with _lending:
        for borrowed in list(_lent[engine]):
            if borrowed.is_valid:
                borrowed.invalidate()
        _lent[engine].clear()
