"""One movement as one statement of SQLite: it does the sums, and the one writer's turn is as short as can be.

What can be found out without the turn is: the numbers that go with names, which are never given to anything else, and
whether there is plainly too little.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Final, NamedTuple

from triptych.catalog.database.models import MovementKind
from triptych.catalog.database.models.ledger_tables import OUT_OF
from triptych.catalog.stock.holdings import State, refuse_too_few
from triptych.catalog.stock.lines import Line, effect_of, instant, key_of
from triptych.catalog.stock.movements import LAST, refuse_overdrawn
from triptych.catalog.turns import begin_soon


def post(driver: Any, line: Line, to: str | None) -> list[int] | None:
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
    now = datetime.now(UTC)
    until = None if line.until is None else instant(line.until)
    seen = _look(driver, line, to, now)
    if seen is None or line.quantity % seen.pack or (until is not None and until <= now):
        return None
    if (line.job is not None and seen.job is None) or (to is not None and seen.goal in (None, seen.holding)):
        return None
    _refuse_short(line, seen, now)
    values = _values(line, seen, until)
    if to is None:
        return _in_one(driver, [values])
    back = {"kind": "transfer_in", "effect": line.quantity, "from_id": LAST}
    return _in_one(driver, [values, values | back | {"holding_id": seen.goal, "to_holding_id": None}])


class _Seen(NamedTuple):
    """What there is of what a line speaks of: numbers, and what is on hand, reserved or left of its reservation.

    What doesn't matter for the line is None.
    """

    holding: int
    pack: int
    job: int | None
    goal: int | None
    on_hand: int | None
    reserved: int | None
    rest: int | None
    until: str | None


_LOOK: Final = """
SELECT h.id, h.pack, (SELECT j.id FROM job j WHERE j.name_key = :job),
  (SELECT g.id FROM holding g JOIN location q ON q.id = g.location_id WHERE g.loudspeaker_id = h.loudspeaker_id
    AND q.name_key = :to AND g.grade = h.grade AND g.finish_key = h.finish_key AND g.pack = h.pack),
  CASE WHEN :counts THEN
    (SELECT m.on_hand FROM movement m WHERE m.holding_id = h.id ORDER BY m.sequence DESC LIMIT 1) END,
  CASE WHEN :counts THEN (SELECT COALESCE(SUM(p.rest), 0) FROM reservation p
    WHERE p.holding_id = h.id AND p.rest > 0 AND p.until > :now) END,
  r.rest, r.until
FROM holding h JOIN location l ON l.id = h.location_id JOIN loudspeaker s ON s.id = h.loudspeaker_id
LEFT JOIN reservation r ON r.movement_id = :reservation AND r.holding_id = h.id
WHERE h.loudspeaker_id = :loudspeaker AND l.name_key = :location AND h.grade = :grade AND h.finish_key = :finish
  AND h.pack = COALESCE(:pack, CASE WHEN s.sold_as = 'pair' THEN 2 ELSE 1 END)
"""


def _look(driver: Any, line: Line, to: str | None, now: datetime) -> _Seen | None:
    asked = {
        "loudspeaker": line.loudspeaker_id,
        "location": key_of(line.location),
        "grade": line.grade.value,
        "finish": key_of(line.finish),
        "pack": line.pack,
        "job": None if line.job is None else key_of(line.job),
        "to": None if to is None else key_of(to),
        "reservation": line.reservation_id,
        "now": _text(now),
        "counts": line.reservation_id is None and (line.kind in OUT_OF or line.kind is MovementKind.RESERVE),
    }
    found = driver.execute(_LOOK, asked).fetchone()
    return None if found is None else _Seen(*found)


def _refuse_short(line: Line, seen: _Seen, now: datetime) -> None:
    """Refuse what there is plainly too little for, without a lock: of many who ask for the last one, most are."""
    if line.reservation_id is not None:
        if seen.rest is not None and seen.until is not None:
            refuse_overdrawn(line, seen.rest, datetime.fromisoformat(seen.until).replace(tzinfo=UTC), now)
    elif seen.on_hand is not None and seen.reserved is not None:
        refuse_too_few(line, State(0, seen.on_hand, 0, seen.reserved, now), 0)


_GIVEN: Final = (
    "loudspeaker_id", "holding_id", "kind", "quantity", "effect", "job_id", "until", "reservation_id", "order_id",
    "quote_id", "from_id", "to_holding_id", "serial", "amount", "currency", "who", "note",
)  # fmt: skip

_TOTALS: Final = {
    "sequence": "COALESCE(l.sequence, 0) + 1",
    "on_hand": "COALESCE(l.on_hand, 0) + :effect",
    "tracked": "COALESCE(l.tracked, 0) + CASE WHEN :serial IS NULL THEN 0 ELSE :effect END",
    "serial_sequence": "CASE WHEN :serial IS NOT NULL THEN 1 + COALESCE((SELECT MAX(serial_sequence) FROM movement"
    " WHERE loudspeaker_id = :loudspeaker_id AND serial = :serial), 0) END",
    "at": "MAX(:now, COALESCE(l.at, ''))",
}
"""What the statement works out; on PostgreSQL a trigger does, under its lock."""

_INSERT: Final = (
    f"INSERT INTO movement ({', '.join([*_GIVEN, *_TOTALS])})"
    f" SELECT {', '.join([*(f':{name}' for name in _GIVEN), *_TOTALS.values()])}"
    " FROM (SELECT 1) LEFT JOIN (SELECT sequence, on_hand, tracked, at FROM movement WHERE holding_id = :holding_id"
    " ORDER BY sequence DESC LIMIT 1) AS l RETURNING id"
)


def _values(line: Line, seen: _Seen, until: datetime | None) -> dict[str, Any]:
    return {
        "loudspeaker_id": line.loudspeaker_id,
        "holding_id": seen.holding,
        "kind": line.kind.value,
        "quantity": line.quantity,
        "effect": effect_of(line),
        "job_id": seen.job,
        "until": None if until is None else _text(until),
        "reservation_id": line.reservation_id,
        "order_id": line.order_id,
        "quote_id": line.quote_id,
        "from_id": None,
        "to_holding_id": seen.goal,
        "serial": None if line.serial is None else " ".join(line.serial.split()),
        "amount": line.amount,
        "currency": line.currency,
        "who": line.who,
        "note": line.note,
    }


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(" ", "microseconds")[:26]


def _in_one(driver: Any, lines: list[dict[str, Any]]) -> list[int] | None:
    """Write lines in one transaction; None where one isn't taken."""
    import sqlite3

    if not begin_soon(driver):
        return None
    numbers: list[int] = []
    now = _text(datetime.now(UTC))
    try:
        for values in lines:
            before = numbers[-1] if values["from_id"] == LAST else None
            numbers.append(driver.execute(_INSERT, values | {"now": now, "from_id": before}).fetchone()[0])
        driver.execute("COMMIT")
    except sqlite3.IntegrityError:
        driver.execute("ROLLBACK")
        return None
    except BaseException:
        if driver.in_transaction:
            driver.execute("ROLLBACK")
        raise
    return numbers
