"""Who somebody is in a SQLite catalogue, which knows nobody: a name kept once a machine, put to what was written."""

from __future__ import annotations

import getpass
import hashlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from triptych.catalog.errors import BadInput
from triptych.catalog.names import LONGEST_NAME, clean_name
from triptych.catalog.outputs import write_file

LOGIN: Final = sa.text("SELECT session_user")
"""Who is logged in at a server."""


FOR_PROOF: Final = "{}"
"""What a signature says that tells nothing in words: it is for the proof alone."""


def whoever() -> str | None:
    """Give the name under which is kept who it was: TRIPTYCH_USER, that of the machine, or who is logged in."""
    return os.environ.get("TRIPTYCH_USER") or kept_name() or _login()


def _login() -> str | None:
    """Give the login by its number: LOGNAME and the like say what anybody likes."""
    try:
        import pwd

        return pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, KeyError):
        pass
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return None


def name_file() -> Path:
    """Give the file of the user's own in which the name is kept."""
    from platformdirs import user_config_path

    return user_config_path("triptych", appauthor=False) / "name.txt"


def kept_name() -> str | None:
    """Give the name that is kept for this machine, None where there is none."""
    try:
        text = name_file().read_text(encoding="utf-8")
    except (OSError, ValueError):
        return None
    return " ".join(text.split())[:LONGEST_NAME] or None


def keep_name(name: str) -> Path:
    """Keep the name under which this machine's writes are signed; give the file.

    Raises
    ------
    BadInput
        It is blank or too long, or the file cannot be written.
    """
    found = clean_name(name)
    if not found:
        raise BadInput("the name is blank: give yours")
    path = name_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise BadInput(f"{path.parent}: {problem.strerror}: make the folder, or set TRIPTYCH_USER") from None
    write_file(path, f"{found}\n".encode())
    return path


_SIGN: Final = """
CREATE TEMP TRIGGER IF NOT EXISTS signature_by_program AFTER INSERT ON main.signature BEGIN
  UPDATE signature SET who = triptych_who(), was = triptych_row(NEW.was), becomes = triptych_row(NEW.becomes),
    digest = triptych_digest((SELECT s.digest FROM signature s
      WHERE s.subject = NEW.subject AND s.number = NEW.number AND s.id <> NEW.id ORDER BY s.id DESC LIMIT 1),
    NEW.id, NEW.at, triptych_who(), NEW.subject, NEW.number, NEW.deed, NEW.said, triptych_row(NEW.was),
    triptych_row(NEW.becomes)) WHERE id = NEW.id;
END
"""


class Signer:
    """What puts a name to what one connection writes: asked for once a transaction, from a file it may be."""

    def __init__(self) -> None:
        self._who = cache(whoever)

    def ask_again(self) -> None:
        """Forget who it was: another transaction begins."""
        self._who.cache_clear()

    def __call__(self) -> str | None:
        """Give the name."""
        return self._who()


def sign_all(driver: Any) -> Signer | None:
    """Let a connection to a SQLite file put name and digest to all it writes; None where there is no place for them.

    The trigger is the connection's own, and stays with it: what another program writes has neither. The functions stay
    too: made anew, SQLite would forget all that it has prepared.
    """
    signer = Signer()
    driver.create_function("triptych_who", 0, signer)
    try:
        driver.execute("SELECT becomes FROM signature LIMIT 0")
        driver.create_function("triptych_digest", 10, digest_in_file, deterministic=True)
        driver.create_function("triptych_row", 1, row_digest, deterministic=True)
        driver.execute(_SIGN)
    except sqlite3.OperationalError:
        return None
    return signer


@contextmanager
def signed_together(driver: Any) -> Iterator[None]:
    """Sign what is written through a connection to a SQLite file once all of it is; inside a savepoint that ends it.

    Row by row it is most of what a thousand rows cost: of each the trigger calls us four times.
    """
    if not driver.execute("SELECT 1 FROM sqlite_temp_master WHERE name = 'signature_by_program'").fetchone():
        yield
        return
    (newest,) = driver.execute("SELECT coalesce(max(id), 0) FROM signature").fetchone()
    driver.execute("DROP TRIGGER temp.signature_by_program")
    yield
    _sign_after(driver, newest)
    driver.execute(_SIGN)


_SIGNED_AT_ONCE: Final = 5_000
_UNSIGNED: Final = """
SELECT g.id, g.at, g.subject, g.number, g.deed, g.said, g.was, g.becomes, (SELECT s.digest FROM signature s
    WHERE s.subject = g.subject AND s.number = g.number AND s.id < g.id ORDER BY s.id DESC LIMIT 1)
FROM signature g WHERE g.id > ? AND g.digest IS NULL ORDER BY g.id LIMIT ?
"""


def _sign_after(driver: Any, newest: int) -> None:
    """Put name and digest to all signatures after one, as the trigger does to each."""
    who = whoever()
    while rows := driver.execute(_UNSIGNED, (newest, _SIGNED_AT_ONCE)).fetchall():
        latest: dict[tuple[str, int], str] = {}
        signed = []
        for id_, at, subject, number, deed, said, was, becomes, before in rows:
            of, both = (subject, number), (row_digest(was), row_digest(becomes))
            latest[of] = digest_in_file(latest.get(of, before), id_, at, who, subject, number, deed, said, *both)
            signed.append((who, latest[of], *both, id_))
        driver.executemany("UPDATE signature SET who = ?, digest = ?, was = ?, becomes = ? WHERE id = ?", signed)
        newest = rows[-1][0]


def row_digest(told: str | None) -> str | None:
    """Give the SHA-256 of all that a row says, None where there was none."""
    return None if told is None else hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()


def signature_digest(before: str | None, number: int, at: datetime, *said: object) -> str:
    """Give the SHA-256 of a signature in hexadecimal digits: of one before it of the same row, and of all it says.

    `said` is its name, subject, number of the row, deed and text, and the digests of the row before and after. On a
    server a trigger makes it, by the same rule: `migrations/sql/0025_postgresql.sql`.
    """
    return _digest([before, number, (at - _EPOCH) // _MICROSECOND, *_said(said)])


def _said(said: tuple[object, ...]) -> tuple[object, ...]:
    """Give what a digest is of: older signatures have no digests of rows."""
    return said if said[-2:] != (None, None) else said[:-2]


def _digest(values: list[object]) -> str:
    # as `json.dumps` writes a list, at a sixth of the time: of an import each loudspeaker and each price is signed
    written = f"[{', '.join([_JSON.get(type(one), json.dumps)(one) for one in values])}]"
    return hashlib.sha256(written.encode("utf-8", "surrogatepass")).hexdigest()


_JSON: Final[Mapping[type, Callable[[Any], str]]] = {
    str: json.encoder.encode_basestring,  # what `ensure_ascii=False` takes
    int: str,
    type(None): lambda nothing: "null",
}


def digest_in_file(before: str | None, number: int, at: str, *said: object) -> str:
    """Give the same of a signature whose instant is told as SQLite keeps it."""
    return _digest([before, number, _microseconds(at), *_said(said)])


@lru_cache(8)  # one statement has one instant, however many rows it writes
def _microseconds(at: str) -> int:
    return (datetime.fromisoformat(at).replace(tzinfo=UTC) - _EPOCH) // _MICROSECOND


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
