"""The database refuses rows that take another's place, instants that are none, and lines of a quote that is made.

The triggers look at new rows only, so that a database which has such rows can be upgraded; `stock check` names them.
"""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa
from alembic import op

from triptych.migrations.guards import Rule, guard, not_once, not_real, once, postgresql, real, unguard

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

_ONCE: Final[dict[str, tuple[str, ...]]] = {
    "movement": (),
    "holding": ("loudspeaker_id, location_id, grade, pack, finish_key",),
    "reservation": (),
    "quote": (),
    "quote_line": ("quote_id, ordinal",),
    "supply_order": (),
    "location": ("name_key",),
    "job": ("name_key",),
    "supplier": ("name_key",),
}
"""Tables whose rows stay, and what is unique in them beside the number; the chain of a movement refuses the rest."""

_NUMBERS: Final = {"reservation": "movement_id", "quote_line": "rowid"}

_NAMED: Final = ("location", "job", "supplier")

_REAL: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "price": ((), ("valid_from", "valid_to")),
    "supplier_price": ((), ("valid_from", "valid_to")),
    "supply_order": (("ordered_at", "cancelled_at"), ("expected",)),
    "quote": (("made_at", "until"), ()),
}
"""Instants and days by table. A reservation's is that of its movement, which a trigger holds it to."""

_LINES: Final = "(SELECT COUNT(*) FROM quote_line l WHERE l.quote_id = NEW.{key})"


_OF_QUOTE: Final = "(SELECT q.{column} FROM quote q WHERE q.id = NEW.quote_id)"
_MOST: Final = f"COALESCE({_OF_QUOTE.format(column='lines')}, 0)"

_LINE_RULES: Final[list[Rule]] = [
    ("only an open quote takes lines", f"COALESCE({_OF_QUOTE.format(column='state')}, '') <> 'open'"),
    (
        "the quote has all its lines",
        f"NEW.ordinal NOT BETWEEN 1 AND {_MOST} OR {_LINES.format(key='quote_id')} >= {_MOST}",
    ),
]


def _forward_rules() -> list[Rule]:
    differs = "IS DISTINCT FROM" if postgresql() else "IS NOT"
    return [
        ("of a quote only the state changes", f"NEW.lines {differs} OLD.lines"),
        (
            "a quote is accepted with all its lines",
            f"NEW.state = 'accepted' AND NEW.lines <> {_LINES.format(key='id')}",
        ),
    ]


def _name_rules(table: str) -> list[Rule]:
    return [
        (f"the number of a {table} stays", "NEW.id <> OLD.id"),
        (
            f"another {table} has this name",
            f"EXISTS (SELECT 1 FROM {table} o WHERE o.name_key = NEW.name_key AND o.id <> OLD.id)",
        ),
    ]


def upgrade() -> None:
    # unknown of quotes from before: those are made, so they take no more lines
    op.add_column("quote", sa.Column("lines", sa.Integer(), nullable=True))
    guard("quote_begins", "quote", "BEFORE INSERT", [("a quote begins open", "NEW.state <> 'open'")])
    guard("quote_whole", "quote", "BEFORE UPDATE", _forward_rules())
    guard("quote_line_open", "quote_line", "BEFORE INSERT", _LINE_RULES, locks=(("quote_id", "quote"),))
    for table, keys in _ONCE.items():
        once(table, *keys, number=_NUMBERS.get(table, "id"))
    for table, (instants, days) in _REAL.items():
        real(table, instants, days)
    if postgresql():
        op.execute(
            "CREATE TRIGGER reservation_never_truncate BEFORE TRUNCATE ON reservation"
            " FOR EACH STATEMENT EXECUTE FUNCTION reservation_never_delete()"
        )
        return
    # on PostgreSQL a constraint refuses this, and the movement's own trigger the rest
    for table in _NAMED:
        guard(f"{table}_named", table, "BEFORE UPDATE", _name_rules(table))
    real("movement", ("at", "until"), updates=False)


def downgrade() -> None:
    if postgresql():
        op.execute("DROP TRIGGER reservation_never_truncate ON reservation")
    else:
        not_real("movement", updates=False)
        for table in _NAMED:
            unguard(f"{table}_named", table)
    for table in _REAL:
        not_real(table)
    for table in _ONCE:
        not_once(table)
    unguard("quote_line_open", "quote_line")
    unguard("quote_whole", "quote")
    unguard("quote_begins", "quote")
    op.drop_column("quote", "lines")
