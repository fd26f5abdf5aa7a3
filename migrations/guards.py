"""Triggers that refuse, for both engines from one list of rules. Part of the steps: never change what a step made."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Final

from alembic import op

Rule = tuple[str, str]
"""What the refusal says, and the SQL condition under which it is said; NULL is no."""


def postgresql() -> bool:
    """Say whether the step runs on PostgreSQL."""
    return op.get_context().dialect.name == "postgresql"


def guard(
    name: str,
    table: str,
    when: str,
    rules: Sequence[Rule],
    *,
    then: Sequence[tuple[str, str]] = (),
    last: Sequence[Rule] = (),
    locks: Sequence[tuple[str, str]] = (),
    condition: str = "",
) -> None:
    """Make a trigger that refuses a row by the first rule that fits, and else runs statements.

    Parameters
    ----------
    name, table, when : str
        The trigger's name, its table, and `BEFORE INSERT` or the like.
    rules : sequence of Rule
        They may speak of NEW and OLD.
    then : sequence of (str, str)
        Statements that run when no rule fits, each behind a column of NEW: on PostgreSQL only where that is not NULL.
    last : sequence of Rule
        Rules that are looked at after the statements.
    locks : sequence of (str, str)
        Columns of NEW, and tables of whose rows they are the numbers: locked first, on PostgreSQL; SQLite has one
        writer anyway.
    condition : str
        When the trigger is looked at, on PostgreSQL.
    """
    if postgresql():
        said = [*_locks(locks), *_refusals(rules), *(_behind(*one) for one in then), *_refusals(last)]
        function(name, table, when, said, condition)
        return
    for column, group in groupby(sorted(rules, key=_column_of), key=_column_of):
        suffix, only = (f"_{column}", f" WHEN NEW.{column} IS NOT NULL") if column else ("", "")
        _trigger_sqlite(f"{name}{suffix}", f"{when} ON {table} FOR EACH ROW{only}", map(_abort, group))
    if then or last:
        body = [*(f"{statement};" for _, statement in then), *map(_abort, last)]
        _trigger_sqlite(f"{name}_then", f"{when} ON {table} FOR EACH ROW", body)


def _trigger_sqlite(name: str, when: str, body: Iterable[str]) -> None:
    lines = "\n".join(body)
    op.execute(f"CREATE TRIGGER {name} {when} BEGIN\n{lines}\nEND")


def _abort(rule: Rule) -> str:
    return f"SELECT RAISE(ABORT, '{rule[0]}') WHERE {rule[1]};"


_ONE_SNAPSHOT: Final = (
    "IF current_setting('transaction_isolation') = 'repeatable read' THEN RAISE EXCEPTION"
    " 'write to the ledger at READ COMMITTED or SERIALIZABLE' USING ERRCODE = 'check_violation'; END IF;"
)
"""What waits for a lock must see what the other wrote meanwhile, which one fixed snapshot never shows."""


def _locks(locks: Sequence[tuple[str, str]]) -> list[str]:
    taken = [
        _behind(column, f"PERFORM 1 FROM {table} WHERE id = NEW.{column} FOR NO KEY UPDATE") for column, table in locks
    ]
    return [_ONE_SNAPSHOT, *taken] if taken else []


def _behind(column: str, statement: str) -> str:
    return f"IF NEW.{column} IS NOT NULL THEN {statement}; END IF;"


def _refusals(rules: Sequence[Rule]) -> list[str]:
    """Rules that only speak of rows which have something stand together behind one look at it: most rows don't."""
    lines = []
    for column, group in groupby(sorted(rules, key=_column_of), key=_column_of):
        checks = " ".join(
            f"IF ({condition}) THEN RAISE EXCEPTION '{said}' USING ERRCODE = 'check_violation'; END IF;"
            for said, condition in group
        )
        lines.append(f"IF NEW.{column} IS NOT NULL THEN {checks} END IF;" if column else checks)
    return lines


def _column_of(rule: Rule) -> str:
    found = re.match(r"NEW\.(\w+) IS NOT NULL AND ", rule[1])
    return found[1] if found else ""


def function(name: str, table: str, when: str, lines: Sequence[str], condition: str = "") -> None:
    """Make a trigger of PostgreSQL that runs with the rights of whoever owns the tables.

    So a seller may write the ledger, and nothing that follows from it.
    """
    row = "OLD" if "DELETE" in when else "NEW"
    body = "\n".join([*lines, f"RETURN {row};"])
    op.execute(
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT"
        f" AS $body$ BEGIN\n{body}\nEND $body$"
    )
    only = f" WHEN ({condition})" if condition else ""
    op.execute(f"CREATE TRIGGER {name} {when} ON {table} FOR EACH ROW{only} EXECUTE FUNCTION {name}()")


def never_changed(table: str, said: str) -> None:
    """Refuse every UPDATE and DELETE of a table's rows, and TRUNCATE where there is such a thing."""
    for event in ("update", "delete"):
        guard(f"{table}_never_{event}", table, f"BEFORE {event.upper()}", [(said, "1 = 1")])
    if postgresql():
        op.execute(
            f"CREATE TRIGGER {table}_never_truncate BEFORE TRUNCATE ON {table}"
            f" FOR EACH STATEMENT EXECUTE FUNCTION {table}_never_delete()"
        )


def changed_again(table: str) -> None:
    """Drop what `never_changed` made."""
    if postgresql():
        op.execute(f"DROP TRIGGER {table}_never_truncate ON {table}")
    for event in ("update", "delete"):
        unguard(f"{table}_never_{event}", table)


