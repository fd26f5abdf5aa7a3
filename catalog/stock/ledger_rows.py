"""Rows that lines of the ledger hang on, made where there are none yet: locations and jobs, whoever else makes them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import Job, Location
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.stock.job_names import JOB, NAMED_JOB, whole_job


def insert_once(session: Session, table: type[Any], values: list[dict[str, Any]]) -> None:
    """Add rows, but those whose key is there already."""
    insert: Callable[..., Any] = postgresql.insert if on_server(session) else sqlite.insert
    session.execute(insert(table).on_conflict_do_nothing(), values)


def location_id(session: Session, name: str) -> int:
    """Give the number of a location, and make it in UTC where there is none yet."""
    return int(_kept(session, Location, _LOCATION, name, {"zone": "UTC"})[0])


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
    return job_kept(session, name)[0]


def job_kept(session: Session, name: str) -> tuple[int, str]:
    """Give the number of a job and its name as it is kept, and make it where there is none yet."""
    number, kept = _kept(session, Job, _JOB, name, {})
    return int(number), str(kept)


_LOCATION: Final = sa.select(Location.id, Location.name).where(Location.name_key == sa.bindparam("key"))
_JOB: Final = (
    sa.select(JOB.id, JOB.name).join(NAMED_JOB, JOB.id == whole_job()).where(NAMED_JOB.name_key == sa.bindparam("key"))
)


def _kept(
    session: Session, table: type[Any], query: sa.Select[int, str], name: str, beside: dict[str, str]
) -> sa.Row[int, str]:
    key = rows.name_key(name)
    found = session.connection().execute(query, {"key": key}).first()
    if found is None:
        insert_once(session, table, [{"name": " ".join(name.split()), "name_key": key, **beside}])
        found = session.connection().execute(query, {"key": key}).one()
    return found
