"""What stands on shelves of a loudspeaker and may be promised, and what comes: what lapses, is ordered or could be."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Location, Reservation, Supplier, SupplierPrice, SupplyOrder
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import SELLABLE, free_lines, reserved_of
from triptych.catalog.stock.grade_prices import Tag


@dataclass(frozen=True, slots=True)
class Lapse:
    """Units that are free again from a day on, unless somebody takes them; alike are those of one pack and finish."""

    day: date
    units: int
    pack: int
    grade: Grade
    finish: str | None
    finish_key: str


@dataclass(frozen=True, slots=True)
class Coming:
    """Units of an open order; `expected` is None where nobody said when, `finish_key` where nobody said in which."""

    expected: date | None
    units: int
    finish_key: str | None = None


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What comes later, by loudspeaker. Lead times in days."""

    today: date
    lapses: dict[int, list[Lapse]] = field(default_factory=dict)
    orders: dict[int, list[Coming]] = field(default_factory=dict)
    lead: dict[int, int | None] = field(default_factory=dict)
    tags: dict[tuple[int, Grade], Tag] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shelf:
    """Alike units at one location, and how many of them nobody has reserved."""

    pack: int
    grade: Grade
    finish: str | None
    finish_key: str
    location: str
    free: int


def shelves_of(session: Session, ids: list[int], now: datetime) -> dict[int, list[Shelf]]:
    """Read what stands on shelves of some loudspeakers and may be promised, and how much of it is free."""
    found: dict[int, list[Shelf]] = {}
    for number, *shelf in session.connection().execute(_shelves(), {"numbers": ids, "now": now}):
        found.setdefault(number, []).append(Shelf(*shelf))
    return found


_NUMBERS: Final[sa.BindParameter[int]] = sa.bindparam("numbers", expanding=True)


@cache
def _shelves() -> sa.Select[*tuple[Any, ...]]:
    lines = free_lines().where(Holding.loudspeaker_id.in_(_NUMBERS)).subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, sa.bindparam("now"))
    return (
        sa.select(Holding.loudspeaker_id, Holding.pack, Holding.grade, Holding.finish, Holding.finish_key)
        .add_columns(Location.name, free)
        .join(Location, Location.id == Holding.location_id)
        .join(lines, lines.c.id == Holding.id)
        .where(Holding.grade.in_(SELLABLE))
        .order_by(Holding.id)
    )


def arrivals(session: Session, ids: list[int], now: datetime) -> Arrivals:
    """Read what comes later of some loudspeakers; orders for a job are not for others."""
    sources = Arrivals(now.date())
    connection = session.connection()
    for number, expected, units, finish in connection.execute(_open_orders(), {"numbers": ids}):
        key = None if finish is None else name_key(finish)
        sources.orders.setdefault(number, []).append(Coming(expected, int(units), key))
    for number, until, units, pack, grade, finish, key in connection.execute(_lapses(), {"numbers": ids, "now": now}):
        sources.lapses.setdefault(number, []).append(Lapse(day_after(until), units, pack, grade, finish, key))
    lead = connection.execute(_lead(), {"numbers": ids, "today": sources.today})
    sources.lead.update({row[0]: row[1] for row in lead})
    return sources


@cache
def _lapses() -> sa.Select[*tuple[Any, ...]]:
    return (
        sa.select(
            Holding.loudspeaker_id,
            Reservation.until,
            Reservation.rest,
            Holding.pack,
            Holding.grade,
            Holding.finish,
            Holding.finish_key,
        )
        .join(Holding, Holding.id == Reservation.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Reservation.rest > 0, Reservation.until > sa.bindparam("now"))
        .where(Holding.loudspeaker_id.in_(_NUMBERS), Location.loan_job_id.is_(None))
    )


@cache
def _lead() -> sa.Select[int, int | None]:
    return (
        sa.select(SupplierPrice.loudspeaker_id, sa.func.min(Supplier.lead_time))
        .join(Supplier, Supplier.id == SupplierPrice.supplier_id)
        .where(sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > sa.bindparam("today")))
        .where(SupplierPrice.loudspeaker_id.in_(_NUMBERS))
        .group_by(SupplierPrice.loudspeaker_id)
    )


@cache
def _open_orders() -> sa.Select[int, date | None, int, str | None]:
    """Give the query of what is ordered and has not come: loudspeaker, expected date, units, finish."""
    rest = SupplyOrder.quantity - come_of_order()
    return (
        sa.select(SupplyOrder.loudspeaker_id, SupplyOrder.expected, rest, SupplyOrder.finish)
        .where(SupplyOrder.cancelled_at.is_(None), SupplyOrder.job_id.is_(None), rest > 0)
        .where(SupplyOrder.loudspeaker_id.in_(_NUMBERS))
        .order_by(SupplyOrder.id)
    )


def day_after(until: datetime) -> date:
    """Give the first whole day on which something is free that holds until then."""
    day = until.date()
    return day if until.time() == time() or day == date.max else day + timedelta(days=1)
