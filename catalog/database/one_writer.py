"""How a writer of a SQLite file waits until no other is writing."""

from __future__ import annotations

import random
import sqlite3
import time
from typing import Any, Final

BUSY_TIMEOUT: Final = 30_000
"""How long a writer of a SQLite file waits for another. [ms]."""

BUSY_PAUSE: Final = (0.001, 0.01)
"""How long it waits, at least and at most, before it looks again: at random, so that not all look in step. [s]."""

BEGIN_WRITE: Final = "BEGIN IMMEDIATE"


def begin_write(driver: Any) -> None:
    """Begin as soon as no other is writing: look often, as in SQLite's own naps of up to 100 ms some wait for ever.

    Raises
    ------
    sqlite3.OperationalError
        Another wrote for all of the time, or the file cannot be written.
    """
    end = time.monotonic() + BUSY_TIMEOUT / 1000
    driver.execute("PRAGMA busy_timeout = 0")
    try:
        while True:
            try:
                driver.execute(BEGIN_WRITE)
                return
            except sqlite3.OperationalError as problem:
                if not is_busy(problem) or time.monotonic() >= end:
                    raise
            time.sleep(random.uniform(*BUSY_PAUSE))
    finally:
        driver.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT}")


def is_busy(problem: sqlite3.Error) -> bool:
    """Say whether SQLite says that another is writing."""
    return getattr(problem, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY
