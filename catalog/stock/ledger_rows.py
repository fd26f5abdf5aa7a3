"""Rows that lines of the ledger hang on, made where there are none yet: locations and jobs, whoever else makes them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
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


def location_ids(session: Session, names: Mapping[str, str]) -> dict[str, int]:
    """Give the numbers of locations by their keys, and make those that are not there yet, always in one order."""
    keys, found = sorted(names), dict[str, int]()
    for part in reads.chunks(keys):
        query = sa.select(Location.name_key, Location.id).where(Location.name_key.in_(part))
        there = {row[0]: row[1] for row in session.execute(query)}
        missing = [key for key in part if key not in there]
        if missing:
            made = [{"name": " ".join(names[key].split()), "name_key": key, "zone": "UTC"} for key in missing]
            insert_once(session, Location, made)
            there = {row[0]: row[1] for row in session.execute(query)}
        found |= there
    return found


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
