"""The one place that opens the catalogue: URL, engine, transactions, upgrade with a copy laid beside it first."""

from __future__ import annotations

import logging
import os
import sqlite3
import stat
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.orm import Session

from triptych.catalog.database.address import (
    as_url,
    default_url,
    only_read,
    open_to_read,
    parsed,
    refuse_slip,
    shown,
    sqlite_file,
)
from triptych.catalog.database.one_writer import BEGIN_WRITE, BUSY_TIMEOUT, begin_write
from triptych.catalog.database.signing import sign_all
from triptych.catalog.database.trouble import told
from triptych.catalog.errors import BadInput, DatabaseProblem
from triptych.catalog.outputs import PRIVATE, beside
from triptych.migrations import BASE, HEAD

if TYPE_CHECKING:
    from alembic.config import Config

CONNECT_TIMEOUT: Final = 10
"""How long to wait for a server. [s]."""

WRITING_PATIENCE: Final = BUSY_TIMEOUT
"""How long who writes on a server may do nothing before it is ended, and others go on: as long as in a file. [ms]."""

_upgrading = threading.Lock()
"""Alembic keeps what it works on in one place a process."""

log = logging.getLogger("triptych.database")


def open_engine(url: str) -> sa.Engine:
    """Open an engine whose transactions begin as what they are: BEGIN, or BEGIN IMMEDIATE with option `write=True`.

    Raises
    ------
    DatabaseProblem
        The URL cannot be read, or its driver is not installed.
    """
    found = parsed(url)
    path = sqlite_file(found)
    closed = path is not None and only_read(path)
    try:
        if path is not None and closed:
            engine = sa.create_engine(found, creator=partial(open_to_read, path))
        else:
            engine = sa.create_engine(found, connect_args=_connect_args(found))
    except (sa.exc.ArgumentError, ValueError):
        raise DatabaseProblem(f"{shown(found)}: its options cannot be read: leave them out") from None
    except ModuleNotFoundError as problem:
        hint = "pip install '.[postgresql]'"
        raise DatabaseProblem(f"{shown(found)}: needs the package {problem.name}: {hint}") from None
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare_closed if closed or _asks_to_read(found) else _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        event.listen(engine, "begin", _begin_on_server)
    return engine


def _asks_to_read(url: sa.URL) -> bool:
    asked = f"{url.database}?{url.query}"
    return "mode=ro" in asked or "immutable=1" in asked or url.query.get("mode") == "ro" or "immutable" in url.query


def _connect_args(url: sa.URL) -> dict[str, Any]:
    if url.get_backend_name() == "sqlite":
        return {"timeout": BUSY_TIMEOUT / 1000}
    return {"connect_timeout": CONNECT_TIMEOUT}


