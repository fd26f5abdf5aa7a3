"""What files of a kind call our columns, kept for the next file, whoever sends it."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import FileColumn


def kept_columns(session: Session, kind: str) -> dict[str, str]:
    """Give what files of a kind called our columns: ours by theirs."""
    query = sa.select(FileColumn.theirs, FileColumn.ours).where(FileColumn.kind == kind)
    return {row[0]: row[1] for row in session.execute(query.order_by(FileColumn.theirs_key))}


def keep_columns(session: Session, kind: str, ours_by_theirs: Mapping[str, str]) -> None:
    """Keep what a file called our columns; what is named anew goes in the place of what was."""
    for theirs, ours in ours_by_theirs.items():
        if not ours:
            continue
        rows.refuse_unstorable("the file's column", theirs)
        key = rows.name_key(theirs)
        session.execute(sa.delete(FileColumn).where(FileColumn.kind == kind, FileColumn.theirs_key == key))
        session.execute(sa.insert(FileColumn).values(kind=kind, theirs_key=key, theirs=theirs, ours=ours))
