"""What each engine refuses, whoever writes it, as the SQL files in `sql` say: one of the base, then one a step.

A file that was released never changes; a later one can say again what an earlier one said.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from importlib.resources import files
from typing import Final

STEPS: Final = ("0014", "0016", "0018", "0020", "0021", "0022", "0025", "0026")
"""The steps that add a file of their own, `NNNN_ENGINE.sql`."""

_SIGNING: Final = (
    *("loudspeaker", "room", "equipment", "price", "supplier_price", "supply_order", "quote", "quote_line", "job"),
    *("location", "supplier", "article", "reorder_point", "grade_price"),
)

GONE: Final = {
    "stock_movement": "0021",
    "stock_quote": "0022",
    "stock_lines": "0022",
    **{f"{table}_signs": "0025" for table in _SIGNING},
}
"""Functions of PostgreSQL that a later step takes away."""

_TRIGGER: Final = re.compile(r"^CREATE TRIGGER (\w+)\s[^;]*?\sON (\w+)", flags=re.MULTILINE)
_FUNCTION: Final = re.compile(r"^CREATE FUNCTION (\w+)\(", flags=re.MULTILINE)


def sql(engine: str, step: str = "") -> str:
    """Give the SQL file of an engine, `sqlite` or `postgresql`: that of the base, or of a step."""
    name = f"{step}_{engine}.sql" if step else f"{engine}.sql"
    return (files("triptych.migrations") / "sql" / name).read_text(encoding="utf-8")


def paragraphs(engine: str, newest: str = STEPS[-1]) -> list[str]:
    """Give all that is run on an engine, in its order, up to a step."""
    steps = (step for step in ("", *STEPS) if step <= newest)
    found = [part for step in steps for part in sql(engine, step).strip().split("\n\n")]
    found = [part for part in found if not any(GONE.get(name, "9999") <= newest for name in _FUNCTION.findall(part))]
    said_last = {name: place for place, part in enumerate(found) for name, _ in _TRIGGER.findall(part)}
    return [
        part for place, part in enumerate(found) if all(said_last[name] == place for name, _ in _TRIGGER.findall(part))
    ]


def names(engine: str, step: str = "") -> list[str]:
    """Give the names of the triggers and constraints that a file makes."""
    found = r"^(?:CREATE TRIGGER|ALTER TABLE \w+ ADD CONSTRAINT) (\w+)"
    return re.findall(found, sql(engine, step), flags=re.MULTILINE)


def triggers(engine: str, step: str = "") -> list[tuple[str, str]]:
    """Give the triggers of a file, each with its table."""
    return _TRIGGER.findall(sql(engine, step))


def functions(step: str = "") -> list[str]:
    """Give the functions of a file of PostgreSQL."""
    return _FUNCTION.findall(sql("postgresql", step))


def make(table: str = "", step: str = "", newest: str = STEPS[-1]) -> None:
    """Run the file of the engine that the step runs on, or the triggers of one table out of all files up to a step.

    A batch change on SQLite drops the table, and its triggers with it: a step that makes one calls this after it.
    """
    from alembic import op

    engine = op.get_context().dialect.name
    for paragraph in paragraphs(engine, newest) if table else sql(engine, step).strip().split("\n\n"):
        if not table or re.search(rf"^CREATE TRIGGER .* ON {table}\b", paragraph, flags=re.MULTILINE):
            _run(paragraph)


def make_triggers(names: Collection[str], newest: str) -> None:
    """Make triggers of these names, with the functions told beside them, as the files up to a step say them."""
    from alembic import op

    for paragraph in paragraphs(op.get_context().dialect.name, newest):
        if any(name in names for name, _ in _TRIGGER.findall(paragraph)):
            _run(paragraph)


def make_function(name: str, step: str) -> None:
    """Make a function of PostgreSQL say again what a step made it say."""
    for paragraph in sql("postgresql", step).strip().split("\n\n"):
        if name in _FUNCTION.findall(paragraph):
            _run(paragraph.partition("\nCREATE TRIGGER ")[0])


def _run(paragraph: str) -> None:
    from alembic import op

    op.execute(_FUNCTION.sub(r"CREATE OR REPLACE FUNCTION \1(", paragraph).replace(":", r"\:"))


_PATHS: Final = """
DO $body$
DECLARE
  one text;
BEGIN
  FOREACH one IN ARRAY ARRAY[{names}] LOOP
    EXECUTE format('ALTER FUNCTION %I SET search_path = pg_catalog, %I, pg_temp', one, current_schema());
  END LOOP;
END
$body$
"""


def named(newest: str) -> list[str]:
    """Give the functions of PostgreSQL that the steps up to one make."""
    found = {name for step in ("", *STEPS) if step <= newest for name in functions(step)}
    return sorted(name for name in found if GONE.get(name, "9999") > newest)


def fix_paths(newest: str) -> None:
    """Let each function find tables in the catalogue's schema alone, none of a caller's own and no temporary one."""
    from alembic import op

    op.execute(_PATHS.format(names=", ".join(f"'{name}'" for name in named(newest))))


def unfix_paths(newest: str) -> None:
    """Let the functions of the steps before one find tables as they did."""
    from alembic import op

    plain = "stock_movement", "lock_holdings"
    for name in named(max(step for step in STEPS if step < newest)):
        op.execute(
            f"ALTER FUNCTION {name} " + ("RESET search_path" if name in plain else "SET search_path FROM CURRENT")
        )


def make_again() -> None:
    """Make the base's triggers and functions anew, as its file says them, whatever made them before."""
    from alembic import op

    engine = op.get_context().dialect.name
    for paragraph in sql(engine).strip().split("\n\n"):
        for name, table in _TRIGGER.findall(paragraph):
            op.execute(f"DROP TRIGGER IF EXISTS {name}" + (f" ON {table}" if engine == "postgresql" else ""))
        if _TRIGGER.search(paragraph) or _FUNCTION.search(paragraph):
            _run(paragraph)