def _prepare_sqlite(connection: Any, record: Any) -> None:
    connection.isolation_level = None  # else the driver decides where a transaction begins
    for pragma in ("foreign_keys = ON", f"busy_timeout = {BUSY_TIMEOUT}", "journal_mode = WAL", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _prepare_closed(connection: Any, record: Any) -> None:
    """Prepare a connection through which nothing is written: how it would be is left as it is."""
    connection.isolation_level = None
    for pragma in ("foreign_keys = ON", f"busy_timeout = {BUSY_TIMEOUT}"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: sa.Connection) -> None:
    # A write begun as a read fails at once with "database is locked" when another writer was faster.
    write = connection.get_execution_options().get("write", False)
    if write:
        driver: Any = connection.connection.driver_connection
        # who read and rolled back may have given a connection back as it was for reading
        driver.execute("PRAGMA query_only = OFF")
        let_sign(driver, connection.info)
        try:
            begin_write(driver)
        except sqlite3.OperationalError as problem:
            raise sa.exc.OperationalError(BEGIN_WRITE, None, problem) from problem
    else:
        connection.exec_driver_sql("BEGIN")


def let_sign(driver: Any, info: dict[Any, Any]) -> None:
    """Let a connection to a SQLite file, of which the pool keeps this, put a name to what is written next."""
    signer = info.get(_SIGNS)
    if signer is None:
        info[_SIGNS] = sign_all(driver)
    else:
        signer.ask_again()


def _begin_on_server(connection: sa.Connection) -> None:
    # who writes and is then suspended keeps others from what it wrote: the server ends that after a while
    if connection.get_execution_options().get("write", False):
        connection.exec_driver_sql(f"SET LOCAL idle_in_transaction_session_timeout = {WRITING_PATIENCE}")


READS: Final = "reads"
"""Whether nothing is written in a session, so that it need not keep others from what it looks at."""

_SIGNS: Final = "signs"
"""What puts a name to what a connection writes."""


@contextmanager
def reading(engine: sa.Engine) -> Iterator[Session]:
    """Give a session in one read-only transaction."""
    options = {"postgresql_readonly": True, "isolation_level": "REPEATABLE READ"}
    bound = engine if engine.dialect.name == "sqlite" else engine.execution_options(**options)
    with told(engine), Session(bound, info={READS: True}) as session:
        if engine.dialect.name != "sqlite":
            yield session
            # rolled back, psycopg would forget the statements that it has prepared
            session.commit()
            return
        session.connection().exec_driver_sql("PRAGMA query_only = ON")
        try:
            yield session
        finally:
            session.connection().exec_driver_sql("PRAGMA query_only = OFF")


@contextmanager
def writing(engine: sa.Engine) -> Iterator[Session]:
    """Give a session in one write transaction: committed if the block succeeds, rolled back if it raises."""
    session = Session(engine.execution_options(write=True))
    try:
        with told(engine):
            yield session
            session.flush()
        with told(engine, keeping=True):
            session.commit()
    finally:
        _let_go(session)


def _let_go(session: Session) -> None:
    """Roll back what isn't kept; where the server went away meanwhile it has done so itself."""
    try:
        session.close()
    except sa.exc.DBAPIError:
        session.invalidate()


def open_catalogue(url_or_path: str | None = None, *, quiet: bool = False, fresh: bool = False) -> sa.Engine:
    """Open the catalogue, creating or upgrading it where that is needed.

    Parameters
    ----------
    url_or_path : str, optional
        Where it is, else where `default_url` says.
    quiet : bool
        Whether it goes without saying that there is a new one; else that is a warning, which Python shows on stderr.
    fresh : bool
        Whether a new one may well be meant though one with nearly its name is there, which is then told.

    Raises
    ------
    DatabaseProblem
        It cannot be reached, is not a catalogue, or was written by a newer Triptych or one too old; or it isn't there,
        one with nearly its name is, and none is to be filled.
    """
    url = as_url(url_or_path) if url_or_path is not None else default_url()
    engine = open_engine(url)
    path = sqlite_file(engine.url)
    made, near = False, ""
    try:
        if path is not None:
            named = url_or_path is not None or bool(os.environ.get("TRIPTYCH_DB"))
            near = refuse_slip(path, named=named, fresh=fresh)
            made = make_private(path)
        _bring_up(engine, path)
    except BaseException:
        engine.dispose()
        if made and path is not None:
            take_away(path)
        raise
    if made and not quiet:
        log.warning("made a new catalogue at %s%s", path, f"; {near} is beside it, if that was meant" if near else "")
    log.info("opened %s", shown(engine.url))
    return engine


def _bring_up(engine: sa.Engine, path: Path | None) -> None:
    revision = revision_of(engine)
    if revision == HEAD:
        return
    if path is not None and only_read(path):
        raise DatabaseProblem(
            f"{path}: is of revision {revision} and has to be brought to {HEAD}, and it may only be read: "
            "copy it to where you may write, and name the copy"
        )
    upgrade(engine)


def make_private(path: Path) -> bool:
    """Make an empty file that only its owner may read; False where there is one, whose rights are left to it.

    Raises
    ------
    DatabaseProblem
        It cannot be made.
    """
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, PRIVATE))
    except FileExistsError:
        return False
    except OSError as problem:
        raise DatabaseProblem(f"{path}: {problem.strerror}: name another file") from None
    return True


def take_away(path: Path) -> None:
    """Leave nothing of a catalogue that could not be made, unless somebody else has made it meanwhile."""
    with suppress(DatabaseProblem, sa.exc.SQLAlchemyError):
        engine = open_engine(as_url(str(path)))
        try:
            if revision_of(engine) is not None:
                return
        finally:
            engine.dispose()
    for end in ("", "-wal", "-shm", "-journal"):
        path.with_name(f"{path.name}{end}").unlink(missing_ok=True)


