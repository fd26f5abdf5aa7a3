"""Jobs by their names: what was written for one that was made another's counts for that one."""

from __future__ import annotations

from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.models import Job
from triptych.catalog.errors import NotFound
from triptych.catalog.problems import nearest

Query = TypeVar("Query", bound="sa.Select[*tuple[Any, ...]]")

NAMED_JOB: Final = aliased(Job)
"""The job that a row speaks of."""

JOB: Final = aliased(Job)
"""The job that it counts for: the same, or the one that it was made a part of."""


def whole_job(job: Any = NAMED_JOB) -> sa.ColumnElement[int]:
    """Give the number of the job that one counts for."""
    return sa.func.coalesce(job.merged_into_id, job.id)


def with_job(query: Query, on: Any, *, outer: bool = False) -> Query:
    """Join to a query the `JOB` that counts, where `on` is the number of the job that a row speaks of."""
    query = query.join(NAMED_JOB, NAMED_JOB.id == on, isouter=outer)
    return query.join(JOB, JOB.id == whole_job(), isouter=outer)


def parts_of(job: Any) -> sa.Select[int]:
    """Give the query of the numbers under which lines of a job were written; `job` is the one that counts."""
    return sa.select(Job.id).where(whole_job(Job) == job)


def job_named(session: Session, name: str) -> int:
    """Give the number of the job that a name counts for.

    Raises
    ------
    NotFound
        None has it; the nearest is told.
    """
    found = session.scalar(sa.select(whole_job(Job)).where(Job.name_key == rows.name_key(name)))
    if found is None:
        known = list(session.scalars(sa.select(Job.name).order_by(Job.name_key)))
        raise NotFound(f"no job is named {name!r}; {nearest(name, known) if known else 'there is none yet'}")
    return found


def job_of(session: Session, number: int) -> tuple[int, str]:
    """Give the number and the name of the job that one counts for."""
    query = sa.select(JOB.id, JOB.name).join(NAMED_JOB, JOB.id == whole_job()).where(NAMED_JOB.id == number)
    counted, name = session.execute(query).one()
    return counted, name
