"""What units cost and what is left of their price: first in, first out; tax taken out once."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog.models import Movement, MovementKind, SupplierPrice
from catalog.records import PricePer, Tax
from catalog.stock.holdings import holdings_of

GONE = (MovementKind.SELL, MovementKind.WRITE_OFF)


def whole(amount: Decimal) -> int:
    """Round an amount in minor units to a whole one, half to even."""
    return int(amount.quantize(Decimal(1), ROUND_HALF_EVEN))


def net_each(amount: int, per: PricePer, tax: Tax | None, tax_rate: float | None) -> Decimal | None:
    """Give the price of one without tax, None where nobody says what of it is tax. [minor unit].

    >>> int(net_each(12000, PricePer.PAIR, Tax.INCLUDED, 20.0))
    5000
    """
    each = Decimal(amount) / (2 if per is PricePer.PAIR else 1)
    if tax is Tax.EXCLUDED:
        return each
    if tax is None or tax_rate is None:
        return None
    return each / (1 + Decimal(str(tax_rate)) / 100)


def margin(net: Decimal | None, cost: int | None) -> Decimal | None:
    """Give the share of the net price that is left when the landed cost is paid; None where either is unknown.

    >>> margin(Decimal(5000), 3500)
    Decimal('0.3')
    """
    return None if not net or cost is None else (net - cost) / net


def cost_of_next(session: Session, loudspeaker_id: int, currency: str, day: date) -> int | None:
    """Give what the unit that goes out next has cost, without tax: first in, first out, else the supplier's price.

    None where neither is known in that currency. [minor unit]
    """
    gone = sa.select(sa.func.coalesce(sa.func.sum(Movement.quantity), 0)).where(
        Movement.holding_id.in_(holdings_of([loudspeaker_id])), Movement.kind.in_(GONE)
    )
    left = int(session.scalars(gone).one())
    came = (
        sa.select(Movement.quantity, Movement.amount, Movement.currency)
        .where(Movement.holding_id.in_(holdings_of([loudspeaker_id])), Movement.kind == MovementKind.RECEIVE)
        .order_by(Movement.id)
    )
    for quantity, amount, code in session.execute(came):
        left -= quantity
        if left < 0:
            return amount if code == currency else _supplier_cost(session, loudspeaker_id, currency, day)
    return _supplier_cost(session, loudspeaker_id, currency, day)


def _supplier_cost(session: Session, loudspeaker_id: int, currency: str, day: date) -> int | None:
    query = sa.select(sa.func.min(SupplierPrice.cost)).where(
        SupplierPrice.loudspeaker_id == loudspeaker_id,
        SupplierPrice.currency == currency,
        SupplierPrice.valid_from <= day,
        sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > day),
    )
    return session.scalar(query)
