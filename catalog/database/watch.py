"""Whether a catalogue is still what it was: states of which two that are equal are of the same rows."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Hashable
from threading import Lock
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.address import sqlite_file

_TOUCH: Final = "SELECT 1 FROM sqlite_schema LIMIT 1"
"""The least that makes a transaction see the file as it is from then on."""


class Watch:
    """Tells what state of a catalogue a transaction reads; whoever writes it, wherever, changes it."""

    def __init__(self, engine: sa.Engine) -> None:
        self._engine = engine
        self._path = sqlite_file(engine.url)
        self._own: sqlite3.Connection | None = None
        self._lock = Lock()

    def state(self, session: Session) -> Hashable | None:
        """The state that this transaction reads; None where it can't be told, so that nothing may be kept of it."""
        if self._engine.dialect.name != "sqlite":
            # which transactions are seen: exact, and no other one between two that are equal
            return str(session.execute(sa.text("SELECT CAST(pg_current_snapshot() AS text)")).scalar_one())
        if self._path is None:
            return None
        with self._lock:
            before = self._version()
            session.connection().exec_driver_sql(_TOUCH)
            # somebody wrote between the two: the transaction may see either
            return before if before == self._version() else None

    def now(self) -> Hashable | None:
        """The state that a transaction which began now would read; None where only a transaction can tell."""
        if self._path is None or self._engine.dialect.name != "sqlite":
            return None
        with self._lock:
            return self._version()

    def close(self) -> None:
        """Let go of the database."""
        with self._lock:
            if self._own is not None:
                self._own.close()
                self._own = None

    def _version(self) -> Hashable | None:
        """What SQLite counts of the commits of others on a connection that commits nothing; and which file it is."""
        assert self._path is not None
        try:
            if self._own is None:
                self._own = self._connected()
            there = os.stat(self._path)
            counted: int = self._own.execute("PRAGMA data_version").fetchone()[0]
        except (OSError, sqlite3.Error):
            return None
        return counted, there.st_dev, there.st_ino

    def _connected(self) -> sqlite3.Connection:
        taken = self._engine.raw_connection()
        driver: Any = taken.driver_connection
        taken.detach()
        own: sqlite3.Connection = driver
        return own
