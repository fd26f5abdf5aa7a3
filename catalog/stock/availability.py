"""What may be promised now, and when otherwise."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog.models import (
    Grade,
    Holding,
    Loudspeaker,
    Movement,
    MovementKind,
    Reservation,
    Supplier,
    SupplierPrice,
    SupplyOrder,
)
from catalog.records import Status
from catalog.stock.holdings import holdings_of, reserved_of

SELLABLE: Final = tuple(grade for grade in Grade if grade is not Grade.QUARANTINE)
"""Grades whose units may be promised."""

NEVER_AGAIN: Final = (Status.LAST_OF_LINE, Status.DISCONTINUED)
"""Models that are never back-ordered."""


def moment(day: date | datetime | None = None) -> datetime:
    """Give the instant at which a day's reservations are looked at: now, where the day is none or today."""
    if isinstance(day, datetime):
        return day.astimezone(UTC)
    now = datetime.now(UTC)
    return now if day is None or day == now.date() else datetime.combine(day, time(), UTC)


def last_lines() -> sa.Select[int, int, Grade, int]:
    """Give the query of the last line of each holding: holding, loudspeaker, grade, on hand."""
    newest = (
        sa.select(sa.func.max(Movement.sequence))
        .where(Movement.holding_id == Holding.id)
        .correlate(Holding)
        .scalar_subquery()
    )
    return sa.select(Holding.id, Holding.loudspeaker_id, Holding.grade, Movement.on_hand).join(
        Movement, sa.and_(Movement.holding_id == Holding.id, Movement.sequence == newest)
    )


