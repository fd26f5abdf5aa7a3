"""Locations, jobs, suppliers with their prices and orders, quotes; prices of one time never overlap."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from triptych.migrations.guards import apart_in_time, changed_again, guard, never_changed, not_apart, unguard

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _places()
    _suppliers()
    _quotes()
    apart_in_time("price", "loudspeaker_id")
    apart_in_time("supplier_price", "supplier_id", "loudspeaker_id")
    guard("supply_order_current", "supply_order", "BEFORE INSERT", [_NO_BACK_ORDER])
    guard("supply_order_kept", "supply_order", "BEFORE UPDATE", [_ORDER_KEPT])
    guard(
        "supply_order_never_delete", "supply_order", "BEFORE DELETE", [("an order is cancelled, not deleted", "1 = 1")]
    )
    never_changed("quote_line", "a quote keeps its prices")
    guard("quote_forward", "quote", "BEFORE UPDATE", [_QUOTE_FORWARD, _QUOTE_KEPT])
    guard("quote_never_delete", "quote", "BEFORE DELETE", [("a quote is lapsed, not deleted", "1 = 1")])


_NO_BACK_ORDER = (
    "a model that is discontinued or last of its line is never back-ordered",
    "(SELECT status FROM loudspeaker WHERE id = NEW.loudspeaker_id) IN ('discontinued', 'last_of_line')",
)

_ORDER_KEPT = (
    "of an order only the date can change, or that it is cancelled",
    "NEW.id <> OLD.id OR NEW.loudspeaker_id <> OLD.loudspeaker_id OR NEW.supplier_id <> OLD.supplier_id"
    " OR NEW.quantity <> OLD.quantity OR OLD.cancelled_at IS NOT NULL",
)

_QUOTE_FORWARD = (
    "a quote goes from open to accepted to sold, or lapses",
    "NOT (OLD.state = 'open' AND NEW.state IN ('accepted', 'lapsed')"
    " OR OLD.state = 'accepted' AND NEW.state IN ('sold', 'lapsed'))",
)

_QUOTE_KEPT = (
    "of a quote only the state changes",
    "NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.currency <> OLD.currency"
    " OR NEW.made_at <> OLD.made_at OR NEW.until <> OLD.until",
)


def _places() -> None:
    op.create_table(
        "location",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_location_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_location")),
        sa.UniqueConstraint("name_key", name=op.f("uq_location_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_job_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("name_key", name=op.f("uq_job_name_key")),
        sqlite_strict=True,
    )


def _suppliers() -> None:
    op.create_table(
        "supplier",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("lead_time", sa.Integer(), nullable=True),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_supplier_named")),
        sa.CheckConstraint("lead_time BETWEEN 0 AND 3650", name=op.f("ck_supplier_lead_time_range")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        sa.UniqueConstraint("name_key", name=op.f("uq_supplier_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "supplier_column",
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("prices", "counts", name="kind", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column("ours", sa.String(), nullable=False),
        sa.Column("theirs", sa.String(), nullable=False),
        sa.Column("theirs_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_supplier_column_supplier_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("supplier_id", "kind", "ours", name=op.f("pk_supplier_column")),
        sa.UniqueConstraint(
            "supplier_id", "kind", "theirs_key", name=op.f("uq_supplier_column_supplier_id_kind_theirs_key")
        ),
        sqlite_strict=True,
    )

    op.create_table(
        "supplier_price",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=True),
        sa.Column("retail", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column(
            "tax",
            sa.Enum("included", "excluded", name="tax", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("tax_rate", sa.Double(), nullable=True),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_to", sa.Date(), nullable=True),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_supplier_price_cost_not_negative")),
        sa.CheckConstraint("cost IS NOT NULL OR retail IS NOT NULL", name=op.f("ck_supplier_price_priced")),
        sa.CheckConstraint(
            "length(currency) = 3 AND currency = upper(currency)", name=op.f("ck_supplier_price_currency_code")
        ),
        sa.CheckConstraint("retail >= 0", name=op.f("ck_supplier_price_retail_not_negative")),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name=op.f("ck_supplier_price_tax_rate_range")),
        sa.CheckConstraint("valid_from < valid_to", name=op.f("ck_supplier_price_valid_from_before_valid_to")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_supplier_price_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_supplier_price_supplier_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_price")),
        sa.UniqueConstraint(
            "supplier_id",
            "loudspeaker_id",
            "valid_from",
            name=op.f("uq_supplier_price_supplier_id_loudspeaker_id_valid_from"),
        ),
        sqlite_strict=True,
    )

    with op.batch_alter_table("supplier_price", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_supplier_price_loudspeaker_id"), ["loudspeaker_id"], unique=False)

    op.create_table(
        "supply_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("expected", sa.Date(), nullable=True),
        sa.Column("ordered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_supply_order_quantity_positive")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_supply_order_job_id")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_supply_order_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_supply_order_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supply_order")),
        sqlite_strict=True,
    )

    with op.batch_alter_table("supply_order", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_supply_order_loudspeaker_id"), ["loudspeaker_id"], unique=False)


def _quotes() -> None:
    op.create_table(
        "quote",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "open",
                "accepted",
                "sold",
                "lapsed",
                name="quotestate",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name=op.f("ck_quote_currency_code")),
        sa.CheckConstraint("until > made_at", name=op.f("ck_quote_until_later")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_quote_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote")),
        sqlite_strict=True,
    )

    op.create_table(
        "quote_line",
        sa.Column("quote_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
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
        sa.Column("finish", sa.String(), nullable=True),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column(
            "per",
            sa.Enum("each", "pair", name="priceper", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column(
            "tax",
            sa.Enum("included", "excluded", name="tax", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("tax_rate", sa.Double(), nullable=True),
        sa.Column("cost", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_quote_line_amount_not_negative")),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_quote_line_cost_not_negative")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_quote_line_quantity_positive")),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name=op.f("ck_quote_line_tax_rate_range")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_quote_line_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"], name=op.f("fk_quote_line_quote_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("quote_id", "ordinal", name=op.f("pk_quote_line")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    for name in ("quote_forward", "quote_never_delete"):
        unguard(name, "quote")
    changed_again("quote_line")
    for name in ("supply_order_current", "supply_order_kept", "supply_order_never_delete"):
        unguard(name, "supply_order")
    not_apart("supplier_price")
    not_apart("price")
    for table in ("quote_line", "quote", "supply_order", "supplier_price", "supplier_column", "supplier"):
        op.drop_table(table)
    op.drop_table("job")
    op.drop_table("location")
