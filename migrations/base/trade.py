"""Suppliers, orders, quotes and the stock ledger, as the base makes them. Part of a step: never change what it made."""

from __future__ import annotations

import sqlalchemy as sa

from triptych.migrations.base.kinds import (
    CODE,
    DAY,
    INSTANT,
    KEY,
    MONEY,
    NUMBER,
    TABLES,
    TEXT,
    WHOLE,
    check,
    index,
    must,
    named,
    not_negative,
    points,
    positive,
    primary,
    some,
    table,
    unique,
    word,
)

GRADES = "new open_box b_stock demo quarantine"
TAX = "included excluded"
PER = "each pair"

table(
    "location",
    *named(),
    *must(TEXT, "zone"),
)

table("job", *named())

table(
    "supplier",
    *named(),
    *some(WHOLE, "lead_time"),
    check("lead_time_range", "lead_time BETWEEN 0 AND 3650"),
)

table(
    "supplier_column",
    *must(WHOLE, "supplier_id"),
    *word("kind", "prices counts", must=True),
    *must(TEXT, "ours theirs"),
    *must(KEY, "theirs_key"),
    points("supplier_id", "supplier.id", ondelete="CASCADE"),
    primary("supplier_id kind ours"),
    unique("supplier_id kind theirs_key"),
)

table(
    "supplier_price",
    *must(WHOLE, "id supplier_id loudspeaker_id"),
    *some(MONEY, "cost retail"),
    *must(CODE, "currency"),
    *word("tax", TAX),
    *some(NUMBER, "tax_rate"),
    *must(DAY, "valid_from"),
    *some(DAY, "valid_to"),
    *not_negative("cost retail"),
    check("currency_code", "length(currency) = 3 AND currency = upper(currency)"),
    check("priced", "cost IS NOT NULL OR retail IS NOT NULL"),
    check("tax_rate_range", "tax_rate >= 0 AND tax_rate <= 100"),
    check("valid_from_before_valid_to", "valid_from < valid_to"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="RESTRICT"),
    points("supplier_id", "supplier.id", ondelete="RESTRICT"),
    primary("id"),
    unique("supplier_id loudspeaker_id valid_from"),
    index("ix_supplier_price_loudspeaker_id", "loudspeaker_id"),
)

table(
    "supply_order",
    *must(WHOLE, "id loudspeaker_id supplier_id"),
    *some(WHOLE, "job_id"),
    *must(WHOLE, "quantity"),
    *some(DAY, "expected"),
    *must(INSTANT, "ordered_at"),
    *some(INSTANT, "cancelled_at"),
    *positive("quantity"),
    points("job_id", "job.id"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="RESTRICT"),
    points("supplier_id", "supplier.id"),
    primary("id"),
    index("ix_supply_order_loudspeaker_id", "loudspeaker_id"),
)

table(
    "quote",
    *must(WHOLE, "id job_id"),
    *word("state", "open accepted sold lapsed", must=True, check="quotestate"),
    *must(CODE, "currency"),
    *must(INSTANT, "made_at until"),
    *some(TEXT, "who note"),
    *some(WHOLE, "lines"),
    check("currency_code", "length(currency) = 3 AND currency = upper(currency)"),
    check("until_later", "until > made_at"),
    points("job_id", "job.id"),
    primary("id"),
)

table(
    "quote_line",
    *must(WHOLE, "quote_id ordinal loudspeaker_id"),
    *word("grade", GRADES, must=True),
    *some(TEXT, "finish"),
    *must(WHOLE, "quantity"),
    *must(MONEY, "amount"),
    *word("per", PER, must=True, check="priceper"),
    *word("tax", TAX),
    *some(NUMBER, "tax_rate"),
    *some(MONEY, "cost"),
    *positive("quantity"),
    *not_negative("amount cost"),
    check("tax_rate_range", "tax_rate >= 0 AND tax_rate <= 100"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="RESTRICT"),
    points("quote_id", "quote.id", ondelete="CASCADE"),
    primary("quote_id ordinal"),
)

