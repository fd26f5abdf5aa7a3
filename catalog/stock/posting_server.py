"""One movement as one call to PostgreSQL: the function `post_movement` looks, locks and writes.

A call that has names in it asks four tables before it writes to one. So their numbers are asked for once and kept a
while: a location, a holding and a job never change theirs. And the call goes to libpq as it is: of many processes on a
few processors the cursor, which could do much more, took as long as the server.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Final
from weakref import WeakKeyDictionary

import sqlalchemy as sa

from triptych.catalog.stock.holdings import State, refuse_too_few
from triptych.catalog.stock.lines import Line, effect_of, instant, key_of
from triptych.catalog.stock.movements import refuse_overdrawn

KEPT: Final = 60.0
"""How long numbers are kept: a model may be sold otherwise from now on, in pairs or singly. [s]."""


@dataclass(slots=True)
class _Numbers:
    """Numbers of holdings with how many loudspeakers a box of them has, and of jobs, by their names."""

    since: float = field(default_factory=time.monotonic)
    holdings: dict[tuple[Any, ...], tuple[int, int]] = field(default_factory=dict)
    jobs: dict[str, int] = field(default_factory=dict)


_numbers: Final[WeakKeyDictionary[sa.Engine, _Numbers]] = WeakKeyDictionary()


def _numbers_of(engine: sa.Engine) -> _Numbers:
    kept = _numbers.get(engine)
    if kept is None or time.monotonic() - kept.since > KEPT:
        kept = _numbers[engine] = _Numbers()
    return kept


_HOLDING: Final = (
    "SELECT h.id, h.pack FROM holding h JOIN location p ON p.id = h.location_id"
    " JOIN loudspeaker s ON s.id = h.loudspeaker_id"
    " WHERE h.loudspeaker_id = %s AND p.name_key = %s AND h.grade = %s AND h.finish_key = %s"
    " AND h.pack = COALESCE(%s::integer, CASE WHEN s.sold_as = 'pair' THEN 2 ELSE 1 END)"
)
_JOB: Final = "SELECT id FROM job WHERE name_key = %s"
_POST: Final = f"SELECT post_movement({', '.join(f'${place}' for place in range(1, 17))})".encode()
_NAME: Final = b"triptych_post_movement"
_prepared: Final[WeakKeyDictionary[Any, str]] = WeakKeyDictionary()
"""The encoding of each connection that knows the call."""


def post(engine: sa.Engine, driver: Any, line: Line, to: str | None) -> list[int] | None:
    """Write a line, and with `to` what arrives there, in a transaction of its own.

    Returns
    -------
    list of int or None
        Numbers of the lines; None where something is not there yet, or the database says no.

    Raises
    ------
    Refused
        There is too little, or the reservation doesn't do.
    """
    import psycopg

    values = _values(_numbers_of(engine), driver, line, to)
    if values is None:
        return None
    try:
        found = _call(driver, values)
    except psycopg.errors.IntegrityError:
        return None
    if found is not None and found[0] <= 0:
        _refuse(line, *found)
        return None
    return found


def _call(driver: Any, values: tuple[Any, ...]) -> list[int] | None:
    """Call the function, prepared once a connection; outside a transaction the server makes one of each call."""
    from psycopg import OperationalError, errors, pq

    encoding = _prepared.get(driver)
    if encoding is None:
        encoding = driver.info.encoding
        made = driver.pgconn.prepare(_NAME, _POST)
        if made.status != pq.ExecStatus.COMMAND_OK:
            raise errors.error_from_result(made, encoding)
        _prepared[driver] = encoding
    texts = [None if value is None else str(value).encode(encoding) for value in values]
    result = driver.pgconn.exec_prepared(_NAME, texts)
    if result.status != pq.ExecStatus.TUPLES_OK:
        problem = errors.error_from_result(result, encoding)
        raise OperationalError(str(problem)) if driver.closed else problem
    found = result.get_value(0, 0)
    return None if found is None else [int(number) for number in found[1:-1].split(b",")]


@contextmanager
def _each_alone(driver: Any) -> Iterator[None]:
    """Let each statement be a transaction of its own."""
    before = driver.autocommit
    driver.autocommit = True
    try:
        yield
    finally:
        driver.autocommit = before


def _values(numbers: _Numbers, driver: Any, line: Line, to: str | None) -> tuple[Any, ...] | None:
    until = None if line.until is None else instant(line.until)
    spot = _holding(numbers, driver, line, line.location, line.pack)
    if spot is None or line.quantity % spot[1] or (until is not None and until <= datetime.now(UTC)):
        return None
    job = None if line.job is None else _job(numbers, driver, line.job)
    goal = None if to is None else _holding(numbers, driver, line, to, spot[1])
    if (line.job is not None and job is None) or (to is not None and (goal is None or goal == spot)):
        return None
    serial = None if line.serial is None else " ".join(line.serial.split())
    return (
        spot[0], None if goal is None else goal[0], line.loudspeaker_id, line.kind.value, line.quantity,
        effect_of(line), job, until, line.reservation_id, line.order_id, line.quote_id, serial, line.amount,
        line.currency, line.who, line.note,
    )  # fmt: skip


def _holding(numbers: _Numbers, driver: Any, line: Line, location: str, pack: int | None) -> tuple[int, int] | None:
    names = (line.loudspeaker_id, key_of(location), line.grade.value, key_of(line.finish), pack)
    if names not in numbers.holdings:
        with _each_alone(driver):
            found = driver.execute(_HOLDING, names).fetchone()
        if found is None:
            return None
        numbers.holdings[names] = found
    return numbers.holdings[names]


def _job(numbers: _Numbers, driver: Any, name: str) -> int | None:
    key = key_of(name)
    if key not in numbers.jobs:
        with _each_alone(driver):
            found = driver.execute(_JOB, (key,)).fetchone()
        if found is None:
            return None
        numbers.jobs[key] = found[0]
    return numbers.jobs[key]


def _refuse(line: Line, what: int, there: int, other: int) -> None:
    """Refuse by what the server saw: what is on hand and reserved, or what is left of a reservation and until when."""
    now = datetime.now(UTC)
    if what == 0:
        refuse_too_few(line, State(0, there, 0, other, now), 0)
    else:
        refuse_overdrawn(line, there, datetime.fromtimestamp(other, UTC), now)
