"""A movement of the usual kinds in a SQLite file, past all that a statement of ours needs: two to find, one a line.

It is what `stock_movement` does on a server. Others wait for as long as it takes, so nothing else is done meanwhile.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind
from triptych.catalog.database.one_writer import BEGIN_WRITE, begin_write, is_busy
from triptych.catalog.database.trouble import told
from triptych.catalog.money import LARGEST_AMOUNT
from triptych.catalog.stock.calls import Call, MovedAtOnce
from triptych.catalog.stock.digests import HOLDING, LINE, MORE, digest_of
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, instant

_TIME: Final = "%Y-%m-%d %H:%M:%S.%f"
"""How an instant stands in the file, in UTC."""

_END: Final = """
  p.zone, h.id, h.location_id, h.grade, h.pack, h.finish_key, e.sequence, e.on_hand, e.tracked, e.at, e.digest,
  COALESCE((SELECT SUM(r.rest) FROM reservation r WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > :now), 0)
"""
_LAST: Final = """
  JOIN movement e ON e.holding_id = h.id
    AND e.sequence = (SELECT MAX(n.sequence) FROM movement n WHERE n.holding_id = h.id)
"""
_FIND: Final = f"""
SELECT l.id, l.status, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model, j.id, {_END}
  FROM loudspeaker l
  JOIN maker m ON m.id = l.maker_id
  LEFT JOIN series s ON s.id = l.series_id
  JOIN location p ON p.name_key = :place
  JOIN holding h ON h.loudspeaker_id = l.id AND h.location_id = p.id AND h.grade = :grade
    AND h.pack = CASE WHEN NOT :single AND l.sold_as = 'pair' THEN 2 ELSE 1 END AND h.finish_key = :finish
  {_LAST}
  LEFT JOIN job j ON j.name_key = :job AND j.merged_into_id IS NULL
    AND NOT EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id)
  WHERE l.name_key = :model
"""
_GOAL: Final = f"""
SELECT {_END}
  FROM location p
  JOIN holding h ON h.loudspeaker_id = :loudspeaker AND h.location_id = p.id AND h.grade = :grade AND h.pack = :pack
    AND h.finish_key = :finish
  {_LAST}
  WHERE p.name_key = :to
"""
_KEPT: Final = """
SELECT r.movement_id, r.rest, r.serial FROM reservation r JOIN movement m ON m.id = r.movement_id
  WHERE r.holding_id = ? AND r.rest > 0 AND r.until > ? AND m.job_id = ? ORDER BY r.movement_id
"""
_KEPT_APART: Final = """
SELECT 1 FROM holding o JOIN reservation r ON r.holding_id = o.id JOIN movement m ON m.id = r.movement_id
  WHERE o.loudspeaker_id = ? AND o.id <> ? AND r.rest > 0 AND r.until > ? AND m.job_id = ?
