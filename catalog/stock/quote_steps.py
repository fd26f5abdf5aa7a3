"""A quote's usual steps, past all that a statement of ours needs: one look at all of it, one write; else nothing.

What it takes is worked out for both engines in `quote_plans.py`.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from triptych.catalog.database.models import Grade, MovementKind, QuoteState
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock import call_server, in_file
from triptych.catalog.stock.desk_cases import Done
from triptych.catalog.stock.in_file import Ending
from triptych.catalog.stock.quote_deliveries import Delivered
from triptych.catalog.stock.quote_plans import (
    Going,
    QuotedLine,
    QuoteHead,
    QuotePromise,
    QuoteShelf,
    Seen,
    StepPlan,
    WorkOut,
    acceptance,
    end_of,
    sale,
)
from triptych.catalog.stock.quote_reading import Offer, QuotedAs, offer_of


@dataclass(frozen=True, slots=True)
class StepDone:
    """A quote after a step, and what was moved for it."""

    offer: Offer
    moved: tuple[Done, ...]
    remarks: tuple[str, ...]


def accepted_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """Reserve all that was quoted in one go; None where the long way has to say more, and then nothing was written."""
    return _stepped(engine, number, who, acceptance)


def sold_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """Sell all that is kept for a quote in one go; None where the long way has to say more."""
    return _stepped(engine, number, who, sale)


def lapsed_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """End a quote and free what is kept for it in one go; None where the long way has to say more."""
    return _stepped(engine, number, who, end_of)


def _stepped(engine: sa.Engine, number: int, who: str | None, work_out: WorkOut) -> StepDone | None:
    if not 1 <= number < 2**31 or (who is not None and not who.isprintable()):
        return None
    if engine.dialect.name == "sqlite":
        return in_file.past_statements(engine, lambda driver: _in_file(driver, number, who, work_out))
    return _at_server(engine, number, work_out)


_DONE: Final = {QuoteState.ACCEPTED: "reserved", QuoteState.SOLD: "sold", QuoteState.LAPSED: "released"}


def _answered(seen: Seen, plan: StepPlan, numbers: Sequence[int]) -> StepDone:
    """Give what a step came to; of each of its lines what there is when all are written."""
    head = seen.head
    names = {line.loudspeaker_id: line.speaker for line in seen.lines}
    done = _DONE[plan.becomes]
    moved = []
    for number, going in zip(numbers, plan.told, strict=True):
        shelf, end = going.shelf, going.shelf.end
        until = None if going.until is None else going.until.isoformat()
        what = (names[shelf.loudspeaker_id], going.quantity, shelf.place, end.grade, shelf.finish, None, (number,))
        moved.append(Done(done, *what, end.on_hand, end.reserved, shelf.free, head.job, until, end.zone))
    quote = QuotedAs(head.number, plan.becomes, head.currency, head.made_at, head.until, head.who, head.note, head.zone)
    gone: Delivered = Counter()
    for going in plan.told if plan.becomes is QuoteState.SOLD else ():
        shelf = going.shelf
        gone[shelf.loudspeaker_id, Grade(shelf.end.grade), shelf.end.finish_key, going.amount] += going.quantity
    offer = offer_of(quote, head.job, [(_row(line), line.speaker) for line in seen.lines], gone, head.now, "UTC")
    return StepDone(offer, tuple(moved), tuple(plan.remarks))


class _Row(NamedTuple):
    """A line of a quote as what tells of it reads it."""

    loudspeaker_id: int
    quantity: int
    grade: Grade
    finish: str | None
    amount: int
    per: PricePer
    tax: Tax | None
    tax_rate: float | None
    cost: int | None
    discount: float | None
    full_amount: int | None


def _row(line: QuotedLine) -> _Row:
    tax = None if line.tax is None else Tax(line.tax)
    price = (line.amount, PricePer(line.per), tax, line.tax_rate, line.cost, line.discount, line.full_amount)
    return _Row(line.loudspeaker_id, line.quantity, Grade(line.grade), line.finish, *price)


def _read(quote: Any, lines: Any, holdings: Any, promises: Any, at: Callable[[Any], datetime]) -> Seen:
    """Read rows in the order in which both engines give them."""
    number, state, currency, made_at, until, who, note, count, zone, job_id, job, apart, begun, now = quote
    said = (who, note, count, zone, job_id, job, bool(apart), bool(begun))
    head = QuoteHead(number, state, currency, at(made_at), at(until), *said, at(now))
    shelves = {row[1]: QuoteShelf(Ending(*row[:12]), *row[12:]) for row in holdings}
    kept = [QuotePromise._make((*row[:5], at(row[5]))) for row in promises]
    return Seen(head, [_quoted(row) for row in lines], shelves, kept)


def _quoted(row: Sequence[Any]) -> QuotedLine:
    line = QuotedLine(*row)
    # a server tells 20.0 as 20
    rate, discount = (None if one is None else float(one) for one in (line.tax_rate, line.discount))
    return line._replace(tax_rate=rate, discount=discount)


Ask = Callable[[str, tuple[Any, ...]], Any]
"""Asks a server, and gives the row; None where it says no."""


def _at_server(engine: sa.Engine, number: int, work_out: WorkOut) -> StepDone | None:
    """Look while others write, and write in one call; where others were faster, let them wait for both.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it.
    """

    def once(statement: str, values: tuple[Any, ...]) -> Any:
        return call_server.asked_once(engine, statement, values, writes=statement == _WRITE)

    found = _looked_up(once, number, work_out, held=False)
    if found is None:
        return None
    done = _written(once, number, *found)
    return done or call_server.past_statements(engine, lambda driver: _held(driver, number, work_out))


def _held(driver: Any, number: int, work_out: WorkOut) -> StepDone | None:
    def within(statement: str, values: tuple[Any, ...]) -> Any:
        return driver.execute(statement, values, prepare=True).fetchone()

    driver.execute(call_server.END_WHO_SLEEPS)
    found = _looked_up(within, number, work_out, held=True)
    return None if found is None else _written(within, number, *found)


def _looked_up(ask: Ask, number: int, work_out: WorkOut, *, held: bool) -> tuple[Seen, StepPlan] | None:
    found = ask(_SEE, (number, held))
    quote, lines, holdings, promises = (None,) * 4 if found is None else json.loads(found[0])
    if quote is None:
        return None
    seen = _read(quote, lines or (), holdings or (), promises or (), call_server.as_instant)
    plan = work_out(seen)
    return None if plan is None else (seen, plan)


def _written(ask: Ask, number: int, seen: Seen, plan: StepPlan) -> StepDone | None:
    lines = json.dumps([_said(going, seen.head.job_id) for going in (*plan.first, *plan.told)])
    found = ask(_WRITE, (lines, number, seen.head.state, plan.becomes.value))
    if found is None or found[0] is None:
        return None
    told, reserved = found[0]
    for (_, there), going in zip(told, (*plan.first, *plan.told), strict=True):
        going.shelf.end.on_hand = there
    for holding, units in reserved:
        seen.shelves[holding].end.reserved = units
    return _answered(seen, plan, [line for line, _ in told[len(plan.first) :]])


_SEE: Final = "SELECT quote_seen(%s, %s)"
_WRITE: Final = "SELECT quote_written(%s::json, %s, %s, %s)"


def _said(going: Going, job: int) -> dict[str, Any]:
    until = None if going.until is None else going.until.isoformat()
    names = ("quantity", "effect", "reservation_id", "quote_id", "amount", "currency")
    what = {"loudspeaker_id": going.shelf.loudspeaker_id, "holding_id": going.shelf.end.holding, "job_id": job}
    return {**what, "kind": going.kind.value, "until": until, **{name: getattr(going, name) for name in names}}


def _in_file(driver: Any, number: int, who: str | None, work_out: WorkOut) -> StepDone | None:
    now = datetime.now(UTC)
    asked = {"quote": number, "now": in_file.stored(now)}
    quote = driver.execute(_HEAD, asked).fetchone()
    if quote is None:
        return None
    lines, shelves, promises = (driver.execute(query, asked).fetchall() for query in (_LINES, _SHELVES, _PROMISES))
    seen = _read(quote, lines, shelves, promises, in_file.as_instant)
    plan = work_out(seen)
    if plan is None:
        return None
    writer = in_file.Writer(driver, who, None, now)
    for going in (*plan.first, *plan.told):
        names = ("until", "reservation_id", "quote_id", "amount", "currency")
        more = {name: getattr(going, name) for name in names} | {"job_id": seen.head.job_id}
        writer.write(
            going.shelf.end, going.shelf.loudspeaker_id, going.kind.value, going.quantity, going.effect, **more
        )
        going.shelf.end.reserved += going.quantity if going.kind is MovementKind.RESERVE else -going.quantity
    driver.execute("UPDATE quote SET state = ? WHERE id = ?", (plan.becomes.value, number))
    return _answered(seen, plan, writer.lines[len(plan.first) :])


_HEAD: Final = """
SELECT q.id, q.state, q.currency, q.made_at, q.until, q.who, q.note, q.lines, q.zone, j.id, j.name,
    j.merged_into_id IS NOT NULL OR EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id),
    EXISTS (SELECT 1 FROM movement m WHERE m.quote_id = q.id AND m.kind = 'sell'), :now
  FROM quote q JOIN job j ON j.id = q.job_id WHERE q.id = :quote
