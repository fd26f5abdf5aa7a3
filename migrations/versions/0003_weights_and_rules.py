"""Weight profiles and budget rule sets."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "weight_profile",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_weight_profile_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weight_profile")),
        sa.UniqueConstraint("name_key", name=op.f("uq_weight_profile_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "weight",
        sa.Column("weight_profile_id", sa.Integer(), nullable=False),
        sa.Column("criterion", sa.String(), nullable=False),
        sa.Column("value", sa.Double(), nullable=False),
        sa.CheckConstraint("value >= 0", name=op.f("ck_weight_value_not_negative")),
        sa.ForeignKeyConstraint(
            ["weight_profile_id"], ["weight_profile.id"], name=op.f("fk_weight_weight_profile_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("weight_profile_id", "criterion", name=op.f("pk_weight")),
        sqlite_strict=True,
    )

    op.create_table(
        "rule_set",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String().with_variant(sa.String(collation="C"), "postgresql"), nullable=False),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint("name_key <> ''", name=op.f("ck_rule_set_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule_set")),
        sa.UniqueConstraint("name_key", name=op.f("uq_rule_set_name_key")),
        sqlite_strict=True,
    )

    op.create_table(
        "rule",
        sa.Column("rule_set_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("must", "should", name="rulekind", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column(
            "form",
            sa.Enum("floor", "cap", "ratio", name="ruleform", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column(
            "role",
            sa.Enum(
                "mains",
                "centre",
                "surrounds",
                "heights",
                "sub",
                "electronics",
                "accessories",
                "calibration",
                "display",
                name="budgetrole",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column(
            "basis",
            sa.Enum("each", "total", name="rulebasis", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column("factor", sa.Double(), nullable=False),
        sa.Column(
            "denominator",
            sa.Enum(
                "audio_total",
                "speakers_and_sub",
                name="denominator",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column(
            "against_role",
            sa.Enum(
                "mains",
                "centre",
                "surrounds",
                "heights",
                "sub",
                "electronics",
                "accessories",
                "calibration",
                "display",
                name="against_role",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=True,
        ),
        sa.Column(
            "against_basis",
            sa.Enum("each", "total", name="against_basis", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.CheckConstraint("(form = 'ratio') = (against_role IS NOT NULL)", name=op.f("ck_rule_ratio_against_a_role")),
        sa.CheckConstraint("(form = 'ratio') = (denominator IS NULL)", name=op.f("ck_rule_share_of_a_denominator")),
        sa.CheckConstraint("(against_role IS NULL) = (against_basis IS NULL)", name=op.f("ck_rule_against_whole")),
        sa.CheckConstraint("factor >= 0", name=op.f("ck_rule_factor_not_negative")),
        sa.ForeignKeyConstraint(["rule_set_id"], ["rule_set.id"], name=op.f("fk_rule_rule_set_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("rule_set_id", "ordinal", name=op.f("pk_rule")),
        sa.UniqueConstraint("rule_set_id", "name", name=op.f("uq_rule_rule_set_id_name")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("rule")
    op.drop_table("rule_set")
    op.drop_table("weight")
    op.drop_table("weight_profile")
