"""Where units come from later: reservations that lapse, orders that come, and suppliers' lead times."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Movement, Reservation, Supplier, SupplierPrice, SupplyOrder


@dataclass(frozen=True, slots=True)
class Lapse:
    """Units that are free again from a day on, unless somebody takes them; alike are those of one pack and finish."""

    day: date
    units: int
    pack: int
    grade: Grade
    finish_key: str


@dataclass(frozen=True, slots=True)
class Coming:
    """Units of an open order; `expected` is None where nobody said when."""

    expected: date | None
    units: int


@dataclass(frozen=True, slots=True)
class Sources:
    """What comes later, by loudspeaker. Lead times in days."""

    today: date
    lapses: dict[int, list[Lapse]] = field(default_factory=dict)
    orders: dict[int, list[Coming]] = field(default_factory=dict)
    lead: dict[int, int | None] = field(default_factory=dict)


def read_sources(session: Session, ids: list[int], now: datetime) -> Sources:
    """Read what comes later of some loudspeakers; orders for a job are not for others."""
    sources = Sources(now.date())
    for number, expected, units in session.execute(open_orders().where(SupplyOrder.loudspeaker_id.in_(ids))):
        sources.orders.setdefault(number, []).append(Coming(expected, int(units)))
    query = (
        sa.select(
            Holding.loudspeaker_id,
            Reservation.until,
            Reservation.rest,
            Holding.pack,
            Holding.grade,
            Holding.finish_key,
        )
        .join(Holding, Holding.id == Reservation.holding_id)
        .where(Reservation.rest > 0, Reservation.until > now, Holding.loudspeaker_id.in_(ids))
    )
    for number, until, units, pack, grade, finish_key in session.execute(query):
        sources.lapses.setdefault(number, []).append(Lapse(_day_after(until), units, pack, grade, finish_key))
    lead = (
        sa.select(SupplierPrice.loudspeaker_id, sa.func.min(Supplier.lead_time))
        .join(Supplier, Supplier.id == SupplierPrice.supplier_id)
        .where(sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > sources.today))
        .where(SupplierPrice.loudspeaker_id.in_(ids))
        .group_by(SupplierPrice.loudspeaker_id)
    )
    sources.lead.update({row[0]: row[1] for row in session.execute(lead)})
    return sources


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


def _day_after(until: datetime) -> date:
    """Give the first whole day on which something is free that holds until then."""
    day = until.date()
    return day if until.time() == time() or day == date.max else day + timedelta(days=1)
