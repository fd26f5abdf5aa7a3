"""What has come of what was ordered, as a query."""

from __future__ import annotations

import functools
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import aliased

from triptych.catalog.database.models import Movement, SupplyOrder

_UNDOING: Final = aliased(Movement)


@functools.cache
def come_of_order() -> sa.ColumnElement[int]:
    """Give the expression of how many of a `SupplyOrder` have come; what was undone is still to come."""
    undone = sa.exists().where(_UNDOING.undoes_id == Movement.id)
    come = sa.select(sa.func.sum(Movement.quantity)).where(Movement.order_id == SupplyOrder.id, ~undone)
    return sa.func.coalesce(come.correlate(SupplyOrder).scalar_subquery(), 0)
