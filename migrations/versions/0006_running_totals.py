"""The ledger with running totals: holdings, each line of one following the last, and what is left of reservations."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa
from alembic import context, op

from triptych.migrations.guards import postgresql

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_INTO: Final = "('receive', 'return', 'transfer_in', 'regrade_in', 'split_in', 'count')"
_OUT_OF: Final = "('sell', 'transfer_out', 'regrade_out', 'split_pair', 'write_off')"


def upgrade() -> None:
    op.execute("CREATE TABLE movement_0004 AS SELECT * FROM movement")
    op.drop_table("movement")
    _holding()
    _movement()
    _reservation()
    _carry_over()
    op.drop_table("movement_0004")


def _spelt(text: str) -> str:
    from triptych.catalog.database.rows import name_key

    return name_key(text)


def _spellings() -> None:
    """Lay beside each name in the old ledger the key that it is compared by."""
    op.create_table("spelling_0004", sa.Column("name", sa.String()), sa.Column("key", sa.String()))
    names = " UNION ".join(f"SELECT {column} AS name FROM movement_0004" for column in ("location", "job", "finish"))
    if context.is_offline_mode():
        op.execute(
            f"INSERT INTO spelling_0004 SELECT name, lower(trim(name)) FROM ({names}) AS n WHERE name IS NOT NULL"
        )
        return
    found = op.get_bind().execute(sa.text(names)).scalars().all()
    rows = [{"name": name, "key": _spelt(name) or name} for name in found if name is not None]
    table = sa.table("spelling_0004", sa.column("name"), sa.column("key"))
    if rows:
        op.bulk_insert(table, rows)


_PACK: Final = """
CREATE TABLE pack_0004 AS
SELECT m.loudspeaker_id, l.key AS location_key, m.grade, COALESCE(f.key, '') AS finish_key, MIN(m.finish) AS finish,
  CASE WHEN MAX(CASE WHEN s.sold_as = 'pair' THEN 1 ELSE 0 END) = 1
    AND MAX(ABS(m.quantity) % 2) = 0 AND COUNT(m.serial) = 0 THEN 2 ELSE 1 END AS pack
FROM movement_0004 m
JOIN loudspeaker s ON s.id = m.loudspeaker_id
JOIN spelling_0004 l ON l.name = m.location
LEFT JOIN spelling_0004 f ON f.name = m.finish
GROUP BY m.loudspeaker_id, l.key, m.grade, COALESCE(f.key, '')
"""

_HOLDINGS: Final = """
INSERT INTO holding (loudspeaker_id, location_id, grade, pack, finish, finish_key)
SELECT p.loudspeaker_id, l.id, p.grade, p.pack, p.finish, p.finish_key
FROM pack_0004 p JOIN location l ON l.name_key = p.location_key
ORDER BY 1, 2, 3, 6
"""

_MOVEMENTS: Final = f"""
INSERT INTO movement (id, loudspeaker_id, holding_id, sequence, kind, quantity, effect, on_hand, tracked, job_id, until,
  reservation_id, serial, serial_sequence, at, note)
SELECT e.id, e.loudspeaker_id, e.holding_id,
  ROW_NUMBER() OVER (PARTITION BY e.holding_id ORDER BY e.id), e.kind, e.quantity, e.effect,
  SUM(e.effect) OVER (PARTITION BY e.holding_id ORDER BY e.id),
  SUM(CASE WHEN e.serial IS NULL THEN 0 ELSE e.effect END) OVER (PARTITION BY e.holding_id ORDER BY e.id),
  e.job_id, e.until, e.reservation_id, e.serial,
  CASE WHEN e.serial IS NULL THEN NULL
    ELSE ROW_NUMBER() OVER (PARTITION BY e.loudspeaker_id, e.serial ORDER BY e.id) END,
  e.at, e.note
