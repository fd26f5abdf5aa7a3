"""A copy of the catalogue while it is in use, and a copy put back: whole, or not at all."""

from __future__ import annotations

import logging
import os
import shlex
import sqlite3
import stat
import tempfile
import time
from collections.abc import Collection
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from triptych.catalog.database.address import as_url, for_tools, shown
from triptych.catalog.database.engine import (
    copy_sqlite,
    make_private,
    not_upgraded,
    open_engine,
    revision_of,
    take_away,
    upgrade,
)
from triptych.catalog.errors import BadInput, DatabaseProblem
from triptych.catalog.inputs import is_file
from triptych.catalog.outputs import beside

log = logging.getLogger("triptych.database")

_TABLES: Final = frozenset({"alembic_version", "loudspeaker", "room", "movement"})
"""Tables by which a catalogue is told from what else is kept in such files."""


def backup(engine: sa.Engine, path: Path, *, replace: bool = False) -> None:
    """Write a consistent copy of a SQLite catalogue to a file, while others read and write it.

    Raises
    ------
    BadInput
        The file is there already, or cannot be written.
    DatabaseProblem
        The catalogue is on a server, whose own tools do this, or it is damaged. Nothing was written.
    """
    _refuse_server(engine, "pg_dump --format=custom --file={file} {url}", path)
    if is_file(path) and not replace:
        raise BadInput(f"{path}: is there already; name another file, or say --replace")
    if _is_live(engine, path):
        raise BadInput(f"{path}: is the catalogue itself; name another file")
    copy_sqlite(engine, path, replace=replace, check=_refuse_damaged)


def restore(engine: sa.Engine, path: Path) -> Path | None:
    """Put a copy in the place of a SQLite catalogue, after laying what is there beside it.

    Nobody else can write between the two: the catalogue is taken away from others first. It is written as one
    transaction, so that a crash leaves the old. A file that is damaged is laid aside as it is.

    Returns
    -------
    Path or None
        What was there, beside it; None where nothing was.

    Raises
    ------
    BadInput
        The file is no catalogue, or it is damaged. Nothing was changed.
    DatabaseProblem
        The catalogue is on a server, or in use by a program that doesn't let go of it. Nothing was changed.
    """
    _refuse_server(
        engine, "pg_restore --clean --if-exists --no-owner --single-transaction{role} --dbname={url} {file}", path
    )
    if not is_file(path):
        raise BadInput(f"{path}: there is no such file")
    if _is_live(engine, path):
        raise BadInput(f"{path}: is the catalogue itself; name a copy of it")
    _refuse_foreign(path)
    live = Path(str(engine.url.database))
    new = make_private(live)
    try:
        engine.dispose()
        kept = _replaced(live, path, empty=new or not live.stat().st_size)
        upgrade(engine)
    except BaseException:
        engine.dispose()
        if new:
            take_away(live)
        raise
    if new:
        log.warning("made a new catalogue at %s", live)
    return kept


def _replaced(live: Path, path: Path, *, empty: bool) -> Path | None:
    """Put a copy in the place of a file that nobody else uses, and give where that was laid."""
    kept = _aside(live, "before-restore")
    logs = [end for end in ("-wal", "-journal") if _size(live.with_name(f"{live.name}{end}"))]
    # while it is held, the file is never opened by other means: closing it would let go of all locks of this program
    with closing(sqlite3.connect(live, timeout=_PATIENCE, isolation_level=None)) as held:
        try:
            _hold(held, live)
            if held.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
                raise sqlite3.DatabaseError("malformed")
            if not empty:
                with (
                    beside(kept, mode=_mode(live), replace=False) as scratch,
                    closing(sqlite3.connect(scratch)) as aside,
                ):
                    held.backup(aside)
            with closing(_read_only(path)) as source:
                source.backup(held)
            _let_go(held)
            return None if empty else kept
        except sqlite3.DatabaseError as problem:
            if not any(words in str(problem) for words in _DAMAGED):
                raise _not_now(live, problem) from None
            return _swapped(live, path, logs)


_PATIENCE: Final = 5.0
"""How long others who use the catalogue are waited for. [s]."""

_PAUSE: Final = 0.005
"""How long to wait before looking again whether they have let go. [s]."""

_DAMAGED: Final = ("malformed", "not a database", "corrupt", "disk I/O", "unsupported file format")
"""Words in what SQLite says of a file that is no whole database."""