"""
_LINES: Final = """
SELECT l.loudspeaker_id, l.grade, l.finish, l.quantity, l.amount, l.per, l.tax, l.tax_rate, l.cost, l.discount,
    l.full_amount, m.name || ' ' || COALESCE(s.name || ' ', '') || k.model,
    CASE WHEN k.sold_as = 'pair' THEN 2 ELSE 1 END, k.status
  FROM quote_line l JOIN loudspeaker k ON k.id = l.loudspeaker_id JOIN maker m ON m.id = k.maker_id
    LEFT JOIN series s ON s.id = k.series_id WHERE l.quote_id = :quote ORDER BY l.ordinal
"""
_AMONG: Final = """
  SELECT h.id FROM quote_line l JOIN holding h ON h.loudspeaker_id = l.loudspeaker_id AND h.grade = l.grade
    WHERE l.quote_id = :quote
"""
_SHELVES: Final = f"""
SELECT {in_file.ENDING}, h.loudspeaker_id, h.finish, p.name, p.name_key, p.loan_job_id
  FROM holding h JOIN location p ON p.id = h.location_id {in_file.LAST_LINE} WHERE h.id IN ({_AMONG})
"""
_PROMISES: Final = f"""
SELECT r.movement_id, r.holding_id, r.rest, r.serial, n.quote_id, r.until
  FROM reservation r JOIN movement n ON n.id = r.movement_id JOIN quote q ON q.id = :quote
  WHERE r.holding_id IN ({_AMONG}) AND r.rest > 0 AND r.until > :now
    AND (n.quote_id = q.id OR (n.quote_id IS NULL AND n.job_id = q.job_id))
  ORDER BY r.movement_id
"""