FROM (
  SELECT m.id, m.loudspeaker_id, h.id AS holding_id, m.kind, m.quantity, m.reservation_id, m.serial, m.at, m.note,
    j.id AS job_id, {{until}} AS until,
    CASE WHEN m.kind IN {_INTO} THEN m.quantity WHEN m.kind IN {_OUT_OF} THEN -m.quantity ELSE 0 END AS effect
  FROM movement_0004 m
  JOIN spelling_0004 ls ON ls.name = m.location
  JOIN location l ON l.name_key = ls.key
  LEFT JOIN spelling_0004 f ON f.name = m.finish
  JOIN holding h ON h.loudspeaker_id = m.loudspeaker_id AND h.location_id = l.id AND h.grade = m.grade
    AND h.finish_key = COALESCE(f.key, '')
  LEFT JOIN spelling_0004 js ON js.name = m.job
  LEFT JOIN job j ON j.name_key = js.key
) AS e
ORDER BY e.id
"""

_RESERVATIONS: Final = """
INSERT INTO reservation (movement_id, holding_id, until, rest, serial)
SELECT m.id, m.holding_id, m.until,
  m.quantity - COALESCE((SELECT SUM(e.quantity) FROM movement e WHERE e.reservation_id = m.id), 0), m.serial
FROM movement m WHERE m.kind = 'reserve'
"""


def _carry_over() -> None:
    """Bring the old lines over, with their numbers; a day until which one held ends at midnight UTC."""
    _spellings()
    for table, column, zone in (("location", "location", ", zone"), ("job", "job", "")):
        utc = ", 'UTC'" if zone else ""
        op.execute(
            f"INSERT INTO {table} (name, name_key{zone}) SELECT MIN(s.name), s.key{utc} FROM spelling_0004 s"
            f" WHERE s.name IN (SELECT {column} FROM movement_0004) GROUP BY s.key ORDER BY s.key"
        )
    op.execute(_PACK)
    op.execute(_HOLDINGS)
    if postgresql():
        until = "CASE WHEN m.kind = 'reserve' THEN (m.until + 1)::timestamp AT TIME ZONE 'UTC' END"
    else:
        until = "CASE WHEN m.kind = 'reserve' THEN date(m.until, '+1 day') || ' 00:00:00.000000' END"
    op.execute(_MOVEMENTS.format(until=until))
    op.execute(_RESERVATIONS)
    if postgresql():
        op.execute(
            "SELECT setval(pg_get_serial_sequence('movement', 'id'), GREATEST((SELECT MAX(id) FROM movement), 1))"
        )
    op.drop_table("pack_0004")
    op.drop_table("spelling_0004")


def _holding() -> None:
    op.create_table(
        "holding",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("location_id", sa.Integer(), nullable=False),
        sa.Column(
            "grade",
            sa.Enum(
                "new",
                "open_box",
                "b_stock",
                "demo",
                "quarantine",
                name="grade",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("pack", sa.Integer(), nullable=False),
        sa.Column("finish", sa.String(), nullable=True),
        sa.Column("finish_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.CheckConstraint("(finish IS NULL) = (finish_key = '')", name=op.f("ck_holding_finish_whole")),
        sa.CheckConstraint("pack IN (1, 2)", name=op.f("ck_holding_pack_of_one_or_two")),
        sa.ForeignKeyConstraint(["location_id"], ["location.id"], name=op.f("fk_holding_location_id")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_holding_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_holding")),
        sa.UniqueConstraint("id", "loudspeaker_id", name=op.f("uq_holding_id_loudspeaker_id")),
        sa.UniqueConstraint(
            "loudspeaker_id",
            "location_id",
            "grade",
            "pack",
            "finish_key",
            name=op.f("uq_holding_loudspeaker_id_location_id_grade_pack_finish_key"),
        ),
        sqlite_strict=True,
    )


def _movement() -> None:
    op.create_table(
        "movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("holding_id", sa.Integer(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "receive",
                "reserve",
                "release",
                "sell",
                "return",
                "transfer_out",
                "transfer_in",
                "count",
                "regrade_out",
                "regrade_in",
                "split_pair",
                "split_in",
                "write_off",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("effect", sa.Integer(), nullable=False),
        sa.Column("on_hand", sa.Integer(), nullable=False),
        sa.Column("tracked", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reservation_id", sa.Integer(), nullable=True),
        sa.Column("from_id", sa.Integer(), nullable=True),
        sa.Column("to_holding_id", sa.Integer(), nullable=True),
        sa.Column("order_id", sa.Integer(), nullable=True),
        sa.Column("quote_id", sa.Integer(), nullable=True),
        sa.Column("serial", sa.String(), nullable=True),
        sa.Column("serial_sequence", sa.Integer(), nullable=True),
        sa.Column("amount", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint(
            f"effect = CASE WHEN kind IN {_INTO} THEN quantity WHEN kind IN {_OUT_OF} THEN -quantity ELSE 0 END",
            name=op.f("ck_movement_effect_of_kind"),
        ),
        sa.CheckConstraint(
            "kind <> 'release' OR reservation_id IS NOT NULL", name=op.f("ck_movement_release_of_a_reservation")
        ),
        sa.CheckConstraint(
            "kind <> 'reserve' OR (job_id IS NOT NULL AND until IS NOT NULL)",
            name=op.f("ck_movement_reserve_for_a_job"),
        ),
        sa.CheckConstraint(
            "quantity > 0 OR (kind = 'count' AND quantity <> 0)", name=op.f("ck_movement_quantity_counts")
        ),
        sa.CheckConstraint(
            "reservation_id IS NULL OR kind IN ('release', 'sell')", name=op.f("ck_movement_reservation_ends")
        ),
        sa.CheckConstraint("serial <> ''", name=op.f("ck_movement_serial_named")),
        sa.CheckConstraint("until IS NULL OR kind = 'reserve'", name=op.f("ck_movement_until_of_a_reservation")),
        sa.CheckConstraint("(serial IS NULL) = (serial_sequence IS NULL)", name=op.f("ck_movement_serial_whole")),
        sa.CheckConstraint(
            "amount IS NULL OR (amount >= 0 AND currency IS NOT NULL)", name=op.f("ck_movement_amount_in_a_currency")
        ),
        sa.CheckConstraint("on_hand >= 0", name=op.f("ck_movement_on_hand_not_negative")),
        sa.CheckConstraint("sequence >= 1", name=op.f("ck_movement_sequence_from_one")),
        sa.CheckConstraint("tracked >= 0 AND tracked <= on_hand", name=op.f("ck_movement_tracked_on_hand")),
        sa.ForeignKeyConstraint(["from_id"], ["movement.id"], name=op.f("fk_movement_from_id")),
        sa.ForeignKeyConstraint(
            ["holding_id", "loudspeaker_id"],
            ["holding.id", "holding.loudspeaker_id"],
            name=op.f("fk_movement_holding_id_loudspeaker_id"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_movement_job_id")),
        sa.ForeignKeyConstraint(["order_id"], ["supply_order.id"], name=op.f("fk_movement_order_id")),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_movement_quote_id")),
        sa.ForeignKeyConstraint(["reservation_id"], ["movement.id"], name=op.f("fk_movement_reservation_id")),
        sa.ForeignKeyConstraint(["to_holding_id"], ["holding.id"], name=op.f("fk_movement_to_holding_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sa.UniqueConstraint("holding_id", "sequence", name=op.f("uq_movement_holding_id_sequence")),
        sqlite_strict=True,
    )
    # only of lines that have them, which few do: each index that a line is in makes it slower to write
    for column in ("from_id", "order_id", "quote_id", "reservation_id"):
        where = sa.text(f"{column} IS NOT NULL")
        op.create_index(f"ix_movement_{column}", "movement", [column], sqlite_where=where, postgresql_where=where)
    op.create_index(
        "uq_movement_serial",
        "movement",
        ["loudspeaker_id", "serial", "serial_sequence"],
        unique=True,
        sqlite_where=sa.text("serial IS NOT NULL"),
        postgresql_where=sa.text("serial IS NOT NULL"),
    )


def _reservation() -> None:
    op.create_table(
        "reservation",
        sa.Column("movement_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("holding_id", sa.Integer(), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rest", sa.Integer(), nullable=False),
        sa.Column("serial", sa.String(), nullable=True),
        sa.CheckConstraint("rest >= 0", name=op.f("ck_reservation_rest_not_negative")),
        sa.ForeignKeyConstraint(["holding_id"], ["holding.id"], name=op.f("fk_reservation_holding_id")),
        sa.ForeignKeyConstraint(["movement_id"], ["movement.id"], name=op.f("fk_reservation_movement_id")),
        sa.PrimaryKeyConstraint("movement_id", name=op.f("pk_reservation")),
        sqlite_strict=True,
    )

    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.create_index(
            "ix_reservation_live",
            ["holding_id", "until"],
            unique=False,
            sqlite_where=sa.text("rest > 0"),
            postgresql_where=sa.text("rest > 0"),
        )


_BACK: Final = """
INSERT INTO movement (id, loudspeaker_id, finish, grade, location, kind, quantity, job, until, reservation_id, serial,
  at, note)
