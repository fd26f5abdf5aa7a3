"""Rules with several roles, a presence, a pair, a plain sum and exact factors, and the order of spending.

No command has written a rule before this step, so the old table holds nothing to carry over.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_ROLES = (
    "mains", "centre", "surrounds", "wides", "heights", "sub", "electronics", "accessories", "calibration", "display",
    "contingency",
)  # fmt: skip


def _words(*values: str, name: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=32)


def upgrade() -> None:
    op.drop_table("rule")
    op.create_table(
        "spending_order",
        sa.Column("rule_set_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("role", _words(*_ROLES, name="budgetrole"), nullable=False),
        sa.CheckConstraint("role <> 'contingency'", name=op.f("ck_spending_order_bought")),
        sa.ForeignKeyConstraint(
            ["rule_set_id"], ["rule_set.id"], name=op.f("fk_spending_order_rule_set_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("rule_set_id", "ordinal", name=op.f("pk_spending_order")),
        sa.UniqueConstraint("rule_set_id", "role", name=op.f("uq_spending_order_rule_set_id_role")),
        sqlite_strict=True,
    )
    op.create_table(
        "rule",
        sa.Column("rule_set_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", _words("must", "should", name="rulekind"), nullable=False),
        sa.Column("form", _words("floor", "cap", "presence", name="ruleform"), nullable=False),
        sa.Column("measure", _words("one", "pair", "all", name="rulemeasure"), nullable=False),
        sa.Column("factor", sa.String(), nullable=False),
        sa.Column(
            "denominator",
            _words("audio_total", "speakers_and_sub", "limit", "money", name="denominator"),
            nullable=True,
        ),
        sa.Column("against_measure", _words("one", "pair", "all", name="against_measure"), nullable=False),
        sa.Column("why", sa.String(), nullable=True),
        sa.CheckConstraint("name <> ''", name=op.f("ck_rule_named")),
        sa.CheckConstraint("factor <> '' AND factor NOT LIKE '-%'", name=op.f("ck_rule_factor_not_negative")),
        sa.CheckConstraint("form <> 'presence' OR denominator IS NULL", name=op.f("ck_rule_presence_of_no_share")),
        sa.ForeignKeyConstraint(["rule_set_id"], ["rule_set.id"], name=op.f("fk_rule_rule_set_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("rule_set_id", "ordinal", name=op.f("pk_rule")),
        sa.UniqueConstraint("rule_set_id", "name", name=op.f("uq_rule_rule_set_id_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "rule_role",
        sa.Column("rule_set_id", sa.Integer(), nullable=False),
        sa.Column("rule_ordinal", sa.Integer(), nullable=False),
        sa.Column("side", _words("measured", "against", name="ruleside"), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("role", _words(*_ROLES, name="budgetrole"), nullable=False),
        sa.CheckConstraint(
            "side = 'measured' OR role <> 'contingency'", name=op.f("ck_rule_role_contingency_is_measured")
        ),
        sa.ForeignKeyConstraint(
            ["rule_set_id", "rule_ordinal"],
            ["rule.rule_set_id", "rule.ordinal"],
            name=op.f("fk_rule_role_rule_set_id_rule_ordinal"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("rule_set_id", "rule_ordinal", "side", "ordinal", name=op.f("pk_rule_role")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    """Bring the older table back, empty: it cannot hold what the newer ones can."""
    op.drop_table("rule_role")
    op.drop_table("rule")
    op.drop_table("spending_order")
    # the older table held the same roles but two
    roles = [role for role in _ROLES if role not in ("wides", "contingency")]
    op.create_table(
        "rule",
        sa.Column("rule_set_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", _words("must", "should", name="rulekind"), nullable=False),
        sa.Column("form", _words("floor", "cap", "ratio", name="ruleform"), nullable=False),
        sa.Column("role", _words(*roles, name="budgetrole"), nullable=False),
        sa.Column("basis", _words("each", "total", name="rulebasis"), nullable=False),
        sa.Column("factor", sa.Double(), nullable=False),
        sa.Column("denominator", _words("audio_total", "speakers_and_sub", name="denominator"), nullable=True),
        sa.Column("against_role", _words(*roles, name="against_role"), nullable=True),
        sa.Column("against_basis", _words("each", "total", name="against_basis"), nullable=True),
        sa.CheckConstraint("(form = 'ratio') = (against_role IS NOT NULL)", name=op.f("ck_rule_ratio_against_a_role")),
        sa.CheckConstraint("(form = 'ratio') = (denominator IS NULL)", name=op.f("ck_rule_share_of_a_denominator")),
        sa.CheckConstraint("(against_role IS NULL) = (against_basis IS NULL)", name=op.f("ck_rule_against_whole")),
        sa.CheckConstraint("factor >= 0", name=op.f("ck_rule_factor_not_negative")),
        sa.ForeignKeyConstraint(["rule_set_id"], ["rule_set.id"], name=op.f("fk_rule_rule_set_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("rule_set_id", "ordinal", name=op.f("pk_rule")),
        sa.UniqueConstraint("rule_set_id", "name", name=op.f("uq_rule_rule_set_id_name")),
        sqlite_strict=True,
    )
