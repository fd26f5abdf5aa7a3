"""Triggers that refuse what would break the ledger, whoever writes it."""

from __future__ import annotations

from typing import Final

from alembic import op

from triptych.migrations.guards import Rule, changed_again, function, guard, never_changed, postgresql, unguard

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


_BEFORE: Final = "(SELECT {column} FROM movement WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1)"
_HOLDS: Final = "(SELECT {column} FROM holding WHERE id = NEW.holding_id)"
_SERIAL: Final = (
    "(SELECT {column} FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial AND effect <> 0"
    " ORDER BY serial_sequence DESC LIMIT 1)"
)
_LIVE: Final = "r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at"


def chain_rules() -> list[Rule]:
    before_at = _BEFORE.format(column="at")
    last = "(SELECT MAX(sequence) FROM movement WHERE holding_id = NEW.holding_id)"
    tracked = "CASE WHEN NEW.serial IS NULL THEN 0 ELSE NEW.effect END"
    return [
        ("each line of a holding follows the last", f"NEW.sequence <> 1 + COALESCE({last}, 0)"),
        (
            "on hand is the sum of the movements",
            f"NEW.on_hand <> NEW.effect + COALESCE({_BEFORE.format(column='on_hand')}, 0)",
        ),
        (
            "tracked is the sum of the movements with a serial",
            f"NEW.tracked <> {tracked} + COALESCE({_BEFORE.format(column='tracked')}, 0)",
        ),
        ("the time of a line is not before that of the last", f"NEW.at < {before_at}"),
    ]


def unit_rules() -> list[Rule]:
    pack, grade = _HOLDS.format(column="pack"), _HOLDS.format(column="grade")
    soon = "strftime('%Y-%m-%d %H:%M:%f', 'now', '+1 minute')"
    if postgresql():
        soon = "clock_timestamp() + interval '1 minute'"
    return [
        ("a movement is not of the future", f"NEW.at > {soon}"),
        ("pairs move in pairs", f"NEW.quantity % {pack} <> 0"),
        ("a serial names one", f"NEW.serial IS NOT NULL AND ABS(NEW.quantity) <> {pack}"),
        (
            "what is in quarantine is neither sold nor promised",
            f"NEW.kind IN ('reserve', 'sell') AND {grade} = 'quarantine'",
        ),
        ("only a pair can be split", f"NEW.kind = 'split_pair' AND ({pack} <> 2 OR NEW.quantity <> 2)"),
        ("a single of a pair has a serial", "NEW.kind = 'split_in' AND NEW.serial IS NULL"),
        ("a return goes to quarantine first", f"NEW.kind = 'return' AND {grade} <> 'quarantine'"),
        (
            "a count or write-off has a reason",
            "NEW.kind IN ('count', 'write_off') AND TRIM(COALESCE(NEW.note, '')) = ''",
        ),
    ]


_PARTNER: Final = (
    "CASE NEW.kind WHEN 'transfer_in' THEN 'transfer_out' WHEN 'regrade_in' THEN 'regrade_out' ELSE 'split_pair' END"
)

LINK_RULES: Final[list[Rule]] = [
    (
        "what leaves for elsewhere says where",
        "(NEW.kind IN ('transfer_out', 'regrade_out', 'split_pair')) <> (NEW.to_holding_id IS NOT NULL)",
    ),
    (
        "it stays the same model",
        "NEW.to_holding_id IS NOT NULL AND NEW.loudspeaker_id <>"
        " (SELECT loudspeaker_id FROM holding WHERE id = NEW.to_holding_id)",
    ),
    (
        "what comes from elsewhere names what left for here",
        "NEW.kind IN ('transfer_in', 'regrade_in', 'split_in') AND NOT EXISTS (SELECT 1 FROM movement s"
        f" WHERE s.id = NEW.from_id AND s.to_holding_id = NEW.holding_id AND s.kind = {_PARTNER}"
        " AND (NEW.kind = 'split_in' OR COALESCE(s.serial, '') = COALESCE(NEW.serial, '')))",
    ),
    (
        "only what comes from elsewhere names what left",
        "NEW.from_id IS NOT NULL AND NEW.kind NOT IN ('transfer_in', 'regrade_in', 'split_in')",
    ),
    (
        "no more arrives than left",
        "NEW.from_id IS NOT NULL AND NEW.quantity + COALESCE((SELECT SUM(a.quantity) FROM movement a"
        " WHERE a.from_id = NEW.from_id), 0) > (SELECT s.quantity FROM movement s WHERE s.id = NEW.from_id)",
    ),
    (
        "an order brings what was ordered, and no more",
        "NEW.order_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM supply_order o WHERE o.id = NEW.order_id"
        " AND NEW.kind = 'receive' AND o.loudspeaker_id = NEW.loudspeaker_id AND o.cancelled_at IS NULL"
        " AND o.quantity >= NEW.quantity + COALESCE((SELECT SUM(a.quantity) FROM movement a"
        " WHERE a.order_id = NEW.order_id), 0))",
    ),
    ("a reservation ends in the future", "NEW.kind = 'reserve' AND NEW.until <= NEW.at"),
    (
        "a reservation that lapsed, ended or holds less cannot be used",
        "NEW.reservation_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM reservation r"
        f" WHERE r.movement_id = NEW.reservation_id AND {_LIVE} AND r.rest >= NEW.quantity"
        " AND (r.serial IS NULL OR r.serial = NEW.serial))",
    ),
]


