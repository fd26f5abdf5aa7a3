"""What an engine says of itself, told in our words so that it helps; what it says of rows is left to who asked."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import sqlalchemy as sa

from triptych.catalog.database.address import scrubbed, shown
from triptych.catalog.errors import DatabaseProblem, Overtaken, Unreached

log = logging.getLogger("triptych.database")

_FORBIDDEN: Final = "42501"

_GAVE_WAY: Final = ("40001", "40P01")
"""States in which the server chose this one to give way to others, who would wait for it for ever."""

SUSPENDED: Final = "25P03"
"""The state in which a server has ended who wrote and then did nothing for too long."""

_GONE: Final = ("08", "57P", SUSPENDED)
"""How states begin in which the server has let go of the connection, or takes none yet."""

_STATES: Final = {
    "55P03": "somebody else is writing the same units: try again when they have ended",
    "57014": "the server ended it, as it took too long: try again, or ask who keeps the server for more time",
    "25006": "it is read-only now, as a standby is: name the server that is written",
    "53100": "the server's disk is full: make room on it, then try again",
    "53200": "the server has no memory left: try again later",
    "53300": "the server has too many connections: try again when others have ended",
}
"""What a server's states mean, and how to mend them; PostgreSQL's Appendix A lists them."""

_CONNECTING: Final = {
    "does not exist": "there is no such database or user: create it first, or name another",
    "authentication": "it takes neither this user nor this password: check both in the URL",
    "no password": "it wants a password: give it in the URL, in PGPASSWORD or in the password file",
    "pg_hba": "it lets this user not in from here: ask who keeps the server",
}
"""Words in what a server says to who connects, and what they mean: these do not go by with waiting."""

_CURES: Final = {
    "not a database": "name another file, or move this one away",
    "malformed": "the file is damaged: put a copy in its place with triptych restore",
    "unable to open": "see that it is a file, in a folder you may write in",
    "readonly": "see that you may write the file and its folder",
    "locked": "another program is writing: try again when it has ended",
    "full": "make room on the disk, then try again; nothing was written",
}
"""Words in what SQLite says, and how to mend it."""


@contextmanager
def told(engine: sa.Engine, *, keeping: bool = False) -> Iterator[None]:
    """Turn what the driver says about the database itself, not about its rows, into one line that helps.

    `keeping` says that all was done but to be kept, so that nobody knows whether it was where the server goes away.
    """
    try:
        yield
    except (sa.exc.IntegrityError, sa.exc.ProgrammingError, sa.exc.DataError) as problem:
        if problem.statement is None and not keeping:  # said when connecting, of the URL's options
            raise DatabaseProblem(f"{shown(engine.url)}: {scrubbed(str(problem.orig), engine.url)}: mend it") from None
        if getattr(problem.orig, "sqlstate", None) != _FORBIDDEN:
            raise
        said = scrubbed(str(problem.orig), engine.url)
        raise DatabaseProblem(f"{shown(engine.url)}: {said}: ask for the right, or whoever may migrate") from problem
    except sa.exc.DBAPIError as problem:
        log.info("the engine says: %s", scrubbed(str(problem.orig), engine.url))
        if engine.dialect.name == "sqlite":
            raise _of_sqlite(engine, problem) from problem
        raise _of_server(engine, problem, keeping=keeping) from problem


def _before(problem: sa.exc.DBAPIError) -> sa.exc.DBAPIError:
    """Give what went wrong first, where SQLite has taken all back by itself and so knows no point to come back to."""
    earlier = problem.__context__
    while "no such savepoint" in str(problem.orig) and earlier is not None:
        if isinstance(earlier, sa.exc.DBAPIError):
            problem = earlier
        earlier = earlier.__context__
    return problem


def _of_sqlite(engine: sa.Engine, problem: sa.exc.DBAPIError) -> Exception:
    problem = _before(problem)
    said = scrubbed(str(problem.orig), engine.url)
    if "no such" in said or "syntax error" in said:  # SQLite's word for a mistake in this program
        return problem
    cure = next((cure for words, cure in _CURES.items() if words in said), None)
    return DatabaseProblem(f"{shown(engine.url)}: {said}: {cure or 'see that the disk works and the file is whole'}")


def _of_server(engine: sa.Engine, problem: sa.exc.DBAPIError, *, keeping: bool) -> Exception:
    state = getattr(problem.orig, "sqlstate", None) or ""
    where = shown(engine.url)
    if state in _GAVE_WAY:
        return Overtaken(
            "others were writing the same at the same time, again and again; nothing was written, try again"
        )
    if state in _STATES:
        return DatabaseProblem(f"{where}: {_STATES[state]}; nothing was written")
    if state and not state.startswith(_GONE):
        return DatabaseProblem(f"{where}: the server says no, by its code {state}; nothing was written")
    if keeping and state != SUSPENDED:
        return unknown_whether_kept(engine)
    if problem.statement is not None or state:
        return Unreached(f"{where}: the server went away; nothing was written: try again when it runs")
    said = str(problem.orig)
    for words, cure in _CONNECTING.items():
        if words in said:
            return DatabaseProblem(f"{where}: {cure}")
    return Unreached(
        f"{where}: no server answers, or it is starting: see that the server runs, and that host, port and name in the"
        " URL are right"
    )


def unknown_whether_kept(engine: sa.Engine) -> DatabaseProblem:
    """Say that the server went away between being asked to keep something and saying that it is kept."""
    return DatabaseProblem(
        f"{shown(engine.url)}: the server went away while it was asked to keep this, so that it may stand or not:"
        " see by triptych stock ledger or quote show before doing it again"
    )
