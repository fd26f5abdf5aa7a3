"""What is only looked at, asked by SQL as it stands: of a file through its driver alone, which needs no SQLAlchemy."""

from __future__ import annotations

import logging
import os
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

from triptych.migrations import HEAD

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

Ask: TypeAlias = Callable[[str, Mapping[str, Any]], Sequence[Sequence[Any]]]
"""Gives the rows of a statement in which `:name` stands for a value."""

Answer = TypeVar("Answer")

LONGEST_WAIT: Final = 30.0
"""How long to wait for who writes. [s]."""

log = logging.getLogger("triptych.database")
_statements = logging.getLogger("sqlalchemy.engine")


def looked_at(url_or_path: str | None, look: Callable[[Ask], Answer]) -> Answer:
    """Give what a look at the catalogue finds; one on a server, or that must be made or mended first, is opened whole.

    Raises
    ------
    DatabaseProblem
        It cannot be opened.
    """
    path = _plain_file(url_or_path)
    if path is not None:
        try:
            with closing(_opened(path)) as connection:
                if _at_head(connection):
                    log.info("opened %s", path)
                    return look(asker_of_file(connection))
        except sqlite3.Error as problem:
            log.info("the driver says: %s", problem)  # what is wrong is told below, in our words
    return _looked_at_whole(url_or_path, look)


def _looked_at_whole(url_or_path: str | None, look: Callable[[Ask], Answer]) -> Answer:
    from triptych.catalog.database.engine import open_catalogue, reading

    engine = open_catalogue(url_or_path)
    try:
        with reading(engine) as session:
            return look(asker(session))
    finally:
        engine.dispose()


def _plain_file(url_or_path: str | None) -> Path | None:
    """The file that is named, where it is there and holds something; None where a name needs a closer look."""
    from triptych.catalog.database.address import default_path

    text = url_or_path if url_or_path is not None else os.environ.get("TRIPTYCH_DB") or str(default_path())
    if "://" in text or not text.isprintable() or text.startswith((":memory:", "file:")):
        return None
    path = Path(os.path.expanduser(text))
    return path if os.path.isfile(path) and path.stat().st_size else None


def _opened(path: Path) -> sqlite3.Connection:
    from triptych.catalog.database.address import only_read, open_to_read

    connection = open_to_read(path) if only_read(path) else sqlite3.connect(path, timeout=LONGEST_WAIT)
    connection.isolation_level = None
    if _statements.isEnabledFor(logging.INFO):
        connection.set_trace_callback(_statements.info)
    connection.execute("PRAGMA query_only = ON")
    connection.execute("BEGIN")  # all statements see the same
    return connection


def _at_head(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]


def asker_of_file(connection: sqlite3.Connection) -> Ask:
    """Ask a file through its driver."""
    return lambda sql, values: connection.execute(
        sql, {name: _kept(value) for name, value in values.items()}
    ).fetchall()


def _kept(value: Any) -> Any:
    """A value as a file keeps it: instants are text in UTC, and so are days."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")
    return value.isoformat() if isinstance(value, date) else value


def asker(session: Session) -> Ask:
    """Ask in the transaction of a session, on any engine."""
    import sqlalchemy as sa

    from triptych.catalog.database.models.base import UtcTime

    def ask(sql: str, values: Mapping[str, Any]) -> Sequence[Sequence[Any]]:
        times = [sa.bindparam(name, type_=UtcTime) for name, value in values.items() if isinstance(value, datetime)]
        return session.execute(sa.text(sql).bindparams(*times), values).all()

    return ask