def revision_of(engine: sa.Engine) -> str | None:
    """Give the revision of the tables, None where there are none yet: one statement where the database is a catalogue.

    Raises
    ------
    DatabaseProblem
        It cannot be opened, or it holds tables that are not a catalogue's.
    """
    with told(engine), engine.connect() as connection:
        try:
            found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        except (sa.exc.OperationalError, sa.exc.ProgrammingError) as problem:
            if "alembic_version" not in str(problem.orig):
                raise
            connection.rollback()
            found = None
        if found is None and (tables := sa.inspect(connection).get_table_names()) and tables != ["alembic_version"]:
            raise DatabaseProblem(
                f"{shown(engine.url)}: holds tables that are not a catalogue's ({tables[0]}): name another database"
            )
    return found


def alembic_config() -> Config:
    """Give Alembic's configuration, from any folder and without a file."""
    from alembic.config import Config

    from triptych import migrations

    folder = Path(next(iter(migrations.__path__)))
    config = Config()
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def upgrade(engine: sa.Engine) -> Path | None:
    """Bring the tables to the newest revision; lay a copy of an older SQLite file beside it first.

    Returns
    -------
    Path or None
        The copy. It is also said through `logging` as a warning, which Python shows on stderr by itself.

    Raises
    ------
    DatabaseProblem
        The database is newer than this program or too old for it, or cannot be reached or written. Nothing was changed.
    """
    with _upgrading:
        return _upgrade(engine)


def _upgrade(engine: sa.Engine) -> Path | None:
    from alembic import command

    old = revision_of(engine)
    if old is not None and (why := not_upgraded(old)):
        raise DatabaseProblem(f"{shown(engine.url)}: {why}")
    copy = _lay_copy(engine, old) if old not in (None, HEAD) else None
    config = alembic_config()
    with told(engine), engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
    return copy


def not_upgraded(revision: str) -> str | None:
    """Say why this program cannot bring a database of that revision to the newest; None where it can."""
    from alembic.script import ScriptDirectory

    if revision in {script.revision for script in ScriptDirectory.from_config(alembic_config()).walk_revisions()}:
        return None
    if revision > HEAD:
        return f"has revision {revision}, newer than this program knows (up to {HEAD}): update triptych"
    return (
        f"has revision {revision}, and this program begins at {BASE}: upgrade it first with a triptych that knows both,"
        " or export what it holds with the one that made it and import that here"
    )


def _lay_copy(engine: sa.Engine, revision: str | None) -> Path | None:
    path = sqlite_file(engine.url)
    if path is None:
        return None
    copy = path.with_name(f"{path.stem}.{revision}.{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}{path.suffix}")
    copy_sqlite(engine, copy)
    log.warning("the catalogue is brought from revision %s to %s; a copy of it as it was: %s", revision, HEAD, copy)
    return copy


def copy_sqlite(
    engine: sa.Engine, path: Path, *, replace: bool = False, check: Callable[[Path], None] | None = None
) -> None:
    """Write a consistent copy of a SQLite catalogue to `path`, with its rights, while others read and write it.

    `check` looks at the copy before it gets its name, and raises where it must not.

    Raises
    ------
    BadInput
        The copy cannot be written; no half copy is left.
    DatabaseProblem
        The catalogue cannot be read.
    """
    live = sqlite_file(engine.url)
    mode = stat.S_IMODE(live.stat().st_mode) if live is not None else PRIVATE
    with beside(path, mode=mode, replace=replace) as scratch:
        try:
            with told(engine), engine.connect() as connection, closing(sqlite3.connect(scratch)) as target:
                source = connection.connection.driver_connection
                if source is None:
                    raise DatabaseProblem(f"{shown(engine.url)}: the connection is closed")
                source.backup(target)
                # one file, with nothing beside it
                target.execute("PRAGMA journal_mode = DELETE")
            if check is not None:
                check(scratch)
        except sqlite3.Error as problem:
            raise BadInput(f"{path}: the copy cannot be written: {problem}; make room there") from None
