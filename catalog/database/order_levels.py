"""What has come of what was ordered, as a query."""

from __future__ import annotations

import functools

import sqlalchemy as sa

from triptych.catalog.database.models import Movement, SupplyOrder
from triptych.catalog.database.stock_levels import is_undone


@functools.cache
def come_of_order() -> sa.ColumnElement[int]:
    """Give the expression of how many of a `SupplyOrder` have come; what was undone is still to come."""
    come = sa.select(sa.func.sum(Movement.quantity)).where(Movement.order_id == SupplyOrder.id, ~is_undone())
    return sa.func.coalesce(come.correlate(SupplyOrder).scalar_subquery(), 0)