def _hold(held: sqlite3.Connection, live: Path) -> None:
    """Take a file away from all others: SQLite gives its log up only where no other program has it open."""
    end = time.monotonic() + _PATIENCE
    held.execute("PRAGMA locking_mode = EXCLUSIVE")
    while True:
        try:
            held.execute("PRAGMA journal_mode = DELETE")
            break
        except sqlite3.OperationalError as problem:
            if "locked" not in str(problem):
                raise
            if time.monotonic() > end:
                raise _not_now(live, "another program has it open") from None
            time.sleep(_PAUSE)
    held.execute("BEGIN EXCLUSIVE")
    # the lock outlives the transaction
    held.execute("COMMIT")


def _let_go(held: sqlite3.Connection) -> None:
    """Let others in, and take away what was kept beside for the case of a crash."""
    with suppress(sqlite3.OperationalError):  # whoever is in by now takes it away
        held.execute("PRAGMA locking_mode = NORMAL")
        held.execute("SELECT COUNT(*) FROM sqlite_schema").fetchone()
        held.execute("PRAGMA journal_mode = DELETE").fetchone()


def _not_now(live: Path, why: object) -> DatabaseProblem:
    return DatabaseProblem(
        f"{live}: cannot be replaced now ({why}): let all programs that use it end, then try again; nothing was changed"
    )


def _swapped(live: Path, path: Path, logs: Collection[str]) -> Path:
    """Let a copy take the name of a damaged file, which goes on beside it with the logs that belong to it."""
    kept = _aside(live, "damaged")
    with beside(live, mode=_mode(live)) as scratch:
        with closing(_read_only(path)) as source, closing(sqlite3.connect(scratch)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
        for end in ("-wal", "-journal", "-shm"):
            # what goes with the damaged one would be taken for the new one's
            beside_it = live.with_name(f"{live.name}{end}")
            if end in logs and beside_it.exists():
                beside_it.replace(kept.with_name(f"{kept.name}{end}"))
            beside_it.unlink(missing_ok=True)
        try:
            os.link(live, kept)
        except OSError:  # some disks know no links
            live.replace(kept)
    return kept


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _mode(live: Path) -> int:
    return stat.S_IMODE(live.stat().st_mode)


def _aside(live: Path, why: str) -> Path:
    return live.with_name(f"{live.stem}.{why}.{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}{live.suffix}")


def _read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{_quoted(path)}?mode=ro", uri=True)


def _refuse_server(engine: sa.Engine, instead: str, path: Path) -> None:
    if engine.dialect.name != "sqlite":
        url, file = shlex.quote(for_tools(engine.url)), shlex.quote(str(path))
        command = instead.format(url=url, file=file, role=_as_owner(engine) if "{role}" in instead else "")
        raise DatabaseProblem(f"{shown(engine.url)}: is on a server, whose own tools do this: {command}")


def _as_owner(engine: sa.Engine) -> str:
    """Say to `pg_restore` whose the tables shall be, where that isn't who logs in: else the keeper is shut out."""
    with suppress(sa.exc.DBAPIError), engine.connect() as connection:
        owner = connection.exec_driver_sql(_OWNER).scalar()
        return "" if owner is None else f" --role={shlex.quote(owner)}"
    return ""


_OWNER: Final = """SELECT owner FROM (SELECT coalesce(
    (SELECT pg_get_userbyid(relowner) FROM pg_class WHERE oid = to_regclass('movement')),
    (SELECT rolname FROM pg_roles
      WHERE rolname = 'triptych_keeper' AND has_schema_privilege(oid, 'public', 'CREATE'))) AS owner) AS found
  WHERE owner <> session_user AND pg_has_role(session_user, owner, 'MEMBER')"""
"""Whose the tables are, or will be once the roles are laid down, where that isn't who logs in but who they may be."""


def _is_live(engine: sa.Engine, path: Path) -> bool:
    live = Path(str(engine.url.database))
    return is_file(live) and is_file(path) and live.samefile(path)


def _refuse_damaged(path: Path) -> None:
    try:
        with closing(_read_only(path)) as connection:
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
        with closing(_read_only(path)) as source, closing(sqlite3.connect(look)) as target:
            source.backup(target)
        engine = open_engine(as_url(str(look)))
        try:
            found = revision_of(engine)
            whole = set(sa.inspect(engine).get_table_names()) >= _TABLES
        except (DatabaseProblem, sa.exc.DBAPIError):
            found, whole = None, False
        finally:
            engine.dispose()
    if found is None:
        raise BadInput(f"{path}: is no catalogue; name a file that triptych backup wrote")
    if why := not_upgraded(found):
        raise BadInput(f"{path}: {why}")
    if not whole:
        raise BadInput(f"{path}: lacks tables of a catalogue; name a file that triptych backup wrote")