"""
_COLUMNS: Final = ("loudspeaker_id", "holding_id", *LINE, *MORE, "digest")
_INSERT: Final = (
    f"INSERT INTO movement ({', '.join(_COLUMNS)}) VALUES ({', '.join(f':{name}' for name in _COLUMNS)}) RETURNING id"
)
_BLANK: Final[Mapping[str, Any]] = dict.fromkeys(_COLUMNS)


@dataclass(slots=True)
class _Ending:
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
class _Writer:
    """One transaction of a movement: what is asked, of what, and which lines were written."""

    driver: Any
    asked: Call
    now: datetime
    speaker: int
    job: int | None
    lines: list[int]

    def write(self, end: _Ending, kind: MovementKind, quantity: int, effect: int, **more: Any) -> int:
        """Write a line after the last of a holding, which it then is; give its number."""
        at = max(self.now, datetime.strptime(end.at, _TIME).replace(tzinfo=UTC))
        end.sequence += 1
        end.on_hand += effect
        line = {**_BLANK, "loudspeaker_id": self.speaker, "holding_id": end.holding, "kind": kind.value}
        line |= {"quantity": quantity, "effect": effect, "sequence": end.sequence, "on_hand": end.on_hand}
        line |= {"tracked": end.tracked, "at": at, "note": self.asked.note, "who": self.asked.who, **more}
        alike = (end.location, end.grade, end.pack, end.finish_key)
        end.digest = line["digest"] = digest_of(end.digest, line, dict(zip(HOLDING, alike, strict=True)))
        line |= {"at": _stored(at), "until": None if line["until"] is None else _stored(line["until"])}
        end.at = line["at"]
        number = int(self.driver.execute(_INSERT, line).fetchone()[0])
        self.lines.append(number)
        return number


def _stored(time: datetime) -> str:
    return time.strftime(_TIME)


def call_file(engine: sa.Engine, asked: Call) -> MovedAtOnce | None:
    """Do it in one short transaction; None where the long way has to say more, and then nothing was written.

    Raises
    ------
    DatabaseProblem
        Another wrote the file for all of the time.
    """
    if not _is_usual(asked):
        return None
    values = _named(asked)
    with told(engine):
        pooled = engine.raw_connection()
    driver: Any = pooled.driver_connection
    try:
        begin_write(driver)
        found = _moved(driver, asked, values)
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


def _is_usual(asked: Call) -> bool:
    """Whether its numbers are such as a ledger holds."""
    amount, quantity = asked.amount, asked.quantity
    return (amount is None or (type(amount) is int and 0 <= amount <= LARGEST_AMOUNT)) and (
        quantity is None or type(quantity) is int
    )


def _named(asked: Call) -> dict[str, Any]:
    """Give what is looked for, as the file knows it."""
    keys = {"model": asked.model, "place": asked.location, "finish": asked.finish}
    found: dict[str, Any] = {name: rows.name_key(text) for name, text in keys.items()}
    found |= {name: text and rows.name_key(text) for name, text in (("job", asked.job), ("to", asked.to))}
    return {**found, "grade": asked.grade, "single": asked.single}


def _moved(driver: Any, asked: Call, values: dict[str, Any]) -> MovedAtOnce | None:
    """Find, refuse what is not usual, and write."""
    now = datetime.now(UTC)
    values["now"] = _stored(now)
    row = driver.execute(_FIND, values).fetchone()
    if row is None:
        return None
    speaker, status, name, job, *rest = row
    end = _Ending(*rest)
    units = end.pack if asked.quantity is None else asked.quantity
    unknown = asked.job is not None and job is None
    if status in _GONE or unknown or not 1 <= units <= LARGEST_QUANTITY or units % end.pack:
        return None
    writer = _Writer(driver, asked, now, speaker, job, [])
    if not _DO[asked.kind](writer, end, units, values):
        return None
    return MovedAtOnce(units, writer.lines, end.on_hand, end.reserved, name, end.zone)


_GONE: Final = ("last_of_line", "discontinued")
"""Of models whose line ends the long way tells more."""


def _receive(writer: _Writer, end: _Ending, units: int, _: dict[str, Any]) -> bool:
    writer.write(end, MovementKind.RECEIVE, units, units, **_price(writer))
    return True


def _reserve(writer: _Writer, end: _Ending, units: int, _: dict[str, Any]) -> bool:
    if writer.asked.until is None or units > end.on_hand - end.reserved:
        return False
    until = instant(writer.asked.until)
    writer.write(end, MovementKind.RESERVE, units, 0, job_id=writer.job, until=until)
    end.reserved += units
    return True


def _transfer(writer: _Writer, end: _Ending, units: int, values: dict[str, Any]) -> bool:
    row = writer.driver.execute(_GOAL, values | {"loudspeaker": writer.speaker, "pack": end.pack}).fetchone()
    if row is None or row[1] == end.holding or units > end.on_hand - max(end.reserved, end.tracked):
        return False
    goal = _Ending(*row)
    out = writer.write(end, MovementKind.TRANSFER_OUT, units, -units, to_holding_id=goal.holding)
    writer.write(goal, MovementKind.TRANSFER_IN, units, units, from_id=out)
    return True


def _release(writer: _Writer, end: _Ending, units: int, values: dict[str, Any]) -> bool:
    return _end_kept(writer, end, units, values) == 0


def _sell(writer: _Writer, end: _Ending, units: int, values: dict[str, Any]) -> bool:
    missing: int | None = units
    if end.tracked > end.on_hand - units:
        return False
    if writer.job is not None:
        apart = (writer.speaker, end.holding, values["now"], writer.job)
        # what stays reserved for the job elsewhere, or of another sort, is told the long way
        if writer.driver.execute(_KEPT_APART, apart).fetchone() is not None:
            return False
        missing = _end_kept(writer, end, units, values)
    if missing is None or missing > end.on_hand - end.reserved:
        return False
    if missing:
        writer.write(end, MovementKind.SELL, missing, -missing, job_id=writer.job, **_price(writer))
    return True


def _end_kept(writer: _Writer, end: _Ending, units: int, values: dict[str, Any]) -> int | None:
    """End what is reserved for the job, oldest first; give how many are missing, None where serials are to be said."""
    kept = writer.driver.execute(_KEPT, (end.holding, values["now"], writer.job)).fetchall()
    if any(serial is not None for _, _, serial in kept):
        return None
    missing, kind = units, writer.asked.kind
    for number, rest, _ in kept:
        part = min(rest, missing)
        if part:
            effect = -part if kind is MovementKind.SELL else 0
            writer.write(end, kind, part, effect, job_id=writer.job, reservation_id=number, **_price(writer))
            end.reserved -= part
            missing -= part
    return missing


def _price(writer: _Writer) -> dict[str, Any]:
    return {"amount": writer.asked.amount, "currency": writer.asked.currency}


_DO: Final = {
    MovementKind.RECEIVE: _receive,
    MovementKind.RESERVE: _reserve,
    MovementKind.RELEASE: _release,
    MovementKind.SELL: _sell,
    MovementKind.TRANSFER_OUT: _transfer,
}
