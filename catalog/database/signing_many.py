"""Signatures of many loudspeakers and prices that are added to a SQLite file, written whole once all of them are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain
from typing import Any, Final

from triptych.catalog.database.bulk import in_statements
from triptych.catalog.database.signing import digest_in_file, row_digest, whoever

_TABLES: Final = ("loudspeaker", "price")
_AT_ONCE: Final = 5_000
_TRIGGERS: Final = """
SELECT name, tbl_name, sql FROM main.sqlite_master
WHERE type = 'trigger' AND (name IN ('loudspeaker_signs_made', 'price_signs_made') OR tbl_name = 'signature')
"""
_TOLD: Final = ("at", "subject", "number", "deed", "said", "was", "becomes")
_SIGNS: Final = re.compile(
    r"CREATE TRIGGER \w+ AFTER INSERT ON \w+ BEGIN\s+"
    rf"INSERT INTO signature \({', '.join(_TOLD)}\)\s+VALUES \(([^;]*)\);\s*END",
)


@contextmanager
def made_together(driver: Any) -> Iterator[None]:
    """Sign loudspeakers and prices that are added once all of them are; inside a savepoint that ends it.

    Row by row triggers write a signature each, five others look at it, and then it is written again with its digest.
    They are away meanwhile, and made again as they were; what a signature says is what the trigger's own text says.
    """
    found = driver.execute(_TRIGGERS).fetchall()
    signs = {table: told for _, table, sql in found if table in _TABLES and (told := _SIGNS.fullmatch(sql))}
    if set(signs) != set(_TABLES):  # somebody has taken one away or made it anew: `stock check` tells of it
        yield
        return
    away = [(name, sql) for name, table, sql in found if table in _TABLES or " INSERT ON signature" in sql]
    newest = {table: _newest(driver, table) for table in _TABLES}
    for name, _ in away:
        driver.execute(f"DROP TRIGGER main.{name}")
    yield
    for table, told in signs.items():
        _sign(driver, table, told[1], newest[table])
    for _, sql in away:
        driver.execute(sql)


def _newest(driver: Any, table: str) -> int:
    (number,) = driver.execute(f"SELECT coalesce(max(id), 0) FROM {table}").fetchone()
    return int(number)


def _sign(driver: Any, table: str, told: str, after: int) -> None:
    """Write the signatures of the rows of a table after one, with name and digest."""
    who = whoever()
    rows = driver.execute(f"SELECT {told.replace('NEW.', '')} FROM {table} WHERE id > ? ORDER BY id", (after,))
    while some := rows.fetchmany(_AT_ONCE):
        numbers = [row[_TOLD.index("number")] for row in some]
        latest = _latest(driver, table, min(numbers), max(numbers))
        written = []
        for id_, (*values, was, becomes) in enumerate(some, _newest(driver, "signature") + 1):
            at, subject, number, deed, said = values
            both = row_digest(was), row_digest(becomes)
            latest[number] = digest_in_file(latest.get(number), id_, at, who, subject, number, deed, said, *both)
            written.append((id_, who, latest[number], *values, *both))
        _insert(driver, ("id", "who", "digest", *_TOLD), written)


def _latest(driver: Any, subject: str, first: int, last: int) -> dict[int, str | None]:
    """The digest of the newest signature of each row of some numbers: one that is gone may have had its number."""
    query = "SELECT number, digest FROM signature WHERE subject = ? AND number BETWEEN ? AND ? ORDER BY id"
    return dict(driver.execute(query, (subject, first, last)))


def _insert(driver: Any, names: tuple[str, ...], rows: list[tuple[Any, ...]]) -> None:
    marks = f"({', '.join('?' * len(names))})"
    for count, statements in in_statements(list(chain.from_iterable(rows)), len(names)):
        values = ", ".join([marks] * count)
        driver.executemany(f"INSERT INTO signature ({', '.join(names)}) VALUES {values}", statements)
