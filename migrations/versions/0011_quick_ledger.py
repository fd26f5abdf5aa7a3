"""On PostgreSQL a line of the ledger is looked at in one go, under one lock, and written in one call.

What is refused stays what it was. But a CHECK is parsed anew for each statement, and the thirteen of a movement took
longer than writing it; whatever a trigger asks of a table takes as long as a row; a locked row is written twice; and a
plan that is made anew each time takes longest of all. So the checks are conditions of a trigger, which is parsed once a
connection and asks for the holding and for its last line; who writes a holding holds a lock of the server's own on its
number; and plans are kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from importlib import import_module
from itertools import groupby
from typing import Final

from alembic import op

from triptych.migrations.guards import Rule, postgresql, unguard

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


LOCK: Final = 1_953_655_152
"""What tells our locks from those of others in the same database: the letters "trip"."""

_INTO: Final = "'receive', 'return', 'transfer_in', 'count', 'regrade_in', 'split_in'"
_OUT_OF: Final = "'sell', 'transfer_out', 'regrade_out', 'split_pair', 'write_off'"

_CHECKS: Final = {
    "kind": f"kind IN ({_INTO}, {_OUT_OF}, 'reserve', 'release')",
    "effect_of_kind": (
        f"effect = CASE WHEN kind IN ({_INTO}) THEN quantity WHEN kind IN ({_OUT_OF}) THEN -quantity ELSE 0 END"
    ),
    "release_of_a_reservation": "kind <> 'release' OR reservation_id IS NOT NULL",
    "reserve_for_a_job": "kind <> 'reserve' OR (job_id IS NOT NULL AND until IS NOT NULL)",
    "quantity_counts": "quantity > 0 OR (kind = 'count' AND quantity <> 0)",
    "reservation_ends": "reservation_id IS NULL OR kind IN ('release', 'sell')",
    "serial_named": "serial <> ''",
    "until_of_a_reservation": "until IS NULL OR kind = 'reserve'",
    "serial_whole": "(serial IS NULL) = (serial_sequence IS NULL)",
    "amount_in_a_currency": "amount IS NULL OR (amount >= 0 AND currency IS NOT NULL)",
    "on_hand_not_negative": "on_hand >= 0",
    "sequence_from_one": "sequence >= 1",
    "tracked_on_hand": "tracked >= 0 AND tracked <= on_hand",
}
"""The CHECKs of a movement by name, as step 0006 made them."""

_COLUMNS: Final = re.compile(
    r"(?<!')\b(effect|kind|reservation_id|job_id|until|quantity|serial|serial_sequence|amount|currency|on_hand"
    r"|sequence|tracked)\b(?!')"
)

_KNOWN: Final = {
    "(SELECT pack FROM holding WHERE id = NEW.holding_id)": "held.pack",
    "(SELECT grade FROM holding WHERE id = NEW.holding_id)": "held.grade",
    "(SELECT MAX(sequence) FROM movement WHERE holding_id = NEW.holding_id)": "held.sequence",
    "(SELECT on_hand FROM movement WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1)": "held.on_hand",
    "(SELECT tracked FROM movement WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1)": "held.tracked",
    "(SELECT at FROM movement WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1)": "held.at",
}
"""What the rules of step 0007 ask the tables, each for itself, and where the trigger has the answer."""

_LINE: Final = """
DECLARE
  held record;
BEGIN
  IF current_setting('transaction_isolation') = 'repeatable read' THEN
    RAISE EXCEPTION 'write to the ledger at READ COMMITTED or SERIALIZABLE' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT pg_try_advisory_xact_lock({lock}, NEW.holding_id) THEN
    PERFORM pg_advisory_xact_lock({lock}, NEW.holding_id);
  END IF;
  IF NEW.from_id IS NOT NULL AND NOT pg_try_advisory_xact_lock({lock} + 1, NEW.from_id) THEN
    PERFORM pg_advisory_xact_lock({lock} + 1, NEW.from_id);
  END IF;
  IF NEW.order_id IS NOT NULL THEN
    PERFORM 1 FROM supply_order WHERE id = NEW.order_id FOR NO KEY UPDATE;
  END IF;
  SELECT h.pack, h.grade, m.sequence, m.on_hand, m.tracked, m.at INTO held
    FROM holding h LEFT JOIN LATERAL (
      SELECT * FROM movement WHERE holding_id = NEW.holding_id ORDER BY sequence DESC LIMIT 1
    ) AS m ON true WHERE h.id = NEW.holding_id;
  IF NEW.sequence IS NULL THEN
    NEW.at := GREATEST(COALESCE(NEW.at, clock_timestamp()), held.at);
    NEW.sequence := COALESCE(held.sequence, 0) + 1;
    NEW.on_hand := COALESCE(held.on_hand, 0) + NEW.effect;
    NEW.tracked := COALESCE(held.tracked, 0);
    IF NEW.serial IS NOT NULL THEN
      NEW.tracked := NEW.tracked + NEW.effect;
      NEW.serial_sequence := 1 + COALESCE((SELECT MAX(m.serial_sequence) FROM movement m
        WHERE m.loudspeaker_id = NEW.loudspeaker_id AND m.serial = NEW.serial), 0);
    END IF;
  ELSE
    {chain}
  END IF;
  {rules}
  RETURN NEW;
