"""How a writer of a SQLite file waits until no other is writing; who has waited longest looks most often."""

from __future__ import annotations

import random
import sqlite3
import time
from typing import Any, Final

BUSY_TIMEOUT: Final = 30_000
"""How long a writer of a SQLite file waits for another. [ms]."""

BUSY_PAUSE: Final = (0.0005, 0.008)
"""How long it waits, at least and at most, before it looks again: at random, so that not all look in step. [s]."""

LONG_WAIT: Final = 0.5
"""After how long a wait it looks twice as often as one who has just come, so that nobody waits for ever. [s]."""


BEGIN_WRITE: Final = "BEGIN IMMEDIATE"


def begin_write(driver: Any) -> None:
    """Begin as soon as no other is writing: look often, as in SQLite's own naps of up to 100 ms some wait for ever.

    Raises
    ------
    sqlite3.OperationalError
        Another wrote for all of the time, or the file cannot be written.
    """
    start = time.monotonic()
    driver.execute("PRAGMA busy_timeout = 0")
    try:
        while True:
            try:
                driver.execute(BEGIN_WRITE)
                return
            except sqlite3.OperationalError as problem:
                waited = time.monotonic() - start
                if not is_busy(problem) or waited * 1000 >= BUSY_TIMEOUT:
                    raise
            least, most = BUSY_PAUSE
            time.sleep(random.uniform(least, max(least, most / (1 + waited / LONG_WAIT))))
    finally:
        driver.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT}")


def is_busy(problem: sqlite3.Error) -> bool:
    """Say whether SQLite says that another is writing."""
    return getattr(problem, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY
