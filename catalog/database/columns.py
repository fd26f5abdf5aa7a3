"""Queries read into columns, the driver's own values, without an object for each row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

ROWS_AT_ONCE: Final = 200
"""How many rows are read at a time: what a few hundred hold stays in a core's own cache until it is an array."""

Columns = dict[str, list[Any]]


def parts_of(session: Session, query: sa.Select[*tuple[Any, ...]]) -> Iterator[Iterator[tuple[Any, ...]]]:
    """Read a query a few rows at a time, and give the columns of those: enums as text, nothing converted.

    Wrapping 70,000 rows costs as much as reading them; and while few tuples live at once, the collector of cycles,
    which would walk through everything the process has imported, is not woken.
    """
    with session.connection().execute(query) as result:
        cursor: Any = result.cursor
        while part := cursor.fetchmany(ROWS_AT_ONCE):
            yield zip(*part, strict=True)


def read_columns(session: Session, names: Sequence[str], query: sa.Select[*tuple[Any, ...]]) -> Columns:
    """Read a query into columns, one list each."""
    columns: list[list[Any]] = [[] for _ in names]
    for part in parts_of(session, query):
        for column, values in zip(columns, part, strict=True):
            column.extend(values)
    return dict(zip(names, columns, strict=True))
