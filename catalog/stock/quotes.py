"""Quotes: prices that hold until a day, turned into reservations and then sales, with no gap in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog import queries, rows
from catalog.errors import BadInput, NotFound, Refused
from catalog.models import (
    Grade,
    Holding,
    Job,
    Location,
    Movement,
    MovementKind,
    Price,
    Quote,
    QuoteLine,
    QuoteState,
    Reservation,
)
from catalog.money import checked_currency
from catalog.records import PricePer, Tax
from catalog.stock import holdings
from catalog.stock.availability import NEVER_AGAIN, promises
from catalog.stock.costs import cost_of_next, net_each, whole
from catalog.stock.lines import LARGEST, Line, instant
from catalog.stock.movements import record_movement
from catalog.stock.timing import HOLD

LONGEST: Final = 200
"""How many lines a quote has at most."""


@dataclass(frozen=True, slots=True)
class Item:
    """What is to be quoted; the catalogue's price where `amount` is None. [minor unit]."""

    speaker: str
    quantity: int
    grade: Grade = Grade.NEW
    finish: str | None = None
    amount: int | None = None
    currency: str | None = None
    tax_rate: float | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """A price as it is quoted."""

    amount: int
    currency: str
    per: PricePer
    tax: Tax | None
    tax_rate: float | None


def make(
    session: Session,
    job: str,
    items: Sequence[Item],
    until: date | datetime | None = None,
    who: str | None = None,
    note: str | None = None,
) -> tuple[int, list[str]]:
    """Write a quote; give its number, and what is worth telling about it.

    Raises
    ------
    BadInput
        Nothing is quoted, a price is unknown, or prices are in two currencies.
    NotFound
        No loudspeaker has that name.
    Refused
        It is the last of its line, and so many are not there. Nothing was written.
    """
    if not 1 <= len(items) <= LONGEST:
        raise BadInput(f"a quote has from 1 to {LONGEST} lines")
    if not rows.name_key(job):
        raise BadInput("a quote needs a job")
    now = _now(session)
    end = now + HOLD if until is None else instant(until)
    if end <= now:
        raise BadInput(f"until {until}: that has passed; a quote ends in the future")
    lines, remarks, currency = _priced_lines(session, items, now.date())
    values = {"job_id": holdings.job_id(session, job), "state": QuoteState.OPEN, "currency": currency}
    values |= {"made_at": now, "until": end, "who": who, "note": note}
    number = session.scalars(sa.insert(Quote).values(**values).returning(Quote.id)).one()
    session.execute(sa.insert(QuoteLine), [{"quote_id": number, **line} for line in lines])
    return number, remarks


def _now(session: Session) -> datetime:
    if session.get_bind().dialect.name == "sqlite":
        return datetime.now(UTC)
    clock = sa.func.clock_timestamp(type_=sa.DateTime(timezone=True))
    return session.scalars(sa.select(clock)).one().astimezone(UTC)


def _priced_lines(session: Session, items: Sequence[Item], day: date) -> tuple[list[dict[str, object]], list[str], str]:
    lines: list[dict[str, object]] = []
    remarks: list[str] = []
    currency: str | None = None
    for ordinal, item in enumerate(items, start=1):
        found = queries.stored(session, item.speaker)
        charge = _charge(session, item, found.id, found.record.name, day)
        if currency not in (None, charge.currency):
            raise BadInput(f"prices are in {currency} and {charge.currency}: make two quotes")
        currency = charge.currency
        remarks += _supply(session, item, found)
        lines.append(
            {
                "ordinal": ordinal,
                "loudspeaker_id": found.id,
                "grade": item.grade,
                "finish": item.finish,
                "quantity": item.quantity,
                "amount": charge.amount,
                "per": charge.per,
                "tax": charge.tax,
                "tax_rate": charge.tax_rate,
                "cost": cost_of_next(session, found.id, charge.currency, day),
            }
        )
    return lines, remarks, currency or "EUR"