END
"""
"""The lock waits for no client, and what is read after it is what the one before has written."""

_FOLLOWS: Final = """
BEGIN
  IF NEW.until IS NOT NULL THEN
    INSERT INTO reservation (movement_id, holding_id, until, rest, serial)
      VALUES (NEW.id, NEW.holding_id, NEW.until, NEW.quantity, NEW.serial);
  END IF;
  IF NEW.reservation_id IS NOT NULL THEN
    UPDATE reservation SET rest = rest - NEW.quantity WHERE movement_id = NEW.reservation_id;
  END IF;
  {rules}
  RETURN NEW;
END
"""

_REAL: Final[list[Rule]] = [
    (
        f"movement.{name} is no instant",
        f"NEW.{name} < '0001-01-02 00:00:00+00' OR NEW.{name} >= '9999-12-31 00:00:00+00'",
    )
    for name in ("at", "until")
]
"""PostgreSQL knows infinity, and years that nothing else can read."""

_RESERVED: Final[Rule] = (
    "reserved never exceeds on hand",
    "NEW.kind <> 'release' AND NEW.on_hand < COALESCE((SELECT SUM(r.rest) FROM reservation r"
    " WHERE r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at), 0)",
)

_LOCK_HOLDINGS: Final = """
CREATE FUNCTION lock_holdings(numbers integer[]) RETURNS void LANGUAGE plpgsql AS $body$
DECLARE
  number integer;
BEGIN
  FOR number IN SELECT DISTINCT n FROM unnest(numbers) AS n ORDER BY n LOOP
    PERFORM pg_advisory_xact_lock({lock}, number);
  END LOOP;
END $body$
"""
"""Locks, always taken in one order, so that no two wait for each other."""

_RECORD_LINES: Final = """
CREATE OR REPLACE FUNCTION record_lines(lines jsonb) RETURNS integer[] LANGUAGE plpgsql AS $body$
DECLARE
  line jsonb;
  number integer;
  numbers integer[] := '{}';
BEGIN
  PERFORM lock_holdings(ARRAY(SELECT (l ->> 'holding_id')::integer FROM jsonb_array_elements(lines) AS l));
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

_POST: Final = """
CREATE FUNCTION post_movement(
  of_holding integer, to_holding integer, of_loudspeaker integer, of_kind text, how_many integer, change integer,
  for_job integer, holds_until timestamptz, of_reservation integer, of_order integer, of_quote integer,
  one_serial text, of_amount bigint, of_currency text, by_whom text, with_note text
) RETURNS bigint[] LANGUAGE plpgsql {kept} SET lock_timeout = '30s' AS $body$
DECLARE
  there record;
  number integer;
  second integer;
  locked boolean := false;
BEGIN
  LOOP
    IF of_reservation IS NOT NULL THEN
      SELECT r.rest, r.until INTO there
        FROM reservation r WHERE r.movement_id = of_reservation AND r.holding_id = of_holding;
      IF NOT FOUND THEN
        RETURN NULL;
      END IF;
      IF how_many > there.rest OR there.until <= clock_timestamp() THEN
        RETURN ARRAY[-1, there.rest, EXTRACT(epoch FROM there.until)::bigint];
      END IF;
    ELSIF change < 0 OR of_kind = 'reserve' THEN
      SELECT
        COALESCE((SELECT m.on_hand FROM movement m WHERE m.holding_id = of_holding ORDER BY m.sequence DESC LIMIT 1), 0)
          AS on_hand,
        COALESCE((SELECT SUM(r.rest) FROM reservation r
          WHERE r.holding_id = of_holding AND r.rest > 0 AND r.until > clock_timestamp()), 0) AS reserved
        INTO there;
      IF how_many > there.on_hand - there.reserved THEN
        RETURN ARRAY[0, there.on_hand, there.reserved];
      END IF;
    END IF;
    EXIT WHEN locked;
    locked := true;
    EXIT WHEN pg_try_advisory_xact_lock({lock}, LEAST(of_holding, to_holding))
      AND pg_try_advisory_xact_lock({lock}, GREATEST(of_holding, to_holding));
    PERFORM lock_holdings(ARRAY[LEAST(of_holding, to_holding), GREATEST(of_holding, to_holding)]);
  END LOOP;
  INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, until, reservation_id, order_id,
      quote_id, to_holding_id, serial, amount, currency, who, note)
    VALUES (of_loudspeaker, of_holding, of_kind, how_many, change, for_job, holds_until, of_reservation, of_order,
      of_quote, to_holding, one_serial, of_amount, of_currency, by_whom, with_note)
    RETURNING id INTO number;
  IF to_holding IS NULL THEN
    RETURN ARRAY[number];
  END IF;
  INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, serial, who, note)
    VALUES (of_loudspeaker, to_holding, 'transfer_in', how_many, how_many, number, one_serial, by_whom, with_note)
    RETURNING id INTO second;
  RETURN ARRAY[number, second];
END $body$
"""
"""One line, or both of a transfer: its numbers; what there is, where that is too little (0, on hand, reserved) or where
a reservation doesn't do (-1, rest, until); NULL where somebody else must look.

It looks first without a lock, as of many who ask for the last one most are refused, and again if it had to wait."""

