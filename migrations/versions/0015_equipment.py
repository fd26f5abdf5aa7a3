"""Receivers, stands, cables and the rest that a system needs, and rules on what must fit."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from triptych.migrations.base import kinds

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

_KINDS = "receiver amplifier source stand mount speaker_cable sub_cable"
_COUNTS = "channels processed_channels preamplifier_outputs sub_outputs inputs"
_NUMBERS = "power power_into lowest_load bears height box_width box_depth length conductor_area tax_rate"


def upgrade() -> None:
    checked = kinds.positive(
        "channels processed_channels power power_into lowest_load bears height box_width box_depth length "
        "conductor_area"
    )
    op.create_table(
        "equipment",
        *kinds.must(kinds.WHOLE, "id"),
        *kinds.must(kinds.KEY, "name_key"),
        *kinds.some(kinds.TEXT, "serves"),
        *kinds.must(kinds.TEXT, "maker model"),
        *kinds.word("kind", _KINDS, must=True, check="equipmentkind"),
        *kinds.some(kinds.WHOLE, _COUNTS),
        *kinds.some(kinds.NUMBER, _NUMBERS),
        *kinds.some(kinds.MONEY, "price"),
        *kinds.some(kinds.CODE, "currency"),
        *kinds.word("price_per", "each pair metre", check="saleunit"),
        *kinds.word("tax", "included excluded", check="tax"),
        *kinds.word("status", "current last_of_line discontinued", check="status"),
        *kinds.some(kinds.TEXT, "note"),
        *checked,
        *kinds.not_negative("preamplifier_outputs sub_outputs inputs tax_rate price"),
        kinds.check("named", "name_key <> ''"),
        kinds.check("price_in_a_currency", "price IS NULL OR currency IS NOT NULL"),
        kinds.check("currency_code", "length(currency) = 3 AND currency = upper(currency)"),
        kinds.check("power_into_a_load", "(power IS NULL) = (power_into IS NULL)"),
        sa.PrimaryKeyConstraint("id", name="pk_equipment"),
        sa.UniqueConstraint("name_key", name="uq_equipment_name_key"),
        sqlite_strict=True,
    )
    text = "TEXT" if op.get_context().dialect.name == "sqlite" else "VARCHAR(32)"
    # both engines add a column with its CHECK, and leave the table and all that hangs on it where they are
    op.execute(
        f"ALTER TABLE rule ADD COLUMN fitting {text} CONSTRAINT ck_rule_rulefitting "
        "CHECK (fitting IN ('channels', 'load', 'power', 'bearing', 'cables', 'inputs'))"
    )


def downgrade() -> None:
    op.drop_table("equipment")
    # without it such a rule would ask that there is a line at all
    op.execute("DELETE FROM rule_role WHERE EXISTS (SELECT 1 FROM rule WHERE rule.rule_set_id = rule_role.rule_set_id "
               "AND rule.ordinal = rule_role.rule_ordinal AND rule.fitting IS NOT NULL)")  # fmt: skip
    op.execute("DELETE FROM rule WHERE fitting IS NOT NULL")
    op.drop_column("rule", "fitting")
