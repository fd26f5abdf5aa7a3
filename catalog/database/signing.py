"""Who somebody is in a SQLite catalogue, which knows nobody: a name kept once a machine, put to what was written."""

from __future__ import annotations

import getpass
import hashlib
import json
import os
import sqlite3
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from triptych.catalog.errors import BadInput
from triptych.catalog.names import LONGEST_NAME, clean_name
from triptych.catalog.outputs import write_file

LOGIN: Final = sa.text("SELECT session_user")
"""Who is logged in at a server."""


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
  UPDATE signature SET who = triptych_who(), digest = triptych_digest((SELECT s.digest FROM signature s
      WHERE s.subject = NEW.subject AND s.number = NEW.number AND s.id <> NEW.id ORDER BY s.id DESC LIMIT 1),
    NEW.id, NEW.at, triptych_who(), NEW.subject, NEW.number, NEW.deed, NEW.said) WHERE id = NEW.id;
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
        driver.execute("SELECT digest FROM signature LIMIT 0")
        driver.create_function("triptych_digest", 8, _digest_in_file, deterministic=True)
        driver.execute(_SIGN)
    except sqlite3.OperationalError:
        return None
    return signer


def signature_digest(before: str | None, number: int, at: datetime, *said: object) -> str:
    """Give the SHA-256 of a signature in hexadecimal digits: of one before it of the same row, and of all it says.

    `said` is its name, subject, number of the row, deed and text. On a server a trigger makes it, by the same rule:
    `migrations/sql/0020_postgresql.sql`.
    """
    values = [before, number, (at - _EPOCH) // _MICROSECOND, *said]
    return hashlib.sha256(json.dumps(values, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()


def _digest_in_file(before: str | None, number: int, at: str, *said: object) -> str:
    return signature_digest(before, number, datetime.fromisoformat(at).replace(tzinfo=UTC), *said)


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
