"""Where the figures of a loudspeaker come from, in one row of its own: a row a figure was most of an import."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any

import sqlalchemy as sa
from alembic import op

from triptych.migrations.base import TABLES
from triptych.migrations.base.kinds import JSON

revision = "0024"
down_revision = "0022"
branch_labels = None
depends_on = None

_AT_ONCE = 1_000
"""How many loudspeakers are read at a time."""

_NEW = sa.table("provenance", sa.column("loudspeaker_id"), sa.column("said", sa.JSON()))
_OLD = TABLES.tables["figure"]
_SOURCE = TABLES.tables["source"]
_CURVE = TABLES.tables["curve"]


def upgrade() -> None:
    op.create_table(
        "provenance",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("said", JSON, nullable=False),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name="fk_provenance_loudspeaker_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("loudspeaker_id", name="pk_provenance"),
        sqlite_strict=True,
    )
    # what is printed is for a database without lines
    if not op.get_context().as_sql:
        for rows in _chunks(_OLD):
            found = groupby(rows, lambda row: row.loudspeaker_id)
            op.bulk_insert(_NEW, [{"loudspeaker_id": number, "said": _said(figures)} for number, figures in found])
    op.drop_table("figure")
    # a source that no curve names is no longer anybody's
    op.execute(_SOURCE.delete().where(_SOURCE.c.id.not_in(sa.select(_CURVE.c.source_id))))


def _chunks(table: sa.Table | sa.TableClause) -> Iterator[list[Any]]:
    """The rows of a table, those of some loudspeakers at a time."""
    connection, after = op.get_bind(), 0
    while True:
        some = sa.select(table.c.loudspeaker_id).distinct().where(table.c.loudspeaker_id > after)
        numbers = connection.scalars(some.order_by(table.c.loudspeaker_id).limit(_AT_ONCE)).all()
        if not numbers:
            return
        wanted = table.c.loudspeaker_id.between(numbers[0], numbers[-1])
        yield list(connection.execute(_figures(wanted) if table is _OLD else sa.select(table).where(wanted)))
        after = numbers[-1]


def _figures(wanted: sa.ColumnElement[bool]) -> sa.Select[Any]:
    query = sa.select(_OLD, _SOURCE.c.name.label("source")).join(_SOURCE, _SOURCE.c.id == _OLD.c.source_id)
    return query.where(wanted).order_by(_OLD.c.loudspeaker_id, _OLD.c.quantity)


def _said(figures: Iterable[Any]) -> dict[str, dict[str, Any]]:
    """What is said of each figure by where it comes from: its text alone where it is stated without flags."""
    said: dict[str, dict[str, Any]] = {}
    for row in figures:
        flags = json.loads(row.flags) if isinstance(row.flags, str) else row.flags
        plain = row.evidence == "stated" and not flags
        said.setdefault(row.source, {})[row.quantity] = row.raw if plain else [row.raw, row.evidence, flags]
    return said


def downgrade() -> None:
    op.execute(sa.schema.CreateTable(_OLD))
    for rows in () if op.get_context().as_sql else _chunks(_NEW):
        numbers = _source_numbers({source for row in rows for source in row.said})
        bases = _bases([row.loudspeaker_id for row in rows])
        op.bulk_insert(
            _OLD,
            [
                {
                    "loudspeaker_id": row.loudspeaker_id,
                    "quantity": quantity,
                    "source_id": numbers[source],
                    "basis": bases[row.loudspeaker_id].get(quantity),
                    **_columns(one),
                }
                for row in rows
                for source, said in row.said.items()
                for quantity, one in said.items()
            ],
        )
    op.drop_table("provenance")


def _columns(one: str | list[Any]) -> dict[str, Any]:
    raw, evidence, flags = (one, "stated", []) if isinstance(one, str) else one
    text = op.get_context().dialect.name == "sqlite"
    return {"raw": raw, "evidence": evidence, "flags": json.dumps(flags) if text else flags}


def _source_numbers(names: set[str]) -> dict[str, int]:
    connection = op.get_bind()
    found = sa.select(_SOURCE.c.name, _SOURCE.c.id)
    there = set(connection.scalars(sa.select(_SOURCE.c.name)))
    op.bulk_insert(_SOURCE, [{"name": name} for name in sorted(names - there)])
    return {row.name: row.id for row in connection.execute(found)}


def _bases(numbers: list[int]) -> Mapping[int, Mapping[str, str]]:
    """The condition that each figure holds under, which other columns say."""
    loudspeaker, price = (TABLES.tables[name] for name in ("loudspeaker", "price"))
    said = ("sensitivity_basis", "low_limit_drop", "orientation")
    query = sa.select(loudspeaker.c.id, *(loudspeaker.c[name] for name in said), price.c.per)
    priced = sa.and_(price.c.loudspeaker_id == loudspeaker.c.id, price.c.valid_to.is_(None))
    query = query.outerjoin(price, priced).where(loudspeaker.c.id.between(numbers[0], numbers[-1]))
    return {number: _basis(*row) for number, *row in op.get_bind().execute(query)}


def _basis(sensitivity: str | None, drop: float | None, orientation: str | None, per: str | None) -> dict[str, str]:
    found = {"sensitivity": sensitivity, "low_limit": None if drop is None else f"-{drop:g} dB", "price": per}
    found |= dict.fromkeys(("width", "height", "axis_height"), orientation)
    return {name: basis for name, basis in found.items() if basis is not None}