table(
    "holding",
    *must(WHOLE, "id loudspeaker_id location_id"),
    *word("grade", GRADES, must=True),
    *must(WHOLE, "pack"),
    *some(TEXT, "finish"),
    *must(KEY, "finish_key"),
    check("finish_whole", "(finish IS NULL) = (finish_key = '')"),
    check("pack_of_one_or_two", "pack IN (1, 2)"),
    points("location_id", "location.id"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="RESTRICT"),
    primary("id"),
    unique("id loudspeaker_id"),
    unique("loudspeaker_id location_id grade pack finish_key"),
)

table(
    "movement",
    *must(WHOLE, "id loudspeaker_id holding_id sequence"),
    *word(
        "kind",
        "receive reserve release sell return transfer_out transfer_in count regrade_out regrade_in "
        "split_pair split_in write_off",
        must=True,
    ),
    *must(WHOLE, "quantity effect on_hand tracked"),
    *some(WHOLE, "job_id"),
    *some(INSTANT, "until"),
    *some(WHOLE, "reservation_id from_id to_holding_id order_id quote_id"),
    *some(TEXT, "serial"),
    *some(WHOLE, "serial_sequence"),
    *some(MONEY, "amount"),
    *some(CODE, "currency"),
    *must(INSTANT, "at"),
    *some(TEXT, "who note"),
    *not_negative("on_hand"),
    check("amount_in_a_currency", "amount IS NULL OR (amount >= 0 AND currency IS NOT NULL)"),
    check(
        "effect_of_kind",
        "effect = CASE WHEN kind IN ('receive', 'return', 'transfer_in', 'regrade_in', 'split_in', "
        "'count') THEN quantity WHEN kind IN ('sell', 'transfer_out', 'regrade_out', 'split_pair', "
        "'write_off') THEN -quantity ELSE 0 END",
    ),
    check("quantity_counts", "quantity > 0 OR (kind = 'count' AND quantity <> 0)"),
    check("release_of_a_reservation", "kind <> 'release' OR reservation_id IS NOT NULL"),
    check("reservation_ends", "reservation_id IS NULL OR kind IN ('release', 'sell')"),
    check("reserve_for_a_job", "kind <> 'reserve' OR (job_id IS NOT NULL AND until IS NOT NULL)"),
    check("sequence_from_one", "sequence >= 1"),
    check("serial_named", "serial <> ''"),
    check("serial_whole", "(serial IS NULL) = (serial_sequence IS NULL)"),
    check("tracked_on_hand", "tracked >= 0 AND tracked <= on_hand"),
    check("until_of_a_reservation", "until IS NULL OR kind = 'reserve'"),
    points("from_id", "movement.id"),
    points("holding_id loudspeaker_id", "holding.id holding.loudspeaker_id"),
    points("job_id", "job.id"),
    points("order_id", "supply_order.id"),
    points("quote_id", "quote.id"),
    points("reservation_id", "movement.id"),
    points("to_holding_id", "holding.id"),
    primary("id"),
    unique("holding_id sequence"),
    index("ix_movement_from_id", "from_id", where="from_id IS NOT NULL"),
    index("ix_movement_order_id", "order_id", where="order_id IS NOT NULL"),
    index("ix_movement_quote_id", "quote_id", where="quote_id IS NOT NULL"),
    index("ix_movement_reservation_id", "reservation_id", where="reservation_id IS NOT NULL"),
    index("uq_movement_serial", "loudspeaker_id serial serial_sequence", where="serial IS NOT NULL", unique=True),
)

table(
    "reservation",
    *must(WHOLE, "movement_id holding_id"),
    *must(INSTANT, "until"),
    *must(WHOLE, "rest"),
    *some(TEXT, "serial"),
    *not_negative("rest"),
    points("holding_id", "holding.id"),
    points("movement_id", "movement.id"),
    primary("movement_id"),
    index("ix_reservation_live", "holding_id until", where="rest > 0"),
)

# On PostgreSQL a CHECK is parsed anew for each statement: there the trigger movement_line looks at what these say.
for constraint in TABLES.tables["movement"].constraints:
    if isinstance(constraint, sa.CheckConstraint):
        constraint.ddl_if(dialect="sqlite")
