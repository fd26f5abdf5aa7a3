"""Proof that names are found under what they are called, and that what is lent is kept for whom it was lent to."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import (
    Family,
    Holding,
    Job,
    Location,
    Maker,
    Movement,
    MovementKind,
    Series,
    Supplier,
)
from triptych.catalog.stock.job_names import JOB, whole_job, with_job
from triptych.catalog.stock.proof_lines import Finding, Tally

_NAMED: Final[tuple[Any, ...]] = (Family, Job, Location, Maker, Series, Supplier)


def found_by_name(session: Session) -> Finding:
    """Find names that are compared by another key than theirs, so that nobody finds them."""
    tally = Tally("each name is found under what it is called")
    for table in _NAMED:
        for number, name, key in session.execute(sa.select(table.id, table.name, table.name_key).order_by(table.id)):
            tally.see(key == rows.name_key(name), f"{table.__tablename__} {number} {name!r}: {key!r}")
    finishes = sa.select(Holding.id, Holding.finish, Holding.finish_key).order_by(Holding.id)
    for number, finish, key in session.execute(finishes):
        tally.see(key == rows.name_key(finish), f"holding {number}, finish {finish!r}: {key!r}")
    return tally.finding()


def lent(session: Session) -> Finding:
    """Find places of loans at which nothing was ever kept for their job."""
    tally = Tally("what is lent is kept for whom it was lent to")
    query = sa.select(Location.id, Location.name, whole_job(Job)).join(Job, Job.id == Location.loan_job_id)
    promised = with_job(
        sa.select(Holding.location_id, JOB.id)
        .select_from(Movement)
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Movement.kind == MovementKind.RESERVE)
        .distinct(),
        Movement.job_id,
    )
    kept = {(place, job) for place, job in session.execute(promised)}
    for number, name, job in session.execute(query.order_by(Location.id)):
        tally.see((number, job) in kept, f"location {number} {name!r}: nothing was kept there for job {job}")
    return tally.finding()
