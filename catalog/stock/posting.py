"""The quick way to write to the ledger: a movement as one statement, in a transaction of its own.

`record_movement` reads, decides and writes within whatever else its transaction does. Of many who move the same units
each then waits for all that the others do meanwhile. Here the database does the sums, by a statement that is put
together once and goes straight to the driver, and no lock waits for an answer to travel to us and back. What isn't
written so, because it is refused or the first of its kind, goes the long way, which says why or makes what is missing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Final
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog import rows
from catalog.database import begin_soon, reading, told, writing
from catalog.models import MovementKind
from catalog.models.stock import INTO, OUT_OF
from catalog.stock.holdings import State, refuse_too_few
from catalog.stock.lines import Line, Target, instant, refuse_incomplete
from catalog.stock.movements import record_movement, record_through, refuse_if_hopeless


def post(engine: sa.Engine, line: Line) -> int:
    """Write one movement in a transaction of its own and give its number, when it is committed.

    Raises
    ------
    CatalogError
        As `record_movement`. Nothing was written.
    """
    refuse_incomplete(line)
    number = None
    if line.to is None and line.from_id is None:
        with told(engine), _driver(engine) as driver:
            number = _post_sqlite(driver, line) if _local(engine) else _post_server(driver, line)
    if number is not None:
        return number
    with _glance(engine) as session:
        refuse_if_hopeless(session, line)
    with writing(engine) as session:
        return record_movement(session, line)


def post_transfer(engine: sa.Engine, line: Line, to: str) -> list[int]:
    """Move units to another location in a transaction of its own, and give the numbers of both halves.

    Raises
    ------
    CatalogError
        As `record_movement`. Nothing was written.
    """
    out = _with(line, kind=MovementKind.TRANSFER_OUT, to=Target(to, line.grade))
    refuse_incomplete(out)
    if out.job is None:
        with told(engine), _driver(engine) as driver:
            numbers = _through_sqlite(driver, out, to) if _local(engine) else _through_server(driver, out, to)
        if numbers is not None:
            return numbers
    with _glance(engine) as session:
        refuse_if_hopeless(session, out)
    with writing(engine) as session:
        back = _with(line, kind=MovementKind.TRANSFER_IN, location=to)
        return record_through(session, out, back)


_alone: Final[WeakKeyDictionary[sa.Engine, sa.Engine]] = WeakKeyDictionary()


@contextmanager
def _glance(engine: sa.Engine) -> Iterator[Session]:
    """Give a session to look in: on a server each look stands alone, which spares four messages to and fro."""
    if _local(engine):
        with reading(engine) as session:
            yield session
        return
    if engine not in _alone:
        _alone[engine] = engine.execution_options(isolation_level="AUTOCOMMIT")
    with told(engine), Session(_alone[engine]) as session:
        yield session


def _with(line: Line, **changes: Any) -> Line:
    from dataclasses import replace

    return replace(line, **changes)


def _local(engine: sa.Engine) -> bool:
    return bool(engine.dialect.name == "sqlite")


@contextmanager
def _driver(engine: sa.Engine) -> Iterator[Any]:
    """Give the driver's own connection out of the pool; what it raises is told as by a session."""
    borrowed = engine.raw_connection()
    try:
        yield borrowed.driver_connection
    except engine.dialect.loaded_dbapi.OperationalError as problem:
        raise sa.exc.OperationalError("a movement", None, problem) from problem
    finally:
        borrowed.close()


_COLUMNS: Final = (
    "loudspeaker_id",
    "kind",
    "quantity",
    "effect",
    "until",
    "reservation_id",
    "order_id",
    "quote_id",
    "from_id",
    "to_holding_id",
    "serial",
    "amount",
    "currency",
    "who",
    "note",
)

_TOTALS: Final = {
    "sequence": "COALESCE(l.sequence, 0) + 1",
    "on_hand": "COALESCE(l.on_hand, 0) + :effect",
    "tracked": "COALESCE(l.tracked, 0) + CASE WHEN :serial IS NULL THEN 0 ELSE :effect END",
    "serial_sequence": "CASE WHEN :serial IS NOT NULL THEN 1 + COALESCE((SELECT MAX(serial_sequence) FROM movement"
    " WHERE loudspeaker_id = :loudspeaker_id AND serial = :serial), 0) END",
    "at": "MAX(:now, COALESCE(l.at, ''))",
}
"""What SQLite works out in the statement; on PostgreSQL a trigger does, under its lock."""

