"""A copy of the catalogue while it is in use, and a copy put back: whole, or not at all."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from triptych.catalog.database.engine import as_url, copy_sqlite, not_upgraded, open_engine, revision_of, upgrade
from triptych.catalog.errors import BadInput, DatabaseProblem


def backup(engine: sa.Engine, path: Path, *, replace: bool = False) -> None:
    """Write a consistent copy of a SQLite catalogue to a file, while others read and write it.

    Raises
    ------
    BadInput
        The file is there already, or cannot be written.
    DatabaseProblem
        The catalogue is on a server, whose own tools do this, or it is damaged. Nothing was written.
    """
    _refuse_server(engine, f"pg_dump --format=custom --file={path}")
    if path.exists() and not replace:
        raise BadInput(f"{path}: is there already; name another file, or say --replace")
    if _is_live(engine, path):
        raise BadInput(f"{path}: is the catalogue itself; name another file")
    scratch = _scratch(path)
    try:
        copy_sqlite(engine, scratch)
        _refuse_damaged(scratch)
        _settle(scratch)
        scratch.replace(path)
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror}; name a file that can be written") from None
    finally:
        scratch.unlink(missing_ok=True)


def restore(engine: sa.Engine, path: Path) -> Path | None:
    """Put a copy in the place of a SQLite catalogue, after laying a copy of what is there beside it.

    It is written as one transaction: whoever reads meanwhile sees the old or the new, and a crash leaves the old.

    Returns
    -------
    Path or None
        The copy of what was there; None where nothing was.

    Raises
    ------
    BadInput
        The file is no catalogue, or it is damaged. Nothing was changed.
    DatabaseProblem
        The catalogue is on a server, or in use by a program that doesn't let go of it.
    """
    _refuse_server(engine, f"pg_restore --clean --if-exists --single-transaction --dbname=NAME {path}")
    if not path.is_file():
        raise BadInput(f"{path}: there is no such file")
    if _is_live(engine, path):
        raise BadInput(f"{path}: is the catalogue itself; name a copy of it")
    _refuse_foreign(path)
    live = Path(str(engine.url.database))
    kept = None
    if live.exists() and live.stat().st_size:
        kept = live.with_name(f"{live.stem}.before-restore.{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}{live.suffix}")
        copy_sqlite(engine, kept)
    _put_back(engine, path)
    upgrade(engine)
    return kept


def _refuse_server(engine: sa.Engine, instead: str) -> None:
    if engine.dialect.name != "sqlite":
        shown = engine.url.set(drivername="postgresql").render_as_string(hide_password=True)
        raise DatabaseProblem(f"{shown}: is on a server, whose own tools do this: {instead} {shown!r}")


def _is_live(engine: sa.Engine, path: Path) -> bool:
    live = Path(str(engine.url.database))
    return live.exists() and path.exists() and live.samefile(path)


def _scratch(path: Path) -> Path:
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as problem:
        raise BadInput(f"{path}: {problem.strerror}; name a file in a folder that you may write in") from None
    os.close(handle)
    umask = os.umask(0)
    os.umask(umask)
    Path(name).chmod(0o666 & ~umask)
    return Path(name)


def _settle(path: Path) -> None:
    """Leave one file, with nothing beside it, and bring it to the disk before it gets its name."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def _refuse_damaged(path: Path) -> None:
    try:
        with closing(sqlite3.connect(f"file:{_quoted(path)}?mode=ro", uri=True)) as connection:
            said = connection.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.Error as problem:
        said = str(problem)
    if said != "ok":
        raise BadInput(f"{path}: is no sound catalogue ({said}); name another copy")


def _quoted(path: Path) -> str:
    from urllib.parse import quote

    return quote(str(path.absolute()))


def _refuse_foreign(path: Path) -> None:
    """Refuse a file that is damaged, no catalogue, or of a revision that this program cannot upgrade."""
    _refuse_damaged(path)
    with tempfile.TemporaryDirectory() as folder:
        # looked at as a copy: opening a file in WAL mode can write beside it
        look = Path(folder) / "copy.db"
        with (
            closing(sqlite3.connect(f"file:{_quoted(path)}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(look)) as target,
        ):
            source.backup(target)
        engine = open_engine(as_url(str(look)))
        try:
            found = revision_of(engine)
        except DatabaseProblem:
            found = None
        finally:
            engine.dispose()
    if found is None:
        raise BadInput(f"{path}: is no catalogue; name a file that triptych backup wrote")
    if why := not_upgraded(found):
        raise BadInput(f"{path}: {why}")


def _put_back(engine: sa.Engine, path: Path) -> None:
    try:
        with (
            engine.connect() as connection,
            closing(sqlite3.connect(f"file:{_quoted(path)}?mode=ro", uri=True)) as source,
        ):
            target = connection.connection.driver_connection
            if target is None:
                raise DatabaseProblem(f"{engine.url.database}: the connection is closed")
            source.backup(target)
    except sqlite3.Error as problem:
        raise DatabaseProblem(
            f"{engine.url.database}: cannot be replaced now ({problem}): let other programs end, then try again"
        ) from None
