"""Where a catalogue is: paths and URLs, never told with what is secret in them, and names that look like slips."""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from triptych.catalog.errors import DatabaseProblem

if TYPE_CHECKING:
    import sqlalchemy as sa

_SQLITE_OPTIONS: Final = frozenset({"uri", "mode", "cache", "immutable", "nolock", "vfs", "timeout"})
_HEADER: Final = b"SQLite format 3\x00"
_WRITE: Final = "write a file, or postgresql://user@host:port/name; in a password, @, / and ? are %40, %2F and %3F"


def default_url() -> str:
    """Give the URL of the catalogue that is used where none is named: TRIPTYCH_DB, or a file of the user's own."""
    if named := os.environ.get("TRIPTYCH_DB"):
        return as_url(named)
    return as_url(str(default_path()))


def default_path() -> Path:
    """Give the file of the user's own."""
    from platformdirs import user_data_path

    return user_data_path("triptych", appauthor=False) / "catalogue.db"


def as_url(url_or_path: str) -> str:
    """Give a SQLAlchemy URL for a URL or for the path of a SQLite file.

    Raises
    ------
    DatabaseProblem
        It is empty, or no path and no URL either.

    Examples
    --------
    >>> as_url("shop.db"), as_url("postgresql://localhost/shop")
    ('sqlite:///shop.db', 'postgresql+psycopg://localhost/shop')
    """
    if not url_or_path.strip():
        raise DatabaseProblem("the database has no name: give --db a file or a URL")
    if re.search("[\0\ud800-\udfff]", url_or_path):
        raise DatabaseProblem("the name of the database is no text in UTF-8: name another file")
    scheme, separator, rest = url_or_path.partition("://")
    if not separator:
        return _url_of_path(url_or_path)
    if scheme in ("postgresql", "postgres"):
        return f"postgresql+psycopg://{rest}"
    return url_or_path


def _url_of_path(text: str) -> str:
    import sqlalchemy as sa

    path = os.path.expanduser(text)
    if not os.path.exists(path) and re.search(r":.*@|pass\w*\s*=", text, re.DOTALL):
        raise DatabaseProblem(f"the database is named by no path and no URL: {_WRITE}")
    return sa.URL.create("sqlite", database=path).render_as_string(hide_password=False)


def parsed(url: str) -> sa.URL:
    """Give the parts of a URL.

    Raises
    ------
    DatabaseProblem
        It cannot be read, or is of a database that holds no catalogues. It is never repeated: who knows what stands
        for a password in it.
    """
    import sqlalchemy as sa

    scheme = url.partition("://")[0]
    try:
        found = sa.make_url(url)
        backend = found.get_backend_name()
    except (sa.exc.ArgumentError, ValueError, AttributeError):
        raise _no_url(scheme) from None
    if backend not in ("sqlite", "postgresql"):
        raise DatabaseProblem(f"{scheme}://…: only SQLite and PostgreSQL can hold a catalogue")
    if re.search("[\x00-\x1f\x7f\ud800-\udfff]", url) or (
        _strays(found, url) if backend == "postgresql" else _strange(found)
    ):
        raise _no_url(scheme)
    return found


def _no_url(scheme: str) -> DatabaseProblem:
    told = scheme.removesuffix("+psycopg") if re.fullmatch(r"[\w+]{1,30}", scheme) else "what is given"
    return DatabaseProblem(f"{told}://… is not the URL of a database: {_WRITE}")


def _strays(found: sa.URL, url: str) -> bool:
    """Whether a part of a password may have come to lie in what is told: an @, a / or a ? of it were not escaped."""
    query = url.partition("?")[2] if found.query or "?" in url else ""
    lost = "@" in query and "=" not in query.partition("@")[0]
    return lost or any("@" in part for part in (found.host or "", found.database or "", *found.query))


def _strange(found: sa.URL) -> bool:
    return bool(found.username or found.password or found.host or set(found.query) - _SQLITE_OPTIONS)


def shown(url: sa.URL) -> str:
    """Give a database as it is told to people: without its password, and without options, which may hold one."""
    if url.get_backend_name() == "sqlite":
        return url.database or ":memory:"
    return url.set(drivername="postgresql", query={}).render_as_string(hide_password=True)


def for_tools(url: sa.URL) -> str:
    """Give the URL of a server as its own tools take it, without what is secret: they ask, or have a password file."""
    query = {name: value for name, value in url.query.items() if "pass" not in name.casefold()}
    return url.set(drivername="postgresql", password=None, query=query).render_as_string(hide_password=False)