_KEPT: Final = "SET plan_cache_mode = force_generic_plan SET enable_seqscan = off SET enable_bitmapscan = off"
"""A plan lasts as long as its connection, so it must not be that of a ledger which was nearly empty."""


def _of_new(check: str) -> str:
    return _COLUMNS.sub(r"NEW.\1", check)


def _answered(rules: Iterable[Rule]) -> list[Rule]:
    """Give rules of step 0007 that ask no table for what the trigger knows."""
    found = []
    for said, condition in rules:
        for asked, known in _KNOWN.items():
            condition = condition.replace(asked, known)
        found.append((said, condition))
    return found


def _trigger(name: str, when: str, body: str) -> None:
    op.execute(
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT"
        f" AS $body$ {body} $body$"
    )
    op.execute(f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION {name}()")


_GUARDS: Final = {"reservation_made": "BEFORE INSERT", "reservation_left": "BEFORE UPDATE"}
"""What is looked at where somebody writes a reservation, and need not be where the ledger's own trigger does."""


def _again(name: str, when: str, condition: str) -> None:
    op.execute(f"DROP TRIGGER {name} ON reservation")
    op.execute(f"CREATE TRIGGER {name} {when} ON reservation FOR EACH ROW {condition} EXECUTE FUNCTION {name}()")


def _lines(rules: Sequence[Rule]) -> str:
    """Give the lines of a trigger that refuse: one look at all that can be told without asking a table, as most fit."""
    plain = [rule for rule in rules if "SELECT" not in rule[1]]
    lines = []
    if plain:
        every = " OR ".join(f"({condition})" for _, condition in plain)
        lines += [f"IF {every} THEN", *(f"  {line}" for line in map(_refusal, plain)), "END IF;"]
    asking = sorted((rule for rule in rules if "SELECT" in rule[1]), key=_behind)
    for behind, group in groupby(asking, key=_behind):
        lines += [f"IF {behind} THEN", *(f"  {line}" for line in map(_refusal, group)), "END IF;"]
    return "\n  ".join(lines)


def _behind(rule: Rule) -> str:
    return rule[1].split(" AND ", maxsplit=1)[0]


def _refusal(rule: Rule) -> str:
    said, condition = rule
    return f"IF ({condition}) THEN RAISE EXCEPTION '{said}' USING ERRCODE = 'check_violation'; END IF;"


def upgrade() -> None:
    if not postgresql():
        return
    old = import_module("triptych.migrations.versions.0007_ledger_guards")
    for name in ("movement_chain", "movement_fills", "movement_rules", "movement_follows"):
        unguard(name, "movement")
    for name in _CHECKS:
        op.execute(f"ALTER TABLE movement DROP CONSTRAINT ck_movement_{name}")
    op.execute(_LOCK_HOLDINGS.format(lock=LOCK))
    op.execute(_RECORD_LINES)
    op.execute(_POST.format(lock=LOCK, kept=_KEPT))
    checks: list[Rule] = [(f"ck_movement_{name}", f"NOT ({_of_new(check)})") for name, check in _CHECKS.items()]
    rules = [*checks, *_REAL, *old.unit_rules(), *old.LINK_RULES, *old.serial_rules()]
    body = _LINE.format(lock=LOCK, chain=_lines(_answered(old.chain_rules())), rules=_lines(_answered(rules)))
    _trigger("movement_line", "BEFORE INSERT ON movement FOR EACH ROW", body)
    matters = "WHEN (NEW.effect < 0 OR NEW.until IS NOT NULL OR NEW.reservation_id IS NOT NULL)"
    body = _FOLLOWS.format(rules=_lines([_RESERVED]))
    _trigger("movement_follows", f"AFTER INSERT ON movement FOR EACH ROW {matters}", body)
    for name, when in _GUARDS.items():
        _again(name, when, "WHEN (pg_trigger_depth() = 0)")


def downgrade() -> None:
    if not postgresql():
        return
    old = import_module("triptych.migrations.versions.0007_ledger_guards")
    for name in ("movement_line", "movement_follows"):
        unguard(name, "movement")
    op.execute("DROP FUNCTION post_movement")
    op.execute("DROP FUNCTION record_lines(jsonb)")
    op.execute("DROP FUNCTION lock_holdings(integer[])")
    for name, check in _CHECKS.items():
        op.execute(f"ALTER TABLE movement ADD CONSTRAINT ck_movement_{name} CHECK ({check})")
    for name, when in _GUARDS.items():
        _again(name, when, "")
    old.guard_movements()
