"""A movement of the usual kinds in a SQLite file, past all that a statement of ours needs: two to find, one a line.

It is what `stock_move` does on a server. Others wait for as long as it takes, so nothing else is done meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind
from triptych.catalog.stock import in_file
from triptych.catalog.stock.calls import Apart, ArrivedAtOnce, Call, MovedAtOnce, ShortAtOnce
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, instant

_FIND: Final = f"""
SELECT l.id, l.status, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model, j.id,
    :replaces AND EXISTS (SELECT 1 FROM holding q JOIN movement b ON b.holding_id = q.id
      WHERE q.loudspeaker_id = l.id AND q.grade = 'quarantine' AND b.kind = 'return' AND b.job_id = j.id),
    {in_file.ENDING}
  FROM loudspeaker l
  JOIN maker m ON m.id = l.maker_id
  LEFT JOIN series s ON s.id = l.series_id
  JOIN location p ON p.name_key = :place
  JOIN holding h ON h.loudspeaker_id = l.id AND h.location_id = p.id AND h.grade = :grade
    AND h.pack = CASE WHEN NOT :single AND l.sold_as = 'pair' THEN 2 ELSE 1 END AND h.finish_key = :finish
  {in_file.LAST_LINE}
  LEFT JOIN job j ON j.name_key = :job AND j.merged_into_id IS NULL
    AND NOT EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id)
  WHERE l.name_key = :model
"""
_GOAL: Final = f"""
SELECT {in_file.ENDING}
  FROM location p
  JOIN holding h ON h.loudspeaker_id = :loudspeaker AND h.location_id = p.id AND h.grade = :grade AND h.pack = :pack
    AND h.finish_key = :finish
  {in_file.LAST_LINE}
  WHERE p.name_key = :to
"""
_KEPT: Final = """
SELECT r.movement_id, r.rest, r.serial FROM reservation r JOIN movement m ON m.id = r.movement_id
  WHERE r.holding_id = ? AND r.rest > 0 AND r.until > ? AND m.job_id = ? ORDER BY r.movement_id
"""
_APART: Final = """
SELECT r.rest, p.name, o.finish, o.pack < CASE WHEN l.sold_as = 'pair' THEN 2 ELSE 1 END, o.grade
  FROM holding o JOIN reservation r ON r.holding_id = o.id JOIN movement m ON m.id = r.movement_id
    JOIN location p ON p.id = o.location_id JOIN loudspeaker l ON l.id = o.loudspeaker_id
  WHERE o.loudspeaker_id = ? AND o.id <> ? AND r.rest > 0 AND r.until > ? AND m.job_id = ? ORDER BY r.movement_id
"""
_SENT: Final = """
SELECT o.loudspeaker_id, o.quantity - COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.from_id = o.id), 0),
    o.to_holding_id, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model
  FROM movement o JOIN loudspeaker l ON l.id = o.loudspeaker_id JOIN maker m ON m.id = l.maker_id
    LEFT JOIN series s ON s.id = l.series_id
  WHERE o.id = :sent AND o.kind = 'transfer_out' AND o.serial IS NULL
"""
_ARRIVING: Final = f"""
SELECT {in_file.ENDING}, p.name, h.finish FROM holding h JOIN location p ON p.id = h.location_id {in_file.LAST_LINE}
  WHERE h.id = :goal
"""
_HELD: Final = """
SELECT w.name, r.rest, r.until FROM reservation r JOIN movement m ON m.id = r.movement_id JOIN job j ON j.id = m.job_id
    JOIN job w ON w.id = COALESCE(j.merged_into_id, j.id)
  WHERE r.holding_id = :holding AND r.rest > 0 AND r.until > :now ORDER BY r.until, r.movement_id
"""
_SORTS: Final = f"""
SELECT p.name, p.name_key, h.grade, h.finish, h.finish_key, h.pack, e.on_hand,
    COALESCE((SELECT SUM(r.rest) FROM reservation r WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > :now), 0),
    COALESCE((SELECT SUM(r.rest) FROM reservation r JOIN movement n ON n.id = r.movement_id
      WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > :now AND n.job_id = :job), 0)
  FROM holding h JOIN location p ON p.id = h.location_id {in_file.LAST_LINE}
  WHERE h.loudspeaker_id = :loudspeaker AND e.on_hand > 0 AND p.loan_job_id IS NULL
  ORDER BY p.name_key, h.grade, h.finish_key, h.pack
"""
_TAGS: Final = """
SELECT 'new', amount, currency, per FROM price WHERE loudspeaker_id = :loudspeaker AND amount IS NOT NULL
    AND currency IS NOT NULL AND per IS NOT NULL AND valid_from <= :day AND (valid_to IS NULL OR valid_to > :day)
  UNION ALL SELECT grade, amount, currency, per FROM grade_price WHERE loudspeaker_id = :loudspeaker