def scrubbed(said: str, url: sa.URL) -> str:
    """Give what a driver said in one line, without what is secret in the URL."""
    values = [(key, one) for key, value in url.query.items() for one in ([value] if isinstance(value, str) else value)]
    secrets = [str(url.password or ""), *(value for key, value in values if "pass" in key.casefold())]
    forms = {form for one in secrets if one for form in (one, quote(one, safe=""))}
    for secret in sorted(forms, key=len, reverse=True):
        said = said.replace(secret, "***")
    return " ".join(said.split())


def sqlite_file(url: sa.URL) -> Path | None:
    """Give the file of a SQLite database; None of one in memory, of a `file:` URI, or on a server."""
    if url.get_backend_name() != "sqlite" or not url.database or url.database.startswith((":memory:", "file:")):
        return None
    return Path(url.database)


def refuse_slip(path: Path, *, named: bool, fresh: bool = False) -> str:
    """Refuse a path on which no catalogue can be, or beside which there is one that was nearly certainly meant.

    Returns a caution: the name of such a one beside a new catalogue that may be meant; else nothing.

    Parameters
    ----------
    path : Path
        The file of the catalogue. The folder of one that nobody named is made.
    named : bool
        Whether somebody named it.
    fresh : bool
        Whether what is asked for fills a catalogue, so that a new one may well be meant.

    Raises
    ------
    DatabaseProblem
        Says what is there, and how a new catalogue is made on purpose.
    """
    if os.path.isdir(path):
        raise DatabaseProblem(f"{path}: is a folder: name a file in it, such as {path / 'catalogue.db'}")
    if os.path.exists(path) and not os.path.isfile(path):
        raise DatabaseProblem(f"{path}: is a device or a pipe: name a file")
    folder = path.parent
    if not os.path.isdir(folder):
        if named:
            raise DatabaseProblem(f"{path}: there is no folder {folder}: create it, or name another file")
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise DatabaseProblem(f"{folder}: {problem.strerror}: set TRIPTYCH_DB to a file you may write") from None
    if os.path.lexists(path):
        return ""
    if not os.access(folder, os.W_OK):
        raise DatabaseProblem(f"{path}: you may not write in {folder}: name another file")
    near = next(_near(path), None)
    if near and not fresh:
        raise DatabaseProblem(
            f"{path}: is not there, and {near.name} is: name that one; or, if a new catalogue is meant, "
            f"import into it, or make an empty file of that name first"
        )
    return near.name if near else ""


def _near(path: Path) -> Iterator[Path]:
    """Databases beside a path whose names an edit or two turns into its own; digits tell names apart."""
    for other in sorted(path.parent.iterdir()):
        # another program may have made the very file a moment ago
        if other != path and other.is_file() and _alike(path, other) and _is_sqlite(other):
            yield other


def _alike(one: Path, other: Path) -> bool:
    from rapidfuzz.distance import OSA

    first, second = one.stem.casefold(), other.stem.casefold()
    if first == second:
        return True
    if re.sub(r"\D", "", first) != re.sub(r"\D", "", second) or one.suffix != other.suffix:
        return False
    shorter, longer = sorted((len(first), len(second)))
    most = 2 if longer >= 9 else 1 if shorter >= 3 and longer >= 4 else 0
    return OSA.distance(first, second) <= most


def _is_sqlite(path: Path) -> bool:
    try:
        with path.open("rb") as stream:
            return stream.read(len(_HEADER)) == _HEADER
    except OSError:
        return False


def only_read(path: Path) -> bool:
    """Whether a file of SQLite can be read and not written: by its rights, its folder's, or those of the medium."""
    if not os.path.isfile(path) or (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
        return False
    # with the index of the log there already, SQLite makes no file in the folder
    return not (os.access(path, os.W_OK) and _beside(path, "-shm").exists())


def open_to_read(path: Path) -> sqlite3.Connection:
    """Open a file that can't be written; nothing is made beside it.

    Where no log waits beside it, nobody is writing, and it is taken for what never changes: else SQLite would ask for
    an index of the log, which it may not make.
    """
    waits = any(_beside(path, end).exists() and _beside(path, end).stat().st_size for end in ("-wal", "-journal"))
    rights = "mode=ro" if waits else "mode=ro&immutable=1"
    return sqlite3.connect(f"file:{quote(str(path.absolute()))}?{rights}", uri=True, check_same_thread=False)


def _beside(path: Path, end: str) -> Path:
    return path.with_name(f"{path.name}{end}")
