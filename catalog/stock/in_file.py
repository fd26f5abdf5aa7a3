"""A SQLite file past all that a statement of ours needs: transactions, and lines of the ledger with their digests."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Final, TypeVar

import sqlalchemy as sa

from triptych.catalog.database.engine import let_sign
from triptych.catalog.database.one_writer import BEGIN_WRITE, begin_write, is_busy
from triptych.catalog.database.trouble import told
from triptych.catalog.stock.digests import HOLDING, LINE, MORE, deed_number, digest_of

Result = TypeVar("Result")

TIME: Final = "%Y-%m-%d %H:%M:%S.%f"
"""How an instant stands in the file, in UTC."""

ENDING: Final = """
  p.zone, h.id, h.location_id, h.grade, h.pack, h.finish_key, e.sequence, e.on_hand, e.tracked, e.at, e.digest,
  COALESCE((SELECT SUM(r.rest) FROM reservation r WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > :now), 0)
"""
LAST_LINE: Final = """
  JOIN movement e ON e.holding_id = h.id
    AND e.sequence = (SELECT MAX(n.sequence) FROM movement n WHERE n.holding_id = h.id)
"""
_COLUMNS: Final = ("loudspeaker_id", "holding_id", *LINE, *MORE, "digest")
_INSERT: Final = (
    f"INSERT INTO movement ({', '.join(_COLUMNS)}) VALUES ({', '.join(f':{name}' for name in _COLUMNS)}) RETURNING id"
)
_BLANK: Final[Mapping[str, Any]] = dict.fromkeys(_COLUMNS)


@dataclass(slots=True)
class Ending:
    """A holding and its last line."""

    zone: str
    holding: int
    location: int
    grade: str
    pack: int
    finish_key: str
    sequence: int
    on_hand: int
    tracked: int
    at: str
    digest: str | None
    reserved: int


@dataclass(slots=True)
class Writer:
    """What writes lines in one transaction: in whose name, with which note, at what time; and their numbers."""

    driver: Any
    who: str | None
    note: str | None
    now: datetime
    lines: list[int] = field(default_factory=list)
    deed: int = field(default_factory=deed_number)

    def write(self, end: Ending, speaker: int, kind: str, quantity: int, effect: int, **more: Any) -> int:
        """Write a line after the last of a holding, which it then is; give its number."""
        at = max(self.now, as_instant(end.at))
        end.sequence += 1
        end.on_hand += effect
        line = {**_BLANK, "loudspeaker_id": speaker, "holding_id": end.holding, "kind": kind}
        line |= {"quantity": quantity, "effect": effect, "sequence": end.sequence, "on_hand": end.on_hand}
        line |= {"tracked": end.tracked, "at": at, "note": self.note, "who": self.who, **more}
        line["deed_number"] = self.deed
        alike = (end.location, end.grade, end.pack, end.finish_key)
        end.digest = line["digest"] = digest_of(end.digest, line, dict(zip(HOLDING, alike, strict=True)))
        line |= {"at": stored(at), "until": None if line["until"] is None else stored(line["until"])}
        end.at = line["at"]
        number = int(self.driver.execute(_INSERT, line).fetchone()[0])
        self.lines.append(number)
        return number


def stored(time: datetime) -> str:
    """Give an instant as the file has it."""
    return time.strftime(TIME)


def as_instant(text: str) -> datetime:
    """Give an instant of the file."""
    return datetime.strptime(text, TIME).replace(tzinfo=UTC)


def past_statements(engine: sa.Engine, do: Callable[[Any], Result]) -> Result | None:
    """Do it in one transaction past all that only a statement of ours needs.

    None where it gives that, or the file says no: then nothing was written.

    Raises
    ------
    DatabaseProblem
        Another wrote the file for all of the time.
    """
    with told(engine):
        pooled = engine.raw_connection()
    driver: Any = pooled.driver_connection
    try:
        let_sign(driver, pooled.info)
        begin_write(driver)
        found = do(driver)
        driver.execute("ROLLBACK" if found is None else "COMMIT")
        return found
    except sqlite3.Error as problem:
        if driver.in_transaction:
            driver.execute("ROLLBACK")
        if is_busy(problem):
            with told(engine):
                raise sa.exc.OperationalError(BEGIN_WRITE, None, problem) from problem
        # whatever it says, nothing is written: the long way tells it
        return None
    finally:
        pooled.close()


def looked_at(engine: sa.Engine, look: Callable[[Any], Result]) -> Result | None:
    """Look at things as they are at one instant, past all that a statement of ours needs; None where the file says no.

    Raises
    ------
    DatabaseProblem
        It cannot be opened.
    """
    with told(engine):
        pooled = engine.raw_connection()
    driver: Any = pooled.driver_connection
    try:
        driver.execute("BEGIN")
        return look(driver)
    except sqlite3.Error:
        # the long way tells what it says
        return None
    finally:
        if driver.in_transaction:
            driver.execute("ROLLBACK")
        pooled.close()