def serial_rules() -> list[Rule]:
    last = (
        "(SELECT MAX(serial_sequence) FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial)"
    )
    effect, there, number, bound = (
        _SERIAL.format(column=column) for column in ("effect", "holding_id", "id", "to_holding_id")
    )
    return [
        (
            "each line of a serial follows the last",
            f"NEW.serial IS NOT NULL AND NEW.serial_sequence <> 1 + COALESCE({last}, 0)",
        ),
        (
            "a serial is in one place: it is there already, or on its way",
            f"NEW.serial IS NOT NULL AND NEW.effect > 0 AND (COALESCE({effect}, -1) > 0"
            f" OR ({bound} IS NOT NULL AND {number} <> COALESCE(NEW.from_id, 0)))",
        ),
        (
            "a serial is in one place: it is not here",
            "NEW.serial IS NOT NULL AND NEW.effect <= 0 AND NEW.kind <> 'release'"
            f" AND (COALESCE({effect}, -1) < 0 OR {there} <> NEW.holding_id)",
        ),
        (
            "a serial is promised once",
            "NEW.serial IS NOT NULL AND (NEW.effect < 0 OR NEW.kind = 'reserve') AND EXISTS (SELECT 1"
            f" FROM reservation r WHERE {_LIVE} AND r.serial = NEW.serial"
            " AND r.movement_id <> COALESCE(NEW.reservation_id, 0))",
        ),
    ]


_RESERVED: Final[Rule] = (
    "reserved never exceeds on hand",
    "(NEW.effect < 0 OR NEW.kind = 'reserve')"
    f" AND NEW.on_hand < COALESCE((SELECT SUM(r.rest) FROM reservation r WHERE {_LIVE}), 0)",
)

_FOLLOWS: Final = (
    (
        "until",
        "INSERT INTO reservation (movement_id, holding_id, until, rest, serial)"
        " SELECT NEW.id, NEW.holding_id, NEW.until, NEW.quantity, NEW.serial WHERE NEW.kind = 'reserve'",
    ),
    ("reservation_id", "UPDATE reservation SET rest = rest - NEW.quantity WHERE movement_id = NEW.reservation_id"),
)

_FILL: Final = (
    "PERFORM 1 FROM holding WHERE id = NEW.holding_id FOR NO KEY UPDATE;",
    "NEW.at := GREATEST(COALESCE(NEW.at, clock_timestamp()), (SELECT m.at FROM movement m"
    " WHERE m.holding_id = NEW.holding_id ORDER BY m.sequence DESC LIMIT 1));",
    "SELECT COALESCE(MAX(l.sequence), 0) + 1, COALESCE(MAX(l.on_hand), 0) + NEW.effect, COALESCE(MAX(l.tracked), 0)"
    " + CASE WHEN NEW.serial IS NULL THEN 0 ELSE NEW.effect END INTO NEW.sequence, NEW.on_hand, NEW.tracked"
    " FROM (SELECT m.sequence, m.on_hand, m.tracked FROM movement m WHERE m.holding_id = NEW.holding_id"
    " ORDER BY m.sequence DESC LIMIT 1) AS l;",
    "IF NEW.serial IS NOT NULL THEN NEW.serial_sequence := 1 + COALESCE((SELECT MAX(m.serial_sequence) FROM movement m"
    " WHERE m.loudspeaker_id = NEW.loudspeaker_id AND m.serial = NEW.serial), 0); END IF;",
)
"""On PostgreSQL whoever writes a line may leave its totals out: they are filled in under the lock."""


