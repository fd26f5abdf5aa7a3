"""Many rows into one table, by the driver itself: a statement is made once, and each value as its column stores it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Base

_MARKS: Final = {"qmark": "?", "format": "%s", "pyformat": "%s"}


def insert_rows(session: Session, table: type[Base], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Insert rows whose values stand in the order of the columns named; SQL NULL is None."""
    connection = session.connection()
    columns: list[Any] = [table.__table__.columns[name] for name in names]
    values = list(zip(*rows, strict=True))
    if not values:
        return
    stored = [_stored(column, connection.dialect, found) for column, found in zip(columns, values, strict=True)]
    flat = list(chain.from_iterable(zip(*stored, strict=True)))
    for count, statements in in_statements(flat, len(columns)):
        connection.exec_driver_sql(_statement(table, columns, connection.dialect, count), statements)


def in_statements(flat: Sequence[Any], width: int) -> Iterator[tuple[int, list[tuple[Any, ...]]]]:
    """Give values that stand row after row as statements take them: how many rows each takes, and what each gets."""
    together = max(1, _VALUES // width)
    whole = len(flat) - len(flat) % (together * width)
    for count, part in ((together, flat[:whole]), ((len(flat) - whole) // width, flat[whole:])):
        if part:
            size = count * width
            yield count, [tuple(part[start : start + size]) for start in range(0, len(part), size)]


_VALUES: Final = 350
"""How many values go into one statement: a row alone costs twice as much, and many more at once no less. Tried."""


def _statement(table: type[Base], columns: Sequence[Any], dialect: sa.Dialect, count: int) -> str:
    quoted = dialect.identifier_preparer
    named = ", ".join(quoted.format_column(column) for column in columns)
    marks = f"({', '.join([_MARKS[dialect.paramstyle]] * len(columns))})"
    return f"INSERT INTO {quoted.format_table(table.__table__)} ({named}) VALUES {', '.join([marks] * count)}"


def _stored(column: Any, dialect: sa.Dialect, values: Sequence[Any]) -> Sequence[Any]:
    """The values of a column as the driver takes them; JSON is written already."""
    if isinstance(column.type, sa.Enum):  # all are stored by value
        return [None if value is None else value._value_ for value in values]
    store = column.type.dialect_impl(dialect).bind_processor(dialect)
    if store is None or isinstance(column.type, sa.Double | sa.Boolean | sa.JSON):
        return values
    # days and flags are few, however many rows there are
    known = {value: None if value is None else store(value) for value in set(values)}
    return list(map(known.__getitem__, values))
