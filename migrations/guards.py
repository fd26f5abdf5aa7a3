"""What each engine refuses, whoever writes it, as its SQL file in `sql` says: the base's part, so it never changes."""

from __future__ import annotations

import re
from importlib.resources import files


def sql(engine: str) -> str:
    """Give the SQL file of an engine: `sqlite` or `postgresql`."""
    return (files("triptych.migrations") / "sql" / f"{engine}.sql").read_text(encoding="utf-8")


def names(engine: str) -> list[str]:
    """Give the names of the triggers and constraints that the file makes."""
    return re.findall(r"^(?:CREATE TRIGGER|ALTER TABLE \w+ ADD CONSTRAINT) (\w+)", sql(engine), flags=re.MULTILINE)


def make(table: str = "") -> None:
    """Run the file of the engine that the step runs on, or only its triggers of one table.

    A batch change on SQLite drops the table, and its triggers with it: a step that makes one calls this after it.
    """
    from alembic import op

    for paragraph in sql(op.get_context().dialect.name).strip().split("\n\n"):
        if not table or re.search(rf"^CREATE TRIGGER .* ON {table}\b", paragraph, flags=re.MULTILINE):
            op.execute(paragraph.replace(":", r"\:"))