"""


@dataclass(slots=True)
class _Movement:
    """A movement that is asked for: of what, for which job, and what writes its lines.

    `apart` stays reserved for the job elsewhere; `last` is where there is told what there is, if it is another holding.
    """

    asked: Call
    writer: in_file.Writer
    speaker: int
    job: int | None
    apart: Sequence[Apart] | None = None
    last: in_file.Ending | None = None
    short: ShortAtOnce | None = None

    def write(self, end: in_file.Ending, kind: MovementKind, quantity: int, effect: int, **more: Any) -> int:
        """Write a line of it."""
        return self.writer.write(end, self.speaker, kind.value, quantity, effect, **more)


def call_file(engine: sa.Engine, asked: Call) -> MovedAtOnce | ShortAtOnce | None:
    """Do it in one short transaction, or say why there is too little; None where the long way has to say more.

    Raises
    ------
    DatabaseProblem
        Another wrote the file for all of the time.
    """
    values = _named(asked)

    def move(driver: Any) -> MovedAtOnce | ShortAtOnce | None:
        return _moved(driver, asked, values)

    return in_file.past_statements(engine, move)


def _named(asked: Call) -> dict[str, Any]:
    """Give what is looked for, as the file knows it."""
    keys = {"model": asked.model, "place": asked.location, "finish": asked.finish}
    found: dict[str, Any] = {name: rows.name_key(text) for name, text in keys.items()}
    found |= {name: text and rows.name_key(text) for name, text in (("job", asked.job), ("to", asked.to))}
    return {**found, "grade": asked.grade, "single": asked.single, "replaces": asked.may_replace}


def _moved(driver: Any, asked: Call, values: dict[str, Any]) -> MovedAtOnce | ShortAtOnce | None:
    """Find, refuse what is not usual, and write."""
    now = datetime.now(UTC)
    values["now"] = in_file.stored(now)
    row = driver.execute(_FIND, values).fetchone()
    if row is None:
        return None
    speaker, status, name, job, came_back, *rest = row
    end = in_file.Ending(*rest)
    units = end.pack if asked.quantity is None else asked.quantity
    unknown = asked.job is not None and job is None
    # in place of what came back a sale is at its price, which is worked out the long way
    if came_back or status in GONE or unknown or not 1 <= units <= LARGEST_QUANTITY or units % end.pack:
        return None
    moved = _Movement(asked, in_file.Writer(driver, asked.who, asked.note, now), speaker, job)
    if not _DO[asked.kind](moved, end, units, values):
        return moved.short
    last = moved.last or end
    return MovedAtOnce(units, moved.writer.lines, last.on_hand, last.reserved, name, end.zone, moved.apart)


GONE: Final = ("last_of_line", "discontinued")
"""Of models whose line ends the long way tells more."""


def _receive(moved: _Movement, end: in_file.Ending, units: int, _: dict[str, Any]) -> bool:
    moved.write(end, MovementKind.RECEIVE, units, units, **_price(moved))
    return True


def _reserve(moved: _Movement, end: in_file.Ending, units: int, _: dict[str, Any]) -> bool:
    until = None if moved.asked.until is None else instant(moved.asked.until)
    if until is None or until <= moved.writer.now:
        return False
    if units > end.on_hand - end.reserved:
        return _too_little(moved, end, units)
    moved.write(end, MovementKind.RESERVE, units, 0, job_id=moved.job, until=until)
    end.reserved += units
    return True


def _transfer(moved: _Movement, end: in_file.Ending, units: int, values: dict[str, Any]) -> bool:
    goal = _goal(moved, end, values, end.pack)
    if goal is None or goal.holding == end.holding:
        return False
    if units > end.on_hand - end.reserved:
        return _too_little(moved, end, units)
    if units > end.on_hand - end.tracked:
        return False
    out = moved.write(end, MovementKind.TRANSFER_OUT, units, -units, to_holding_id=goal.holding)
    if not moved.asked.sent:
        moved.write(goal, MovementKind.TRANSFER_IN, units, units, from_id=out)
    return True


def _goal(moved: _Movement, end: in_file.Ending, values: dict[str, Any], pack: int) -> in_file.Ending | None:
    row = moved.writer.driver.execute(_GOAL, values | {"loudspeaker": moved.speaker, "pack": pack}).fetchone()
    return None if row is None else in_file.Ending(*row)


def _split(moved: _Movement, end: in_file.Ending, units: int, values: dict[str, Any]) -> bool:
    goal = moved.last = _goal(moved, end, values, 1)
    if end.pack != 2 or units != 2 or goal is None:
        return False
    if units > end.on_hand - end.reserved:
        return _too_little(moved, end, units)
    if units > end.on_hand - end.tracked:
        return False
    out = moved.write(end, MovementKind.SPLIT_PAIR, units, -units, to_holding_id=goal.holding)
    for letter in "AB":
        goal.tracked += 1
        serial = {"serial": f"pair {out} {letter}", "serial_sequence": 1}
        moved.write(goal, MovementKind.SPLIT_IN, 1, 1, from_id=out, **serial)
    return True


def _count(moved: _Movement, end: in_file.Ending, units: int, _: dict[str, Any]) -> bool:
    difference = units - end.on_hand
    if not end.on_hand or units < end.tracked or not (moved.asked.note or "").strip():
        return False
    if units < end.reserved:
        return _too_little(moved, end, units)
    if difference:
        moved.write(end, MovementKind.COUNT, difference, difference)
    return True


def _release(moved: _Movement, end: in_file.Ending, units: int, values: dict[str, Any]) -> bool:
    kept = _kept(moved, end, values)
    if kept is None:
        return False
    if moved.job is not None and (held := sum(rest for _, rest, _ in kept)) < units:
        return _too_little(moved, end, units, held)
    return _end_kept(moved, end, units, kept) == 0


def _sell(moved: _Movement, end: in_file.Ending, units: int, values: dict[str, Any]) -> bool:
    missing = units
    if units <= end.on_hand and end.tracked > end.on_hand - units:
        return False
    if moved.job is not None:
        apart = (moved.speaker, end.holding, values["now"], moved.job)
        moved.apart = moved.writer.driver.execute(_APART, apart).fetchall()
        kept = _kept(moved, end, values)
        if kept is None:
            return False
        missing = _end_kept(moved, end, units, kept)
    if missing > end.on_hand - end.reserved:
        # what is sold in part out of what is kept for its job is told the long way
        return missing == units and _too_little(moved, end, units)
    if missing:
        moved.write(end, MovementKind.SELL, missing, -missing, job_id=moved.job, **_price(moved))
    return True


def _kept(moved: _Movement, end: in_file.Ending, values: dict[str, Any]) -> list[tuple[int, int, str | None]] | None:
    """Give what is reserved for the job, oldest first: number, rest, serial; None where serials are to be said."""
    kept = moved.writer.driver.execute(_KEPT, (end.holding, values["now"], moved.job)).fetchall()
    return None if any(serial is not None for _, _, serial in kept) else kept


def _end_kept(moved: _Movement, end: in_file.Ending, units: int, kept: Sequence[tuple[int, int, str | None]]) -> int:
    """End what is reserved for the job; give how many are missing."""
    missing, kind = units, moved.asked.kind
    for number, rest, _ in kept:
        part = min(rest, missing)
        if part:
            effect = -part if kind is MovementKind.SELL else 0
            moved.write(end, kind, part, effect, job_id=moved.job, reservation_id=number, **_price(moved))
            end.reserved -= part
            missing -= part
    return missing


def _too_little(moved: _Movement, end: in_file.Ending, units: int, promised: int = 0) -> bool:
    """Find out what there is instead; it is done no more."""
    now = moved.writer.now
    values = {
        "holding": end.holding,
        "loudspeaker": moved.speaker,
        "job": moved.job,
        "now": in_file.stored(now),
        "day": str(now.date()),
    }
    held, sorts, tags = (moved.writer.driver.execute(query, values).fetchall() for query in (_HELD, _SORTS, _TAGS))
    held = [(job, rest, in_file.as_instant(until)) for job, rest, until in held]
    levels = (units, end.on_hand, end.reserved, end.zone)
    moved.short = ShortAtOnce(*levels, moved.speaker, end.pack, promised, (held, sorts, tags))
    return False


def _price(moved: _Movement) -> dict[str, Any]:
    return {"amount": moved.asked.amount, "currency": moved.asked.currency}


_DO: Final = {
    MovementKind.RECEIVE: _receive,
    MovementKind.RESERVE: _reserve,
    MovementKind.RELEASE: _release,
    MovementKind.SELL: _sell,
    MovementKind.TRANSFER_OUT: _transfer,
    MovementKind.SPLIT_PAIR: _split,
    MovementKind.COUNT: _count,
}


def arrival_in_file(engine: sa.Engine, number: int, who: str | None) -> ArrivedAtOnce | None:
    """Take what was sent into stock in one short transaction; None where the long way has to say more.

    Raises
    ------
    DatabaseProblem
        Another wrote the file for all of the time.
    """

    def arrive(driver: Any) -> ArrivedAtOnce | None:
        now = datetime.now(UTC)
        sent = driver.execute(_SENT, {"sent": number}).fetchone()
        row = sent and driver.execute(_ARRIVING, {"goal": sent[2], "now": in_file.stored(now)}).fetchone()
        if not row or sent[1] < 1:
            return None
        *ending, place, finish = row
        end, (speaker, units, _, name) = in_file.Ending(*ending), sent
        line = in_file.Writer(driver, who, None, now).write(
            end, speaker, MovementKind.TRANSFER_IN.value, units, units, from_id=number
        )
        return ArrivedAtOnce(units, line, end.on_hand, end.reserved, name, end.zone, place, end.grade, finish)

    return in_file.past_statements(engine, arrive)
