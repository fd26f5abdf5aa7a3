"""The days of a shop as instants: a day begins and ends where the units are."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.stock.locations import common_zone
from triptych.catalog.stock.timing import zone_of


def day_between(
    session: Session, column: Any, first: date, last: date | None = None, zone: str | None = None
) -> list[sa.ColumnElement[bool]]:
    """Give the conditions that an instant is of a day, or of several, in a time zone; that of all locations if None."""
    there = zone_of(zone or common_zone(session))
    start = datetime.combine(first, time(), there)
    end = datetime.combine((last or first) + timedelta(days=1), time(), there)
    return [column >= start, column < end]
