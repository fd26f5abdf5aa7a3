"""Rooms with seats and places, and the briefs asked of them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "room",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("screen_width", sa.Double(), nullable=True),
        sa.Column("screen_height", sa.Double(), nullable=True),
        sa.Column("screen_diagonal", sa.Double(), nullable=True),
        sa.Column("screen_aspect", sa.String(), nullable=True),
        sa.Column("screen_bottom", sa.Double(), nullable=True),
        sa.Column("screen_transparent", sa.Boolean(), nullable=True),
        sa.Column("mains_speaker", sa.String(), nullable=True),
        sa.Column("mains_spacing", sa.Double(), nullable=True),
        sa.Column("mains_from_wall", sa.Double(), nullable=True),
        sa.Column("mains_toe_in", sa.Double(), nullable=True),
        sa.Column("mains_axis_height", sa.Double(), nullable=True),
        sa.Column("amplifier", sa.Boolean(), nullable=False),
        sa.Column("amplifier_power", sa.Double(), nullable=True),
        sa.Column("amplifier_into", sa.Double(), nullable=True),
        sa.Column("amplifier_lowest_load", sa.Double(), nullable=True),
        sa.Column("amplifier_trim_range", sa.Double(), nullable=True),
        sa.Column("listening_target_peak", sa.Double(), nullable=True),
        sa.Column("listening_room_gain", sa.Double(), nullable=True),
        sa.Column("listening_needs_real_centre", sa.Boolean(), nullable=False),
        sa.Column("money_centre", sa.BigInteger(), nullable=True),
        sa.Column("money_currency", sa.String(length=3), nullable=True),
        sa.Column("money_tax_included", sa.Boolean(), nullable=True),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_room_named")),
        sa.CheckConstraint("amplifier_into > 0", name=op.f("ck_room_amplifier_into_positive")),
        sa.CheckConstraint("amplifier_lowest_load > 0", name=op.f("ck_room_amplifier_lowest_load_positive")),
        sa.CheckConstraint("amplifier_power > 0", name=op.f("ck_room_amplifier_power_positive")),
        sa.CheckConstraint("amplifier_trim_range >= 0", name=op.f("ck_room_amplifier_trim_range_not_negative")),
        sa.CheckConstraint(
            "length(money_currency) = 3 AND money_currency = upper(money_currency)",
            name=op.f("ck_room_money_currency_code"),
        ),
        sa.CheckConstraint("mains_axis_height >= 0", name=op.f("ck_room_mains_axis_height_not_negative")),
        sa.CheckConstraint("mains_from_wall >= 0", name=op.f("ck_room_mains_from_wall_not_negative")),
        sa.CheckConstraint("mains_spacing > 0", name=op.f("ck_room_mains_spacing_positive")),
        sa.CheckConstraint("money_centre >= 0", name=op.f("ck_room_money_centre_not_negative")),
        sa.CheckConstraint("money_centre IS NULL OR money_tax_included IS NOT NULL", name=op.f("ck_room_money_whole")),
        sa.CheckConstraint("screen_bottom >= 0", name=op.f("ck_room_screen_bottom_not_negative")),
        sa.CheckConstraint("screen_diagonal > 0", name=op.f("ck_room_screen_diagonal_positive")),
        sa.CheckConstraint("screen_height > 0", name=op.f("ck_room_screen_height_positive")),
        sa.CheckConstraint("screen_width > 0", name=op.f("ck_room_screen_width_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_room")),
        sa.UniqueConstraint("name_key", name=op.f("uq_room_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "seat",
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("x", sa.Double(), nullable=False),
        sa.Column("distance", sa.Double(), nullable=False),
        sa.Column("ear_height", sa.Double(), nullable=True),
        sa.Column("primary", sa.Boolean(), nullable=False),
        sa.Column("regular", sa.Boolean(), nullable=False),
        sa.CheckConstraint("distance > 0", name=op.f("ck_seat_distance_positive")),
        sa.CheckConstraint("ear_height > 0", name=op.f("ck_seat_ear_height_positive")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_seat_room_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("room_id", "ordinal", name=op.f("pk_seat")),
        sa.UniqueConstraint("room_id", "name_key", name=op.f("uq_seat_room_id_name_key")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("seat", schema=None) as batch_op:
        batch_op.create_index(
            "uq_seat_primary",
            ["room_id"],
            unique=True,
            sqlite_where=sa.text('"primary"'),
            postgresql_where=sa.text('"primary"'),
        )

    op.create_table(
        "place",
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "cavity",
                "open_shelf",
                "top",
                "stand",
                "wall",
                "behind_screen",
                name="placekind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("width", sa.Double(), nullable=True),
        sa.Column("height", sa.Double(), nullable=True),
        sa.Column("depth", sa.Double(), nullable=True),
        sa.Column("base", sa.Double(), nullable=True),
        sa.Column("front", sa.Double(), nullable=True),
        sa.Column(
            "back",
            sa.Enum("closed", "open", name="back", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("load", sa.Double(), nullable=True),
        sa.Column(
            "hot",
            sa.Enum("no", "yes", "unknown", name="hot", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column(
            "wall",
            sa.Enum(
                "masonry",
                "stud",
                "plasterboard",
                "unknown",
                name="wallkind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column("gap", sa.Double(), nullable=True),
        sa.Column("setback", sa.Double(), nullable=True),
        sa.CheckConstraint("base >= 0", name=op.f("ck_place_base_not_negative")),
        sa.CheckConstraint("depth > 0", name=op.f("ck_place_depth_positive")),
        sa.CheckConstraint("front >= 0", name=op.f("ck_place_front_not_negative")),
        sa.CheckConstraint("gap >= 0", name=op.f("ck_place_gap_not_negative")),
        sa.CheckConstraint("height > 0", name=op.f("ck_place_height_positive")),
        sa.CheckConstraint("load >= 0", name=op.f("ck_place_load_not_negative")),
        sa.CheckConstraint("width > 0", name=op.f("ck_place_width_positive")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_place_room_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("room_id", "ordinal", name=op.f("pk_place")),
        sa.UniqueConstraint("room_id", "name_key", name=op.f("uq_place_room_id_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "brief",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("mains_id", sa.Integer(), nullable=True),
        sa.Column("room_id", sa.Integer(), nullable=False),
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
        sa.Column("limit_amount", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("tax_included", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_brief_named")),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name=op.f("ck_brief_currency_code")),
        sa.CheckConstraint("limit_amount >= 0", name=op.f("ck_brief_limit_amount_not_negative")),
        sa.CheckConstraint("limit_amount IS NULL OR currency IS NOT NULL", name=op.f("ck_brief_limit_in_a_currency")),
        sa.ForeignKeyConstraint(["mains_id"], ["loudspeaker.id"], name=op.f("fk_brief_mains_id")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_brief_room_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_brief")),
        sa.UniqueConstraint("name_key", name=op.f("uq_brief_name_key")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("brief")
    op.drop_table("place")
    op.drop_table("seat")
    op.drop_table("room")