SELECT m.id, m.loudspeaker_id, h.finish, h.grade, l.name, m.kind, m.quantity, j.name, {until}, m.reservation_id,
  m.serial, m.at, m.note
FROM movement_0006 m JOIN holding h ON h.id = m.holding_id JOIN location l ON l.id = h.location_id
LEFT JOIN job j ON j.id = m.job_id ORDER BY m.id
"""


def downgrade() -> None:
    op.execute("CREATE TABLE movement_0006 AS SELECT * FROM movement")
    op.drop_table("reservation")
    op.drop_table("movement")
    _movement_0004()
    day = "(m.until - interval '1 second')::date" if postgresql() else "date(m.until, '-1 second')"
    op.execute(_BACK.format(until=day))
    if postgresql():
        op.execute(
            "SELECT setval(pg_get_serial_sequence('movement', 'id'), GREATEST((SELECT MAX(id) FROM movement), 1))"
        )
    op.drop_table("movement_0006")
    op.drop_table("holding")


def _movement_0004() -> None:
    op.create_table(
        "movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("finish", sa.String(), nullable=True),
        sa.Column(
            "grade",
            sa.Enum(
                "new", "open_box", "b_stock", "demo", name="grade", native_enum=False, create_constraint=True, length=32
            ),
            nullable=False,
        ),
        sa.Column("location", sa.String(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "receive",
                "reserve",
                "release",
                "sell",
                "return",
                "transfer_out",
                "transfer_in",
                "count",
                "regrade_out",
                "regrade_in",
                "split_pair",
                "write_off",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(), nullable=True),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("reservation_id", sa.Integer(), nullable=True),
        sa.Column("serial", sa.String(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint(
            "kind <> 'release' OR reservation_id IS NOT NULL", name=op.f("ck_movement_release_of_a_reservation")
        ),
        sa.CheckConstraint(
            "kind <> 'reserve' OR (job IS NOT NULL AND until IS NOT NULL)", name=op.f("ck_movement_reserve_for_a_job")
        ),
        sa.CheckConstraint("location <> ''", name=op.f("ck_movement_located")),
        sa.CheckConstraint(
            "quantity > 0 OR (kind = 'count' AND quantity <> 0)", name=op.f("ck_movement_quantity_counts")
        ),
        sa.CheckConstraint(
            "reservation_id IS NULL OR kind IN ('release', 'sell')", name=op.f("ck_movement_reservation_ends")
        ),
        sa.CheckConstraint("serial IS NULL OR quantity IN (-1, 1)", name=op.f("ck_movement_serial_of_one")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_movement_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["reservation_id"], ["movement.id"], name=op.f("fk_movement_reservation_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_loudspeaker_id"), ["loudspeaker_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_reservation_id"), ["reservation_id"], unique=False)