_SPOT: Final = (
    "FROM holding h JOIN location p ON p.id = h.location_id JOIN loudspeaker s ON s.id = h.loudspeaker_id {last}"
    " WHERE h.loudspeaker_id = :loudspeaker_id AND p.name_key = :location AND h.grade = :grade"
    " AND h.finish_key = :finish AND h.pack = COALESCE(:pack, CASE WHEN s.sold_as = 'pair' THEN 2 ELSE 1 END)"
)

_LAST: Final = (
    "LEFT JOIN movement l ON l.holding_id = h.id"
    " AND l.sequence = (SELECT MAX(m.sequence) FROM movement m WHERE m.holding_id = h.id)"
)

_TEXTS: Final = ("kind", "grade", "serial", "currency", "who", "note", "job", "location", "to_location", "finish")
_TYPES: Final = dict.fromkeys(_TEXTS, "text") | {"until": "timestamptz", "amount": "bigint"}


def _statement(*, server: bool) -> str:
    totals = {} if server else _TOTALS
    names = [*_COLUMNS, "holding_id", "job_id", *totals]
    values = [f":{name}" for name in _COLUMNS]
    values += ["h.id", "(SELECT j.id FROM job j WHERE j.name_key = :job)", *totals.values()]
    spot = _SPOT.format(last="" if server else _LAST)
    insert = f"INSERT INTO movement ({', '.join(names)}) SELECT {', '.join(values)} {spot} RETURNING id"
    return _for_server(insert) if server else insert


def _for_server(statement: str) -> str:
    """Give a statement with the placeholders of the server's driver, each with its type: of a NULL it knows none."""
    import re

    return re.sub(r":(\w+)", lambda name: f"%({name[1]})s::{_TYPES.get(name[1], 'integer')}", statement)


_WORKED_OUT: Final = ("effect", "kind", "until", "serial", "to_holding_id")


def _values(line: Line) -> dict[str, Any]:
    effect = line.quantity if line.kind in INTO else -line.quantity if line.kind in OUT_OF else 0
    values = {name: getattr(line, name) for name in _COLUMNS if name not in _WORKED_OUT}
    return values | {
        "to_holding_id": None,
        "kind": line.kind.value,
        "effect": effect,
        "until": None if line.until is None else instant(line.until),
        "serial": None if line.serial is None else " ".join(line.serial.split()),
        "job": _key(line.job),
        "location": _key(line.location),
        "grade": line.grade.value,
        "finish": _key(line.finish),
        "pack": line.pack,
    }


_SQLITE: Final = _statement(server=False)
_SERVER: Final = _statement(server=True)
_JOB: Final = "SELECT 1 FROM job WHERE name_key = "


_key: Final = lru_cache(maxsize=4096)(rows.name_key)


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(" ", "microseconds")[:26]


def _post_sqlite(driver: Any, line: Line) -> int | None:
    values = _values(line)
    if line.job is not None and not driver.execute(f"{_JOB}?", (values["job"],)).fetchone():
        return None
    values |= {"now": _text(datetime.now(UTC)), "until": values["until"] and _text(values["until"])}
    _refuse_short(driver, line, values)
    found = _in_one(driver, [values])
    return found[0] if found else None


def _in_one(driver: Any, lines: list[dict[str, Any]]) -> list[int] | None:
    """Write lines in one transaction of SQLite; None where one isn't taken. from_id 0 is the line before."""
    import sqlite3

    if not begin_soon(driver):
        return None
    numbers: list[int] = []
    now = _text(datetime.now(UTC))
    try:
        for values in lines:
            before = numbers[-1] if values["from_id"] == 0 else values["from_id"]
            found = driver.execute(_SQLITE, values | {"now": now, "from_id": before}).fetchone()
            if found is None:
                driver.execute("ROLLBACK")
                return None
            numbers.append(int(found[0]))
        driver.execute("COMMIT")
    except sqlite3.IntegrityError:
        driver.execute("ROLLBACK")
        return None
    except BaseException:
        if driver.in_transaction:
            driver.execute("ROLLBACK")
        raise
    return numbers


