"""Whose turn it is to write a SQLite file: it has one writer at a time, and itself keeps no queue.

SQLite lets who must wait sleep for up to 100 ms and then look again: of many writers few work, and some wait until they
are refused. Here they stand in a queue that the operating system keeps, which is a lock on the file's folder, and only
the first of them looks, often. Where a folder can't be locked each looks for itself.
"""

from __future__ import annotations

import os
import random
import sqlite3
import threading
import time
import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

BUSY_TIMEOUT: Final = 30_000
"""How long a writer waits for another. [ms]."""

FIRST_LOOK: Final = (0.002, 0.005)
"""How long the first in the queue waits, at first and at most, before it looks again. [s]."""

LONE_LOOK: Final = (0.002, 0.03)
"""The same for a writer where there is no queue. [s]."""


def begin_soon(connection: Any) -> bool:
    """Begin a write as soon as it is our turn; False where it never was in `BUSY_TIMEOUT`."""
    end = time.monotonic() + BUSY_TIMEOUT / 1000
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        if (begun := _try(connection)) is not None:
            return begun
        with _queue(connection) as first:
            return _look(connection, end, *(FIRST_LOOK if first else LONE_LOOK))
    finally:
        connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT}")


def _try(connection: Any) -> bool | None:
    """Begin; None where another is writing, False where something else is wrong."""
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as problem:
        return None if problem.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY else False
    return True


def _look(connection: Any, end: float, pause: float, longest: float) -> bool:
    while (begun := _try(connection)) is None and time.monotonic() < end:
        time.sleep(random.uniform(pause / 2, pause))  # not all in step
        pause = min(pause * 1.5, longest)
    return bool(begun)


class _Folder:
    """A folder that is open as long as this lives."""

    def __init__(self, path: str) -> None:
        self.number = os.open(path, os.O_RDONLY)
        weakref.finalize(self, os.close, self.number)


class _Folders(threading.local):
    """Folders that a thread has open: a lock is the thread's own only if the open folder is."""

    def __init__(self) -> None:
        self.by_path: dict[str, _Folder] = {}


_folders: Final = _Folders()


@contextmanager
def _queue(connection: Any) -> Iterator[bool]:
    """Wait until we are first of those who wait for the file's turn; say whether there is a queue at all."""
    path = next((row[2] for row in connection.execute("PRAGMA database_list") if row[1] == "main"), "")
    try:
        import fcntl

        if not path:
            raise OSError("a database in memory has no folder")
        folder = str(Path(path).parent)
        if folder not in _folders.by_path:
            _folders.by_path[folder] = _Folder(folder)
        number = _folders.by_path[folder].number
        fcntl.flock(number, fcntl.LOCK_EX)
    except (ImportError, OSError):
        yield False
        return
    try:
        yield True
    finally:
        fcntl.flock(number, fcntl.LOCK_UN)