def available_query(day: date | datetime | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of what may be promised of each loudspeaker that the ledger knows: id, units; in order of id."""
    wanted = [grade for grade in SELLABLE if grades is None or grade in grades]
    lines = last_lines().subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, moment(day))
    units = sa.case((lines.c.grade.in_(wanted), free), else_=0)
    total = sa.cast(sa.func.sum(units), sa.Integer).label("available")
    number = lines.c.loudspeaker_id
    return sa.select(number, total).group_by(number).order_by(number)


def available(session: Session, loudspeaker_id: int, grades: Collection[Grade] | None = None) -> int | None:
    """Give how many units may be promised now, of all grades or of some; None where the ledger has no movement."""
    query = available_query(grades=grades).subquery()
    found = session.execute(sa.select(query.c.available).where(query.c.loudspeaker_id == loudspeaker_id)).first()
    return None if found is None else int(found[0])


def ids_in_stock(day: date | datetime | None = None) -> sa.Select[int]:
    """Give the query of the loudspeakers of which a unit may be promised."""
    found = available_query(day).order_by(None).subquery()
    return sa.select(found.c.loudspeaker_id).where(found.c.available > 0)


@dataclass(frozen=True, slots=True)
class Promise:
    """How many units may be promised now, and otherwise when the wanted ones could be had, and how that is known.

    `when` is None where nobody knows; `why` says so, or that it never will be.
    """

    available: int
    when: date | None
    why: str


def promises(
    session: Session,
    ids: Iterable[int],
    quantity: int = 1,
    grades: Collection[Grade] = (Grade.NEW,),
    day: date | datetime | None = None,
) -> dict[int, Promise]:
    """Give for each loudspeaker whether `quantity` may be promised now, and when otherwise.

    In this order: what is on hand; an order on its way with its date; a reservation that lapses; the lead time of a
    supplier. What is discontinued or last of its line is never back-ordered.

    Parameters
    ----------
    ids : iterable of int
        Loudspeakers' numbers.
    quantity : int
        How many are wanted together.
    grades : collection of Grade
        Which are acceptable.

    Returns
    -------
    dict of int to Promise
        By number; one for each of `ids` that is a loudspeaker.
    """
    now = moment(day)
    wanted = sorted(set(ids))
    free = {row[0]: int(row[1]) for row in session.execute(available_query(now, grades))}
    statuses = _statuses(session, wanted)
    sources = _Sources(session, now, grades)
    return {
        number: _promise(number, status, free.get(number, 0), quantity, sources) for number, status in statuses.items()
    }


def _statuses(session: Session, ids: list[int]) -> dict[int, Status | None]:
    query = sa.select(Loudspeaker.id, Loudspeaker.status).where(Loudspeaker.id.in_(ids))
    return {row[0]: row[1] for row in session.execute(query)}


class _Sources:
    """Where units come from later: by loudspeaker, a list of (date, units), and lead times."""

    def __init__(self, session: Session, now: datetime, grades: Collection[Grade]) -> None:
        self.today = now.date()
        self.orders = _grouped(session.execute(open_orders()).all())
        lapsing = (
            sa.select(Holding.loudspeaker_id, Reservation.until, Reservation.rest)
            .join(Holding, Holding.id == Reservation.holding_id)
            .where(Reservation.rest > 0, Reservation.until > now, Holding.grade.in_(grades))
        )
        found = session.execute(lapsing).all()
        self.lapsing = _grouped([(row[0], _day_after(row[1]), row[2]) for row in found])
        lead = (
            sa.select(SupplierPrice.loudspeaker_id, sa.func.min(Supplier.lead_time))
            .join(Supplier, Supplier.id == SupplierPrice.supplier_id)
            .where(sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > self.today))
            .group_by(SupplierPrice.loudspeaker_id)
        )
        self.lead = {row[0]: row[1] for row in session.execute(lead)}


def _day_after(until: datetime) -> date:
    return (until + timedelta(days=1) - timedelta(microseconds=1)).date()


def _grouped(rows: Iterable[Any]) -> dict[int, list[tuple[date | None, int]]]:
    grouped: dict[int, list[tuple[date | None, int]]] = {}
    for number, day, units in rows:
        grouped.setdefault(number, []).append((day, int(units)))
    return grouped


def open_orders() -> sa.Select[int, date | None, int]:
    """Give the query of what is ordered and has not come: loudspeaker, expected date, units."""
    come = sa.func.coalesce(
        sa.select(sa.func.sum(Movement.quantity)).where(Movement.order_id == SupplyOrder.id).scalar_subquery(), 0
    )
    rest = SupplyOrder.quantity - come
    return (
        sa.select(SupplyOrder.loudspeaker_id, SupplyOrder.expected, rest)
        .where(SupplyOrder.cancelled_at.is_(None), SupplyOrder.job_id.is_(None), rest > 0)
        .order_by(SupplyOrder.id)
    )


def _promise(number: int, status: Status | None, free: int, quantity: int, sources: _Sources) -> Promise:
    if free >= quantity:
        return Promise(free, sources.today, f"{free} available now")
    by_order = _reached(sources.orders.get(number, []), quantity - free, sources.today)
    if by_order is not None:
        return Promise(free, by_order, f"on order, expected {by_order}")
    if lapses := _reached(sources.lapsing.get(number, []), quantity - free, sources.today):
        return Promise(free, lapses, f"reserved; free on {lapses} if nobody takes it")
    if status in NEVER_AGAIN:
        return Promise(free, None, f"{str(status.value if status else '').replace('_', ' ')}: never back-ordered")
    lead = sources.lead.get(number)
    if lead is not None:
        when = sources.today + timedelta(days=lead)
        return Promise(free, when, f"to be ordered: {lead} days, so {when}")
    return Promise(free, None, "not in stock, and no supplier has stated when")


def _reached(coming: list[tuple[date | None, int]], missing: int, today: date) -> date | None:
    dated = sorted((max(day, today), units) for day, units in coming if day is not None)
    for day, units in dated:
        missing -= units
        if missing <= 0:
            return day
    return None


@dataclass(frozen=True, slots=True)
class Matching:
    """Mains of a model's family that are still about."""

    family: str
    sold: int
    on_hand: int


_SOLD: Final = sa.case(
    (Movement.kind == MovementKind.SELL, Movement.quantity),
    (Movement.kind == MovementKind.RETURN, -Movement.quantity),
    else_=0,
)


def matching_mains(session: Session, loudspeaker_id: int) -> Matching | None:
    """Give the mains of its family that were sold or are on hand, for a centre whose line ends; None otherwise.

    Whoever has them will ask for this centre, and there will be no other.
    """
    from catalog.stock.families import mains_of_family

    family, mains = mains_of_family(session, loudspeaker_id)
    if not mains:
        return None
    sold = sa.select(sa.func.coalesce(sa.func.sum(_SOLD), 0)).where(Movement.holding_id.in_(holdings_of(mains)))
    lines = last_lines().subquery()
    held = sa.select(sa.func.coalesce(sa.func.sum(lines.c.on_hand), 0)).where(lines.c.loudspeaker_id.in_(mains))
    out = Matching(family, int(session.scalars(sold).one()), int(session.scalars(held).one()))
    return out if out.sold > 0 or out.on_hand > 0 else None
