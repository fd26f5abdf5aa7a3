"""Rows that lines of the ledger hang on, made where there are none yet: locations and jobs, whoever else makes them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Job, Location
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.stock.job_names import whole_job


def insert_once(session: Session, table: type[Any], values: list[dict[str, Any]]) -> None:
    """Add rows, but those whose key is there already."""
    insert: Callable[..., Any] = postgresql.insert if on_server(session) else sqlite.insert
    session.execute(insert(table).on_conflict_do_nothing(), values)


def location_id(session: Session, name: str) -> int:
    """Give the number of a location, and make it in UTC where there is none yet."""
    return _number(session, Location, name, {"zone": "UTC"})


def job_id(session: Session, name: str) -> int:
    """Give the number of a job, and make it where there is none yet."""
    return _number(session, Job, name, {})


def _number(session: Session, table: type[Location] | type[Job], name: str, beside: dict[str, str]) -> int:
    key = rows.name_key(name)
    number = whole_job(Job) if table is Job else table.id
    query = sa.select(number).where(table.name_key == key)
    found = session.scalar(query)
    if found is None:
        insert_once(session, table, [{"name": " ".join(name.split()), "name_key": key, **beside}])
        found = session.scalars(query).one()
    return found
