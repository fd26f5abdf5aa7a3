"""Loudspeakers: makers, series, families, drivers, crossovers, prices, figures with their sources, profiles."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "maker",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_maker_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_maker")),
        sa.UniqueConstraint("name_key", name=op.f("uq_maker_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "series",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("maker_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_series_named")),
        sa.ForeignKeyConstraint(["maker_id"], ["maker.id"], name=op.f("fk_series_maker_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_series")),
        sa.UniqueConstraint("id", "maker_id", name=op.f("uq_series_id_maker_id")),
        sa.UniqueConstraint("maker_id", "name_key", name=op.f("uq_series_maker_id_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "family",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_family_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_family")),
        sa.UniqueConstraint("name_key", name=op.f("uq_family_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "source",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_source")),
        sa.UniqueConstraint("name", name=op.f("uq_source_name")),
        sqlite_strict=True,
    )

    op.create_table(
        "loudspeaker",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("maker_id", sa.Integer(), nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=True),
        sa.Column("family_id", sa.Integer(), nullable=True),
        sa.Column("model", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column(
            "orientation",
            sa.Enum("upright", "lying", name="orientation", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("width", sa.Double(), nullable=True),
        sa.Column("height", sa.Double(), nullable=True),
        sa.Column("depth", sa.Double(), nullable=True),
        sa.Column("feet", sa.Double(), nullable=True),
        sa.Column("rear_allowance", sa.Double(), nullable=True),
        sa.Column("weight", sa.Double(), nullable=True),
        sa.Column(
            "enclosure",
            sa.Enum(
                "sealed",
                "ported",
                "passive_radiator",
                "transmission_line",
                "open_back",
                name="enclosure",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column(
            "port_location",
            sa.Enum(
                "front",
                "rear",
                "side",
                "top",
                "bottom",
                "none",
                name="portlocation",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column("port_diameter", sa.Double(), nullable=True),
        sa.Column("bung", sa.Boolean(), nullable=True),
        sa.Column("sensitivity", sa.Double(), nullable=True),
        sa.Column(
            "sensitivity_basis",
            sa.Enum(
                "anechoic",
                "in_room",
                "half_space",
                "unknown",
                name="sensitivitybasis",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column("impedance_nominal", sa.Double(), nullable=True),
        sa.Column("impedance_minimum", sa.Double(), nullable=True),
        sa.Column("low_limit", sa.Double(), nullable=True),
        sa.Column("low_limit_drop", sa.Double(), nullable=True),
        sa.Column("high_limit", sa.Double(), nullable=True),
        sa.Column("axis_height", sa.Double(), nullable=True),
        sa.Column("layout", sa.String(), nullable=True),
        sa.Column("woofer_spacing", sa.Double(), nullable=True),
        sa.Column("amplifier_min", sa.Double(), nullable=True),
        sa.Column("amplifier_max", sa.Double(), nullable=True),
        sa.Column("power_handling", sa.Double(), nullable=True),
        sa.Column(
            "sold_as",
            sa.Enum("single", "pair", "either", name="soldas", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column(
            "status",
            sa.Enum(
                "current",
                "last_of_line",
                "discontinued",
                name="status",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_loudspeaker_named")),
        sa.CheckConstraint("amplifier_max > 0", name=op.f("ck_loudspeaker_amplifier_max_positive")),
        sa.CheckConstraint(
            "amplifier_min <= amplifier_max", name=op.f("ck_loudspeaker_amplifier_min_up_to_amplifier_max")
        ),
        sa.CheckConstraint("amplifier_min > 0", name=op.f("ck_loudspeaker_amplifier_min_positive")),
        sa.CheckConstraint("axis_height >= 0", name=op.f("ck_loudspeaker_axis_height_not_negative")),
        sa.CheckConstraint("depth > 0", name=op.f("ck_loudspeaker_depth_positive")),
        sa.CheckConstraint("feet >= 0", name=op.f("ck_loudspeaker_feet_not_negative")),
        sa.CheckConstraint("height > 0", name=op.f("ck_loudspeaker_height_positive")),
        sa.CheckConstraint("high_limit > 0", name=op.f("ck_loudspeaker_high_limit_positive")),
        sa.CheckConstraint("impedance_minimum > 0", name=op.f("ck_loudspeaker_impedance_minimum_positive")),
        sa.CheckConstraint("impedance_nominal > 0", name=op.f("ck_loudspeaker_impedance_nominal_positive")),
        sa.CheckConstraint("low_limit < high_limit", name=op.f("ck_loudspeaker_low_limit_below_high_limit")),
        sa.CheckConstraint("low_limit > 0", name=op.f("ck_loudspeaker_low_limit_positive")),
        sa.CheckConstraint("low_limit_drop > 0", name=op.f("ck_loudspeaker_low_limit_drop_positive")),
        sa.CheckConstraint("port_diameter > 0", name=op.f("ck_loudspeaker_port_diameter_positive")),
        sa.CheckConstraint("power_handling > 0", name=op.f("ck_loudspeaker_power_handling_positive")),
        sa.CheckConstraint("rear_allowance >= 0", name=op.f("ck_loudspeaker_rear_allowance_not_negative")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_loudspeaker_revision_from_one")),
        sa.CheckConstraint("sensitivity > 0", name=op.f("ck_loudspeaker_sensitivity_positive")),
        sa.CheckConstraint("weight > 0", name=op.f("ck_loudspeaker_weight_positive")),
        sa.CheckConstraint("width > 0", name=op.f("ck_loudspeaker_width_positive")),
        sa.CheckConstraint("woofer_spacing > 0", name=op.f("ck_loudspeaker_woofer_spacing_positive")),
        sa.ForeignKeyConstraint(["family_id"], ["family.id"], name=op.f("fk_loudspeaker_family_id")),
        sa.ForeignKeyConstraint(["maker_id"], ["maker.id"], name=op.f("fk_loudspeaker_maker_id")),
        sa.ForeignKeyConstraint(
            ["series_id", "maker_id"], ["series.id", "series.maker_id"], name=op.f("fk_loudspeaker_series_id_maker_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loudspeaker")),
        sa.UniqueConstraint("name_key", name=op.f("uq_loudspeaker_name_key")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("loudspeaker", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_loudspeaker_family_id"), ["family_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_loudspeaker_maker_id"), ["maker_id"], unique=False)

    op.create_table(
        "loudspeaker_role",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "main",
                "centre",
                "surround",
                "height",
                "sub",
                name="role",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_loudspeaker_role_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("loudspeaker_id", "role", name=op.f("pk_loudspeaker_role")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("loudspeaker_role", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_loudspeaker_role_role"), ["role"], unique=False)

    op.create_table(
        "driver",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "tweeter", "midrange", "woofer", name="driverkind", native_enum=False, create_constraint=True, length=32
            ),
            nullable=False,
        ),
        sa.Column("size", sa.Double(), nullable=True),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column(
            "type",
            sa.Enum(
                "dome",
                "waveguide_dome",
                "horn",
                "ribbon",
                "folded_ribbon",
                "ring",
                "cone",
                name="tweetertype",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column("material", sa.String(), nullable=True),
        sa.Column("coverage_horizontal", sa.Double(), nullable=True),
        sa.Column("coverage_vertical", sa.Double(), nullable=True),
        sa.CheckConstraint("kind = 'tweeter' OR type IS NULL", name=op.f("ck_driver_type_of_tweeter")),
        sa.CheckConstraint(
            "(coverage_horizontal IS NULL) = (coverage_vertical IS NULL)", name=op.f("ck_driver_coverage_whole")
        ),
        sa.CheckConstraint("count >= 0", name=op.f("ck_driver_count_not_negative")),
        sa.CheckConstraint(
            "coverage_horizontal > 0 AND coverage_horizontal <= 360"
            " AND coverage_vertical > 0 AND coverage_vertical <= 360",
            name=op.f("ck_driver_coverage_range"),
        ),
        sa.CheckConstraint("size > 0", name=op.f("ck_driver_size_positive")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_driver_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("loudspeaker_id", "kind", name=op.f("pk_driver")),
        sqlite_strict=True,
    )

    op.create_table(
        "crossover",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("frequency", sa.Double(), nullable=True),
        sa.Column("order", sa.Integer(), nullable=True),
        sa.CheckConstraint('"order" BETWEEN 1 AND 8', name=op.f("ck_crossover_order_range")),
        sa.CheckConstraint("frequency > 0", name=op.f("ck_crossover_frequency_positive")),
        sa.CheckConstraint("ordinal >= 1", name=op.f("ck_crossover_ordinal_from_one")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_crossover_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("loudspeaker_id", "ordinal", name=op.f("pk_crossover")),
        sqlite_strict=True,
    )

    op.create_table(
        "price",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column(
            "per",
            sa.Enum("each", "pair", name="priceper", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column(
            "tax",
            sa.Enum("included", "excluded", name="tax", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("tax_rate", sa.Double(), nullable=True),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_to", sa.Date(), nullable=True),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_price_amount_not_negative")),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name=op.f("ck_price_currency_code")),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name=op.f("ck_price_tax_rate_range")),
        sa.CheckConstraint("valid_from < valid_to", name=op.f("ck_price_valid_from_before_valid_to")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_price_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price")),
        sa.UniqueConstraint("loudspeaker_id", "valid_from", name=op.f("uq_price_loudspeaker_id_valid_from")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("price", schema=None) as batch_op:
        batch_op.create_index(
            "uq_price_open",
            ["loudspeaker_id"],
            unique=True,
            sqlite_where=sa.text("valid_to IS NULL"),
            postgresql_where=sa.text("valid_to IS NULL"),
        )

    op.create_table(
        "figure",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.String(), nullable=False),
        sa.Column("raw", sa.String(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("basis", sa.String(), nullable=True),
        sa.Column(
            "evidence",
            sa.Enum(
                "measured",
                "stated",
                "modelled",
                "assumed",
                name="evidence",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_figure_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["source_id"], ["source.id"], name=op.f("fk_figure_source_id")),
        sa.PrimaryKeyConstraint("loudspeaker_id", "quantity", name=op.f("pk_figure")),
        sqlite_strict=True,
    )

    op.create_table(
        "acoustic_profile",
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("model_version", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_acoustic_profile_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("loudspeaker_id", name=op.f("pk_acoustic_profile")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("acoustic_profile")
    op.drop_table("figure")
    op.drop_table("price")
    op.drop_table("crossover")
    op.drop_table("driver")
    op.drop_table("loudspeaker_role")
    op.drop_table("loudspeaker")
    op.drop_table("source")
    op.drop_table("family")
    op.drop_table("series")
    op.drop_table("maker")