def _charge(session: Session, item: Item, number: int, name: str, day: date) -> Charge:
    if not 1 <= item.quantity <= LARGEST:
        raise BadInput(f"{name}: quantity {item.quantity}: must be from 1 to {LARGEST}")
    if item.tax_rate is not None and not 0 <= item.tax_rate <= 100:
        raise BadInput(f"tax rate {item.tax_rate:g}: must be from 0 to 100 %")
    pack = holdings.pack_of(session, number)
    if item.quantity % pack:
        raise BadInput(f"{name}: quantity {item.quantity}: it is sold in pairs, so give an even number")
    price = session.scalars(sa.select(Price).where(Price.loudspeaker_id == number, queries.valid_on(day))).first()
    if item.amount is not None:
        tax, stated = (price.tax, price.tax_rate) if price else (None, None)
        rate = stated if stated is not None else item.tax_rate
        return Charge(item.amount, checked_currency(item.currency) or "EUR", PricePer.EACH, tax, rate)
    if price is None or price.amount is None or price.currency is None:
        raise BadInput(f"{name}: its price is not known; give one with --price")
    per = price.per or (PricePer.PAIR if pack == 2 else PricePer.EACH)
    rate = price.tax_rate if price.tax_rate is not None else item.tax_rate
    return Charge(price.amount, price.currency, per, price.tax, rate)


def _supply(session: Session, item: Item, found: queries.Stored) -> list[str]:
    """Refuse what can never be had; remark what is not there now."""
    promise = promises(session, [found.id], item.quantity, [item.grade])[found.id]
    if promise.available >= item.quantity:
        return []
    name = found.record.name
    if found.record.status in NEVER_AGAIN:
        status = str(found.record.status.value).replace("_", " ")
        raise Refused(f"{name}: {status}, never back-ordered, and {promise.available} available; nothing was written")
    return [f"{name}: {promise.available} available now; {promise.why}"]


def _open(session: Session, number: int) -> Quote:
    """Give a quote, locked against others who would turn it into something else."""
    if not 1 <= number < 2**31:
        raise NotFound(f"no quote has the number {number}")
    query = sa.select(Quote).where(Quote.id == number).with_for_update().execution_options(populate_existing=True)
    found = session.scalars(query).first()
    if found is None:
        raise NotFound(f"no quote has the number {number}")
    return found


def _become(session: Session, number: int, state: QuoteState) -> None:
    session.execute(sa.update(Quote).where(Quote.id == number).values(state=state))


def accept(
    session: Session,
    number: int,
    until: date | datetime | None = None,
    location: str | None = None,
    who: str | None = None,
) -> list[int]:
    """Reserve all that was quoted, or nothing, for the quote's job; give the reservations' numbers.

    Raises
    ------
    NotFound
        There is no such quote.
    Refused
        It has lapsed, or was accepted already, or not all of it is available. Nothing was written.
    """
    quote = _open(session, number)
    now = _now(session)
    if quote.state is not QuoteState.OPEN:
        raise Refused(f"quote {number} is {quote.state.value} already; nothing was written")
    if quote.until <= now:
        raise Refused(f"quote {number} lapsed at {quote.until.isoformat(timespec='minutes')}: make a new one")
    job = session.get_one(Job, quote.job_id).name
    end = instant(until) if until is not None else max(now + HOLD, quote.until)
    parts = _allocate(session, _lines(session, number), location)
    numbers = [record_movement(session, replace(part, job=job, until=end, quote_id=number, who=who)) for part in parts]
    _become(session, number, QuoteState.ACCEPTED)
    return numbers


def _lines(session: Session, number: int) -> list[QuoteLine]:
    query = sa.select(QuoteLine).where(QuoteLine.quote_id == number).order_by(QuoteLine.ordinal)
    return list(session.scalars(query))


def _allocate(session: Session, lines: Sequence[QuoteLine], location: str | None) -> list[Line]:
    """Choose where the units come from: one location for a line where one has them all, else several."""
    spots = {line.ordinal: _spots(session, line, location) for line in lines}
    found = {holding for spot in spots.values() for holding, _ in spot}
    holdings.lock(session, found)
    free = {holding: holdings.available_of(session, holding) for holding in found}
    parts: list[Line] = []
    for line in lines:
        chosen = _choose(session, line, spots[line.ordinal], free)
        parts += chosen
    return parts


def _spots(session: Session, line: QuoteLine, location: str | None) -> list[tuple[int, str]]:
    query = (
        sa.select(Holding.id, Location.name)
        .join(Location, Location.id == Holding.location_id)
        .where(
            Holding.loudspeaker_id == line.loudspeaker_id,
            Holding.grade == line.grade,
            Holding.finish_key == rows.name_key(line.finish),
            Holding.pack == holdings.pack_of(session, line.loudspeaker_id),
        )
        .order_by(Location.name_key)
    )
    if location is not None:
        query = query.where(Location.name_key == rows.name_key(location))
    return [(row[0], row[1]) for row in session.execute(query)]


