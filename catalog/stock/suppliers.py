"""Suppliers: what they are called, how long they take, what was ordered from them, and how their files read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import SheetKind, Supplier, SupplierColumn, SupplyOrder
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.problems import nearest
from triptych.catalog.stock.articles import model_named, named, speaker_name
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.ledger_rows import job_id
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, LONGEST, refuse_text


@dataclass(frozen=True, slots=True)
class Terms:
    """A supplier and its lead time. [day]."""

    name: str
    lead_time: int | None


@dataclass(frozen=True, slots=True)
class Order:
    """Units ordered and how many have come."""

    number: int
    speaker: str
    supplier: str
    quantity: int
    come: int
    expected: date | None
    job: str | None
    state: str
    finish: str | None


def save_supplier(session: Session, name: str, lead_time: int | None = None) -> None:
    """Add a supplier, or change its lead time. [day].

    Raises
    ------
    BadInput
        The name is blank or too long, or the lead time no number of days.
    """
    key = rows.name_key(name)
    if not key or len(name) > LONGEST:
        raise BadInput(f"supplier: give a name of up to {LONGEST} characters")
    rows.refuse_unstorable("supplier", name)
    if lead_time is not None and not 0 <= lead_time <= 3650:
        raise BadInput(f"lead time {lead_time}: must be from 0 to 3650 days")
    found = session.scalar(sa.select(Supplier.id).where(Supplier.name_key == key))
    if found is None:
        values = {"name": " ".join(name.split()), "name_key": key, "lead_time": lead_time}
        session.execute(sa.insert(Supplier).values(**values))
    elif lead_time is not None:
        session.execute(sa.update(Supplier).where(Supplier.id == found).values(lead_time=lead_time))


def suppliers(session: Session) -> list[Terms]:
    """Give the suppliers in order of their names."""
    query = sa.select(Supplier.name, Supplier.lead_time).order_by(Supplier.name_key)
    return [Terms(name, days) for name, days in session.execute(query)]


def supplier_named(session: Session, name: str) -> int:
    """Give the number of a supplier.

    Raises
    ------
    NotFound
        None has that name; the nearest is told.
    """
    found = session.scalar(sa.select(Supplier.id).where(Supplier.name_key == rows.name_key(name)))
    if found is None:
        known = [source.name for source in suppliers(session)]
        hint = nearest(name, known) if known else "there is none: add one with supplier add"
        raise NotFound(f"no supplier is named {name!r}; {hint}")
    return found


def mapping(session: Session, supplier_id: int, kind: SheetKind) -> dict[str, str]:
    """Give what a supplier calls our columns: ours by theirs."""
    query = sa.select(SupplierColumn.theirs, SupplierColumn.ours).where(
        SupplierColumn.supplier_id == supplier_id, SupplierColumn.kind == kind
    )
    return {row[0]: row[1] for row in session.execute(query.order_by(SupplierColumn.ours))}


def save_mapping(session: Session, supplier_id: int, kind: SheetKind, ours_by_theirs: Mapping[str, str]) -> None:
    """Keep what a supplier calls our columns; what is named anew goes in the place of what was."""
    for theirs in ours_by_theirs:
        rows.refuse_unstorable("the supplier's column", theirs)
    kept = {
        ours: theirs
        for theirs, ours in mapping(session, supplier_id, kind).items()
        if rows.name_key(theirs) not in {rows.name_key(name) for name in ours_by_theirs}
    }
    kept |= {ours: theirs for theirs, ours in ours_by_theirs.items()}
    of_supplier = sa.and_(SupplierColumn.supplier_id == supplier_id, SupplierColumn.kind == kind)
    session.execute(sa.delete(SupplierColumn).where(of_supplier))
    found = [
        {"supplier_id": supplier_id, "kind": kind, "ours": ours, "theirs": theirs, "theirs_key": rows.name_key(theirs)}
        for ours, theirs in kept.items()
    ]
    if found:
        session.execute(sa.insert(SupplierColumn), found)


def order(
    session: Session,
    speaker: str,
    quantity: int,
    supplier: str,
    expected: date | None = None,
    job: str | None = None,
    finish: str | None = None,
) -> int:
    """Write down what is ordered, and give its number; receive it by that number.

    Raises
    ------
    NotFound
        No loudspeaker or supplier has that name.
    Refused
        The model is discontinued or the last of its line, which is never back-ordered. Nothing was written.
    """
    if not 1 <= quantity <= LARGEST_QUANTITY:
        raise BadInput(f"quantity {quantity}: must be from 1 to {LARGEST_QUANTITY}")
    refuse_text("finish", finish)
    found = model_named(session, speaker)
    if found.gone is not None:
        raise Refused(f"{found.name}: {found.gone}, so never back-ordered; nothing was written")
    values = {
        "loudspeaker_id": found.number,
        "supplier_id": supplier_named(session, supplier),
        "job_id": None if job is None else job_id(session, job),
        "quantity": quantity,
        "expected": expected,
        "ordered_at": datetime.now(UTC),
        "finish": finish,
    }
    return session.scalars(sa.insert(SupplyOrder).values(**values).returning(SupplyOrder.id)).one()


def orders(session: Session, *, every: bool = False) -> list[Order]:
    """Give the orders that have not come whole, or every one, in order of their numbers."""
    query = named(
        sa.select(SupplyOrder, speaker_name(), Supplier.name, come_of_order(), JOB.name).join(
            Supplier, Supplier.id == SupplyOrder.supplier_id
        ),
        SupplyOrder.loudspeaker_id,
    )
    query = with_job(query, SupplyOrder.job_id, outer=True).order_by(SupplyOrder.id)
    found = [_order(*row) for row in session.execute(query)]
    return [one for one in found if every or one.state == "open"]


def _order(row: SupplyOrder, speaker: str, supplier: str, come: int, job: str | None) -> Order:
    whole = "come" if come >= row.quantity else "open"
    state = "cancelled" if row.cancelled_at is not None else whole
    return Order(row.id, speaker, supplier, row.quantity, int(come), row.expected, job, state, row.finish)


def cancel_order(session: Session, number: int) -> None:
    """Cancel what has not come of an order.

    Raises
    ------
    NotFound
        No open order has that number.
    """
    open_orders = sa.update(SupplyOrder).where(SupplyOrder.id == number, SupplyOrder.cancelled_at.is_(None))
    changed = open_orders.values(cancelled_at=datetime.now(UTC)).returning(SupplyOrder.id)
    if not 1 <= number < 2**31 or session.scalar(changed) is None:
        raise NotFound(f"no open order has the number {number}")