_RECORD_LINES: Final = """
CREATE FUNCTION record_lines(lines jsonb) RETURNS integer[] LANGUAGE plpgsql AS $body$
DECLARE
  line jsonb;
  number integer;
  numbers integer[] := '{}';
BEGIN
  PERFORM 1 FROM holding WHERE id IN (SELECT (l ->> 'holding_id')::integer FROM jsonb_array_elements(lines) AS l)
    ORDER BY id FOR NO KEY UPDATE;
  FOR line IN SELECT l FROM jsonb_array_elements(lines) AS l LOOP
    IF line ->> 'from_id' = '0' THEN
      line := line || jsonb_build_object('from_id', number);
    END IF;
    number := nextval(pg_get_serial_sequence('movement', 'id'));
    INSERT INTO movement
      SELECT * FROM jsonb_populate_record(NULL::movement, line || jsonb_build_object('id', number));
    numbers := numbers || number;
  END LOOP;
  RETURN numbers;
END $body$
"""
"""Lines in one call, all or none: the locks, taken in one order, wait for no client. from_id 0 is the line before."""


_RESERVATION_MADE: Final[Rule] = (
    "a reservation stands in the ledger first",
    "NOT EXISTS (SELECT 1 FROM movement m WHERE m.id = NEW.movement_id AND m.kind = 'reserve'"
    " AND m.holding_id = NEW.holding_id AND m.until = NEW.until AND m.quantity = NEW.rest"
    " AND COALESCE(m.serial, '') = COALESCE(NEW.serial, ''))",
)

_RESERVATION_LEFT: Final[Rule] = (
    "what is left of a reservation is what the ledger says",
    "NEW.movement_id <> OLD.movement_id OR NEW.holding_id <> OLD.holding_id OR NEW.until <> OLD.until"
    " OR COALESCE(NEW.serial, '') <> COALESCE(OLD.serial, '')"
    " OR NEW.rest <> (SELECT m.quantity - COALESCE((SELECT SUM(e.quantity) FROM movement e"
    " WHERE e.reservation_id = m.id), 0) FROM movement m WHERE m.id = NEW.movement_id)",
)


def upgrade() -> None:
    never_changed("holding", "a holding never changes")
    never_changed("movement", "the ledger is only added to")
    guard("reservation_made", "reservation", "BEFORE INSERT", [_RESERVATION_MADE])
    guard("reservation_left", "reservation", "BEFORE UPDATE", [_RESERVATION_LEFT])
    guard(
        "reservation_never_delete",
        "reservation",
        "BEFORE DELETE",
        [("a reservation is released, not deleted", "1 = 1")],
    )
    guard_movements()


def guard_movements() -> None:
    """Make the triggers of a movement."""
    rules = [*unit_rules(), *LINK_RULES, *serial_rules()]
    locks = (("holding_id", "holding"), ("from_id", "movement"), ("order_id", "supply_order"))
    # looked at in order of their names, before `movement_rules`
    guard("movement_chain", "movement", "BEFORE INSERT", chain_rules(), condition="NEW.sequence IS NOT NULL")
    if postgresql():
        function("movement_fills", "movement", "BEFORE INSERT", _FILL, "NEW.sequence IS NULL")
        op.execute(_RECORD_LINES)
    guard("movement_rules", "movement", "BEFORE INSERT", rules, locks=locks)
    guard("movement_follows", "movement", "AFTER INSERT", [], then=_FOLLOWS, last=[_RESERVED])


def downgrade() -> None:
    if postgresql():
        op.execute("DROP FUNCTION record_lines(jsonb)")
    changed_again("movement")
    fills = ("movement_fills",) if postgresql() else ()
    for name in ("movement_chain", "movement_rules", "movement_follows", *fills):
        unguard(name, "movement")
    for name in ("reservation_made", "reservation_left", "reservation_never_delete"):
        unguard(name, "reservation")
    changed_again("holding")