def unguard(name: str, table: str) -> None:
    """Drop a trigger that `guard` made."""
    if postgresql():
        op.execute(f"DROP TRIGGER {name} ON {table}")
        op.execute(f"DROP FUNCTION {name}()")
        return
    found = op.get_bind().exec_driver_sql("SELECT name FROM sqlite_schema WHERE type = 'trigger'").scalars().all()
    for trigger in found:
        if trigger == name or trigger.startswith(f"{name}_"):
            op.execute(f"DROP TRIGGER {trigger}")


def apart_in_time(table: str, *owners: str) -> None:
    """Refuse two rows of one owner whose times, from `valid_from` up to and without `valid_to`, overlap."""
    if postgresql():
        same = "".join(f"int4range({owner}, {owner}, '[]') WITH &&, " for owner in owners)
        op.execute(
            f"ALTER TABLE {table} ADD CONSTRAINT ex_{table}_time"
            f" EXCLUDE USING gist ({same}daterange(valid_from, valid_to) WITH &&)"
        )
        return
    same = " AND ".join(f"{owner} = NEW.{owner}" for owner in owners)
    overlap = (
        f"EXISTS (SELECT 1 FROM {table} WHERE {same} AND id <> NEW.id"
        " AND valid_from < COALESCE(NEW.valid_to, '9999-12-31')"
        " AND COALESCE(valid_to, '9999-12-31') > NEW.valid_from)"
    )
    for event in ("insert", "update"):
        said = f"ex_{table}_time: two prices hold at one time"
        guard(f"{table}_time_{event}", table, f"AFTER {event.upper()}", [(said, overlap)])


def not_apart(table: str) -> None:
    """Drop what `apart_in_time` made."""
    if postgresql():
        op.execute(f"ALTER TABLE {table} DROP CONSTRAINT ex_{table}_time")
    else:
        for event in ("insert", "update"):
            unguard(f"{table}_time_{event}", table)


def once(table: str, *keys: str, number: str = "id") -> None:
    """Refuse a row whose number or key is there already, on SQLite.

    Else INSERT OR REPLACE takes the old row away, and by default no DELETE trigger is told of it.

    Parameters
    ----------
    keys : str
        Columns of unique keys: "a, b".
    number : str
        The name of the row's number; before the row is in, SQLite shows -1 where it is to choose one.
    """
    if postgresql():
        return
    there = [f"NEW.{number} > 0 AND EXISTS (SELECT 1 FROM {table} WHERE {number} = NEW.{number})"]
    for key in keys:
        columns = key.split(", ")
        same = " AND ".join(f"{column} = NEW.{column}" for column in columns)
        there.append(f"EXISTS (SELECT 1 FROM {table} WHERE {same})")
    said = "a row is not replaced: one with this number or key is there"
    when = " OR ".join(f"({one})" for one in there)
    _trigger_sqlite(f"{table}_once", f"BEFORE INSERT ON {table} FOR EACH ROW WHEN {when}", [_abort((said, "1 = 1"))])
    low = f"AFTER INSERT ON {table} FOR EACH ROW WHEN NEW.{number} < 1"
    _trigger_sqlite(f"{table}_once_counted", low, [_abort(("numbers count from 1", "1 = 1"))])


def not_once(table: str) -> None:
    """Drop what `once` made."""
    if not postgresql():
        unguard(f"{table}_once", table)


def unreal_instant(column: str, said: str) -> Rule:
    """Give the rule that an instant is a real one, written as the program does, which any time zone can show.

    SQLite has no such type, and takes any text; PostgreSQL has infinity. strftime only counts days that don't exist
    on into the next month where it has something to add.
    """
    new = f"NEW.{column}"
    if postgresql():
        unreal = f"NOT ({new} >= '0001-01-02 00:00:00+00' AND {new} < '9999-12-31 00:00:00+00')"
    else:
        unreal = (
            f"{new} IS NOT strftime('%Y-%m-%d %H:%M:%S', substr({new}, 1, 19), '+0 days') || substr({new}, 20)"
            f" OR substr({new}, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'"
            f" OR {new} < '0001-01-02' OR {new} >= '9999-12-31'"
        )
    return said, f"{new} IS NOT NULL AND ({unreal})"


def unreal_day(column: str, said: str) -> Rule:
    """Give the rule that a day is a real one, written as the program does."""
    new = f"NEW.{column}"
    unreal = f"{new} NOT BETWEEN '0001-01-01' AND '9999-12-31'"
    if not postgresql():
        unreal += f" OR {new} IS NOT date({new}, '+0 days')"
    return said, f"{new} IS NOT NULL AND ({unreal})"


def real(table: str, instants: Sequence[str] = (), days: Sequence[str] = (), *, updates: bool = True) -> None:
    """Refuse instants and days that are none, in new rows and, with `updates`, in changed ones."""
    rules = [unreal_instant(column, f"{table}.{column} is no instant") for column in instants]
    rules += [unreal_day(column, f"{table}.{column} is no day") for column in days]
    guard(f"{table}_real_insert", table, "BEFORE INSERT", rules)
    if updates:
        guard(f"{table}_real_update", table, f"BEFORE UPDATE OF {', '.join((*instants, *days))}", rules)


def not_real(table: str, *, updates: bool = True) -> None:
    """Drop what `real` made."""
    for event in ("insert", "update") if updates else ("insert",):
        unguard(f"{table}_real_{event}", table)
