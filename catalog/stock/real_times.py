"""Whether an instant or a day that stands in a table is one: somebody may have gone past the guards."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

_INSTANT: Final = {
    "sqlite": (
        "({0} IS strftime('%Y-%m-%d %H:%M:%S', substr({0}, 1, 19), '+0 days') || substr({0}, 20)"
        " AND substr({0}, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'"
        " AND {0} >= '0001-01-02' AND {0} < '9999-12-31')"
    ),
    "postgresql": "({0} >= '0001-01-02 00:00:00+00' AND {0} < '9999-12-31 00:00:00+00')",
}
_DAY: Final = {
    "sqlite": "({0} IS date({0}, '+0 days') AND {0} BETWEEN '0001-01-01' AND '9999-12-31')",
    "postgresql": "({0} BETWEEN '0001-01-01' AND '9999-12-31')",
}
"""As the guards take them: what reads as an instant or day in Python, in any time zone."""


def is_real(session: Session, column: sa.Column[Any]) -> sa.ColumnElement[bool]:
    """Give the condition that an instant or a day is a real one."""
    form = _DAY if isinstance(column.type, sa.Date) else _INSTANT
    return sa.literal_column(form[session.get_bind().dialect.name].format(f"{column.table}.{column.name}"), sa.Boolean)


def if_real(session: Session, table: type[Any], name: str) -> sa.ColumnElement[Any]:
    """Give an instant or a day of a table, and NULL where it is none, which could not be read."""
    column = table.__table__.columns[name]
    return sa.case((is_real(session, column), column))