_LEVEL: Final = (
    "SELECT l.on_hand, (SELECT COALESCE(SUM(r.rest), 0) FROM reservation r WHERE r.holding_id = h.id AND r.rest > 0"
    f" AND r.until > {{now}}), h.pack {_SPOT.format(last=_LAST)}"
)
_LEVEL_SQLITE: Final = _LEVEL.format(now=":now")
_LEVEL_SERVER: Final = _for_server(_LEVEL.format(now="clock_timestamp()"))


def _refuse_short(driver: Any, line: Line, values: dict[str, Any]) -> None:
    """Refuse what there is plainly too little for, without a lock: of many who ask for the last one, most are."""
    if line.until is not None and instant(line.until) <= datetime.now(UTC):
        return
    if line.reservation_id is not None or (line.kind not in OUT_OF and line.kind is not MovementKind.RESERVE):
        return
    found = driver.execute(_LEVEL_SQLITE if "now" in values else _LEVEL_SERVER, values).fetchone()
    if found is not None and found[0] is not None and line.quantity % found[2] == 0:
        there = State(0, int(found[0]), 0, int(found[1]), datetime.now(UTC))
        refuse_too_few(line, there, 0)


@contextmanager
def _each_alone(driver: Any) -> Iterator[None]:
    """Let each statement be a transaction of its own."""
    before = driver.autocommit
    driver.autocommit = True
    try:
        yield
    finally:
        driver.autocommit = before


def _post_server(driver: Any, line: Line) -> int | None:
    import psycopg

    values = _values(line)
    with _each_alone(driver):
        try:
            # of a reservation the database itself wants a job that is there
            asked = line.job is not None and line.kind is not MovementKind.RESERVE
            if asked and not driver.execute(f"{_JOB}%s", (values["job"],)).fetchone():
                return None
            found = driver.execute(_SERVER, values).fetchone()
        except psycopg.errors.IntegrityError:
            found = None
            _refuse_short(driver, line, values)
    return None if found is None else int(found[0])


_ENDS: Final = (
    "SELECT h.id, (SELECT g.id FROM holding g JOIN location q ON q.id = g.location_id"
    " WHERE g.loudspeaker_id = h.loudspeaker_id AND q.name_key = :to_location AND g.grade = h.grade"
    f" AND g.finish_key = h.finish_key AND g.pack = h.pack) {_SPOT.format(last='')}"
)
_ENDS_SERVER: Final = _for_server(_ENDS)


def _through_sqlite(driver: Any, out: Line, to: str) -> list[int] | None:
    values = _values(out) | {"now": _text(datetime.now(UTC)), "to_location": _key(to)}
    _refuse_short(driver, out, values)
    ends = driver.execute(_ENDS, values).fetchone()
    if ends is None or ends[1] is None or ends[0] == ends[1]:
        return None
    back = {"kind": "transfer_in", "effect": out.quantity, "from_id": 0, "location": values["to_location"]}
    return _in_one(driver, [values | {"to_holding_id": ends[1]}, values | back])


def _through_server(driver: Any, out: Line, to: str) -> list[int] | None:
    import psycopg

    values = _values(out)
    with _each_alone(driver):
        try:
            ends = driver.execute(_ENDS_SERVER, values | {"to_location": _key(to)}).fetchone()
            if ends is None or ends[1] is None or ends[0] == ends[1]:
                return None
            own = {name: values[name] for name in ("loudspeaker_id", "quantity", "serial", "who", "note")}
            first = own | {"kind": "transfer_out", "effect": -out.quantity, "holding_id": ends[0]}
            second = own | {"kind": "transfer_in", "effect": out.quantity, "holding_id": ends[1], "from_id": 0}
            lines = json.dumps([first | {"to_holding_id": ends[1]}, second])
            return list(driver.execute("SELECT record_lines(%s::jsonb)", (lines,)).fetchone()[0])
        except psycopg.errors.IntegrityError:
            return None