def _choose(session: Session, line: QuoteLine, spots: Sequence[tuple[int, str]], free: dict[int, int]) -> list[Line]:
    ordered = sorted(spots, key=lambda spot: free[spot[0]] < line.quantity)
    missing, chosen = line.quantity, []
    for holding, name in ordered:
        part = min(free[holding], missing)
        if part > 0:
            chosen.append(Line(line.loudspeaker_id, MovementKind.RESERVE, part, name, line.grade, line.finish))
            free[holding] -= part
            missing -= part
    if missing:
        name = queries.name_of(session, line.loudspeaker_id)
        raise Refused(f"{name}: {line.quantity - missing} of {line.quantity} available; nothing was written")
    return chosen


@dataclass(frozen=True, slots=True)
class Kept:
    """A reservation of a quote that still holds something."""

    line: Line
    live: bool


def _kept(session: Session, number: int, kind: MovementKind, who: str | None) -> list[Kept]:
    """Give the lines that would end the quote's reservations; their holdings are locked together."""
    query = (
        sa.select(Movement.id, Movement.loudspeaker_id, Reservation, Holding, Location.name, Job.name)
        .join(Reservation, Reservation.movement_id == Movement.id)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .join(Job, Job.id == Movement.job_id)
        .where(Movement.quote_id == number, Movement.kind == MovementKind.RESERVE, Reservation.rest > 0)
        .order_by(Movement.id)
    )
    holdings.lock(session, [row[3].id for row in session.execute(query)])
    found = session.execute(query.execution_options(populate_existing=True)).all()
    now = _now(session)
    return [
        Kept(
            Line(
                speaker,
                kind,
                left.rest,
                place,
                holding.grade,
                holding.finish,
                job,
                reservation_id=movement,
                pack=holding.pack,
                quote_id=number,
                who=who,
            ),
            left.until > now,
        )
        for movement, speaker, left, holding, place, job in found
    ]


def sell(session: Session, number: int, who: str | None = None) -> list[int]:
    """Turn the reservations of an accepted quote into sales at its prices, all or none.

    Raises
    ------
    NotFound
        There is no such quote.
    Refused
        It isn't accepted, or some of its reservations have lapsed or were released. Nothing was written.
    """
    quote = _open(session, number)
    if quote.state is not QuoteState.ACCEPTED:
        raise Refused(f"quote {number} is {quote.state.value}, not accepted; nothing was written")
    lines = _lines(session, number)
    kept = [item.line for item in _kept(session, number, MovementKind.SELL, who) if item.live]
    wanted, held = sum(line.quantity for line in lines), sum(line.quantity for line in kept)
    if wanted != held:
        raise Refused(
            f"quote {number}: {held} of {wanted} are still reserved, the rest lapsed or was released: lapse it and"
            " make a new one; nothing was written"
        )
    prices = {(line.loudspeaker_id, line.grade, rows.name_key(line.finish)): line for line in reversed(lines)}
    numbers = []
    for line in kept:
        priced = prices[line.loudspeaker_id, line.grade, rows.name_key(line.finish)]
        net = net_each(priced.amount, priced.per, priced.tax, priced.tax_rate)
        amount = None if net is None else whole(net)
        currency = None if amount is None else quote.currency
        numbers.append(record_movement(session, replace(line, amount=amount, currency=currency)))
    _become(session, number, QuoteState.SOLD)
    return numbers


def lapse(session: Session, number: int, who: str | None = None) -> list[int]:
    """End a quote before its day; what is reserved for it is free again.

    Raises
    ------
    NotFound
        There is no such quote.
    Refused
        It was sold, or has lapsed already. Nothing was written.
    """
    quote = _open(session, number)
    if quote.state in (QuoteState.SOLD, QuoteState.LAPSED):
        raise Refused(f"quote {number} is {quote.state.value} already; nothing was written")
    kept = [item.line for item in _kept(session, number, MovementKind.RELEASE, who) if item.live]
    numbers = [record_movement(session, line) for line in kept]
    _become(session, number, QuoteState.LAPSED)
    return numbers
