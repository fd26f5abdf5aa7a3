"""Jobs made, renamed and made one."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Job
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.names import clean_name
from triptych.catalog.stock.job_names import job_named, parts_of
from triptych.catalog.stock.movement_lines import refuse_text


def new_job(session: Session, name: str) -> str:
    """Make a job, and give its name as it is kept.

    Raises
    ------
    BadInput
        The name is blank or has what does not show, or is a job's already.
    """
    kept = _free_name(session, name)
    session.add(Job(name=kept, name_key=rows.name_key(kept)))
    return kept


def _free_name(session: Session, name: str, number: int = 0) -> str:
    """Give a name for a job as it is kept; that of the number may have it."""
    refuse_text("the job's name", name)
    kept = clean_name(name)
    key = rows.name_key(kept)
    if not key:
        raise BadInput("the new name is blank")
    other = session.scalar(sa.select(Job.name).where(Job.name_key == key, Job.id != number))
    if other is None:
        return kept
    mend = "make them one with triptych job merge; nothing was changed" if number else "nothing was changed"
    raise BadInput(f"{'another' if number else 'a'} job is named {other!r}{'' if number else ' already'}: {mend}")


def rename_job(session: Session, name: str, new: str) -> str:
    """Give a job another name; the ledger's lines stay with it. Give the name as it is kept.

    Raises
    ------
    BadInput
        The name is blank or has what does not show, or is another job's.
    NotFound
        No job has the old name; the nearest is told.
    """
    number = job_named(session, name)
    kept = _free_name(session, new, number)
    session.execute(sa.update(Job).where(Job.id == number).values(name=kept, name_key=rows.name_key(kept)))
    return kept


def merge_jobs(session: Session, name: str, into: str) -> str:
    """Let all that was written for one job count for another, under whose name it is told from now on; give that name.

    Raises
    ------
    NotFound
        One of them is not there; the nearest is told.
    Refused
        They are one already.
    """
    goes, stays = job_named(session, name), job_named(session, into)
    if goes == stays:
        raise Refused(f"{name!r} and {into!r} are one job already; nothing was changed")
    # what was merged into the one that goes is of the other now, before that one goes itself
    for number in sorted(set(session.scalars(parts_of(goes))) - {goes}):
        session.execute(sa.update(Job).where(Job.id == number).values(merged_into_id=stays))
    session.execute(sa.update(Job).where(Job.id == goes).values(merged_into_id=stays))
    return session.get_one(Job, stays).name
