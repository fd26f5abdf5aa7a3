"""A quote's usual steps, past all that a statement of ours needs: one look at all of it, one write; else nothing.

What it takes is worked out here for both engines, and so as `quotes.py` does, which says what is unusual or refused.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, MovementKind, QuoteState
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock import call_file, call_server, in_file
from triptych.catalog.stock.articles import pack_of_line
from triptych.catalog.stock.costs import net_each, whole
from triptych.catalog.stock.desk_cases import Done
from triptych.catalog.stock.in_file import Ending
from triptych.catalog.stock.quote_deliveries import Delivered
from triptych.catalog.stock.quote_reading import Offer, QuotedAs, offer_of
from triptych.catalog.stock.timing import HOLD

Key = tuple[int, str, str, int]
"""Loudspeaker, grade, finish and pack: units of one key are alike."""


class QuoteHead(NamedTuple):
    """A quote as it stands, at an instant: `apart` says that its job is part of another, or has parts."""

    number: int
    state: str
    currency: str
    made_at: datetime
    until: datetime
    who: str | None
    note: str | None
    lines: int | None
    zone: str | None
    job_id: int
    job: str
    apart: bool
    begun: bool
    now: datetime


class QuotedLine(NamedTuple):
    """A line of a quote, with its loudspeaker as it is sold."""

    loudspeaker_id: int
    grade: str
    finish: str | None
    quantity: int
    amount: int
    per: str
    tax: str | None
    tax_rate: float | None
    cost: int | None
    discount: float | None
    full_amount: int | None
    speaker: str
    pack: int
    status: str | None

    @property
    def key(self) -> Key:
        """What its units are."""
        return self.loudspeaker_id, self.grade, rows.name_key(self.finish), pack_of_line(self.quantity, self.pack)

    @property
    def net(self) -> int | None:
        """The price of one without tax, None where nobody says what of it is tax. [minor unit]."""
        found = net_each(self.amount, PricePer(self.per), None if self.tax is None else Tax(self.tax), self.tax_rate)
        return None if found is None else whole(found)


@dataclass(slots=True)
class QuoteShelf:
    """Units that are alike at one location."""

    end: Ending
    loudspeaker_id: int
    finish: str | None
    place: str
    place_key: str
    lent: int | None

    @property
    def key(self) -> Key:
        """What its units are."""
        return self.loudspeaker_id, self.end.grade, self.end.finish_key, self.end.pack

    @property
    def free(self) -> int:
        """What of it may be promised."""
        return self.end.on_hand - self.end.reserved

    @property
    def loose(self) -> int:
        """What is there that no serial names."""
        return self.end.on_hand - self.end.tracked


class QuotePromise(NamedTuple):
    """A live reservation for the quote, or for its job apart from any."""

    number: int
    holding: int
    rest: int
    serial: str | None
    quote: int | None


@dataclass(slots=True)
class Seen:
    """All that a step of a quote has to know."""

    head: QuoteHead
    lines: list[QuotedLine]
    shelves: dict[int, QuoteShelf]
    promises: list[QuotePromise]


@dataclass(slots=True)
class Going:
    """One line of the ledger that a step writes."""

    shelf: QuoteShelf
    kind: MovementKind
    quantity: int
    effect: int = 0
    until: datetime | None = None
    reservation_id: int | None = None
    quote_id: int | None = None
    amount: int | None = None
    currency: str | None = None


@dataclass(slots=True)
class StepPlan:
    """What a step writes: `told` of its lines are told, and `remarks` beside them."""

    becomes: QuoteState
    first: list[Going] = field(default_factory=list)
    told: list[Going] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


WorkOut = Callable[[Seen], StepPlan | None]
"""Works out what a step writes, None where the long way has to say more."""


@dataclass(frozen=True, slots=True)
class StepDone:
    """A quote after a step, and what was moved for it."""

    offer: Offer
    moved: tuple[Done, ...]
    remarks: tuple[str, ...]


def accepted_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """Reserve all that was quoted in one go; None where the long way has to say more, and then nothing was written."""
    return _stepped(engine, number, who, _acceptance)


def sold_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """Sell all that is kept for a quote in one go; None where the long way has to say more."""
    return _stepped(engine, number, who, _sale)


def lapsed_at_once(engine: sa.Engine, number: int, who: str | None) -> StepDone | None:
    """End a quote and free what is kept for it in one go; None where the long way has to say more."""
    return _stepped(engine, number, who, _end)


def _stepped(engine: sa.Engine, number: int, who: str | None, work_out: WorkOut) -> StepDone | None:
    if not 1 <= number < 2**31 or (who is not None and not who.isprintable()):
        return None
    do = _in_file if engine.dialect.name == "sqlite" else _at_server
    past = in_file.past_statements if engine.dialect.name == "sqlite" else call_server.past_statements
    return past(engine, lambda driver: do(driver, number, who, work_out))


def _usual(seen: Seen, *states: QuoteState) -> bool:
    """Whether the long way has no more to say of it: of jobs that were merged, of serials, of a line that ends."""
    head = seen.head
    known = head.zone is not None and not head.apart and head.lines == len(seen.lines)
    going = all(line.status not in call_file.GONE for line in seen.lines)
    stands = head.state in [state.value for state in states]
    return known and going and stands and all(one.serial is None for one in seen.promises)


def _acceptance(seen: Seen) -> StepPlan | None:
    head, plan = seen.head, StepPlan(QuoteState.ACCEPTED)
    if not _usual(seen, QuoteState.OPEN) or head.until <= head.now:
        return None
    wanted = {line.key for line in seen.lines}
    shelves = sorted(
        (one for one in seen.shelves.values() if one.key in wanted and one.lent is None), key=lambda one: one.place_key
    )
    held = {one.holding for one in seen.promises if one.quote is None}
    # until when the job held it, and what becomes of that, is told the long way
    if any(shelf.end.holding in held for shelf in shelves):
        return None
    free = {shelf.end.holding: shelf.free for shelf in shelves}
    until = max(head.now + HOLD, head.until)
    for line in seen.lines:
        missing = line.quantity
        alike = [shelf.end.holding for shelf in shelves if shelf.key == line.key]
        for holding in sorted(alike, key=lambda holding: free[holding] < missing):
            part = min(missing, free[holding])
            shelf = seen.shelves[holding]
            # which serial is promised is told the long way
            if part > 0 and part > free[holding] - shelf.end.tracked:
                return None
            if part > 0:
                free[holding] -= part
                missing -= part
                plan.told.append(Going(shelf, MovementKind.RESERVE, part, until=until, quote_id=head.number))
        if missing:
            return None
    return plan


def _sale(seen: Seen) -> StepPlan | None:
    head, plan = seen.head, StepPlan(QuoteState.SOLD)
    if not _usual(seen, QuoteState.ACCEPTED) or head.begun:
        return None
    left = {one.number: one.rest for one in seen.promises if one.quote == head.number}
    kept = [(one, seen.shelves[one.holding]) for one in seen.promises if one.quote == head.number]
    loose = {shelf.end.holding: shelf.loose for _, shelf in kept}
    for line in seen.lines:
        missing, amount = line.quantity, line.net
        for one, shelf in kept:
            part = min(left[one.number], missing) if shelf.key == line.key else 0
            if part:
                left[one.number] -= part
                loose[one.holding] -= part
                missing -= part
                going = Going(shelf, MovementKind.SELL, part, -part, None, one.number, head.number, amount)
                going.currency = None if amount is None else head.currency
                plan.told.append(going)
        if missing:
            return None
    # which serial goes out is told the long way
    return None if any(left.values()) or min(loose.values(), default=0) < 0 else plan


def _end(seen: Seen) -> StepPlan | None:
    head = seen.head
    if not _usual(seen, QuoteState.OPEN, QuoteState.ACCEPTED) or head.begun:
        return None
    kept = [one for one in seen.promises if one.quote == head.number]
    ends = [
        Going(seen.shelves[one.holding], MovementKind.RELEASE, one.rest, 0, None, one.number, head.number)
        for one in kept
    ]
    return StepPlan(QuoteState.LAPSED, told=ends)


_DONE: Final = {QuoteState.ACCEPTED: "reserved", QuoteState.SOLD: "sold", QuoteState.LAPSED: "released"}


def _answered(seen: Seen, plan: StepPlan, numbers: Sequence[int]) -> StepDone:
    """Give what a step came to; of each of its lines what there is when all are written."""
    head = seen.head
    names = {line.loudspeaker_id: line.speaker for line in seen.lines}
    done = _DONE[plan.becomes]
    for going in (*plan.first, *plan.told):
        going.shelf.end.reserved += going.quantity if going.kind is MovementKind.RESERVE else -going.quantity
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
    return Seen(head, [_quoted(row) for row in lines], shelves, [QuotePromise(*row) for row in promises])


def _quoted(row: Sequence[Any]) -> QuotedLine:
    line = QuotedLine(*row)
    # a server tells 20.0 as 20
    rate, discount = (None if one is None else float(one) for one in (line.tax_rate, line.discount))
    return line._replace(tax_rate=rate, discount=discount)


def _at_server(driver: Any, number: int, who: str | None, work_out: WorkOut) -> StepDone | None:
    import json

    found = driver.execute(_SEE, (number,), prepare=True).fetchone()
    quote, lines, holdings, promises = json.loads(found[1])
    if quote is None:
        return None
    seen = _read(quote, lines or (), holdings or (), promises or (), _of_microseconds)
    plan = work_out(seen)
    if plan is None:
        return None
    written = json.dumps([_said(going, seen.head.job_id) for going in (*plan.first, *plan.told)])
    numbers = driver.execute(_WRITE, (written, number, plan.becomes.value), prepare=True).fetchone()[0]
    for going in (*plan.first, *plan.told):
        going.shelf.end.on_hand += going.effect
    return _answered(seen, plan, numbers[len(plan.first) :])


_SEE: Final = call_server.PATIENCE_THEN.format("stock_quote(%s) AS seen")
_WRITE: Final = "SELECT stock_lines(%s::json, %s, %s)"


def _said(going: Going, job: int) -> dict[str, Any]:
    until = None if going.until is None else going.until.isoformat()
    names = ("quantity", "effect", "reservation_id", "quote_id", "amount", "currency")
    what = {"loudspeaker_id": going.shelf.loudspeaker_id, "holding_id": going.shelf.end.holding, "job_id": job}
    return {**what, "kind": going.kind.value, "until": until, **{name: getattr(going, name) for name in names}}


def _of_microseconds(value: int) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=value)


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
SELECT r.movement_id, r.holding_id, r.rest, r.serial, n.quote_id
  FROM reservation r JOIN movement n ON n.id = r.movement_id JOIN quote q ON q.id = :quote
  WHERE r.holding_id IN ({_AMONG}) AND r.rest > 0 AND r.until > :now
    AND (n.quote_id = q.id OR (n.quote_id IS NULL AND n.job_id = q.job_id))
  ORDER BY r.movement_id
"""
