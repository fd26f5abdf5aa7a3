"""Proof that the guards of the stock stand, and that each says what the steps made it say."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models.guards import GUARDS
from triptych.catalog.stock.proof_lines import Finding, Tally
from triptych.migrations import guards

_STANDING: Final = {
    "sqlite": "SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'index')",
    "postgresql": (
        "SELECT tgname FROM pg_trigger WHERE tgenabled IN ('O', 'A') AND pg_table_is_visible(tgrelid)"
        " UNION SELECT conname FROM pg_constraint WHERE pg_table_is_visible(conrelid)"
        " UNION SELECT c.relname FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid"
        " WHERE i.indisvalid AND pg_table_is_visible(c.oid)"
    ),
}

_SAID: Final = {
    "sqlite": "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'",
    "postgresql": (
        "SELECT tgname, pg_get_triggerdef(oid, true) FROM pg_trigger"
        " WHERE NOT tgisinternal AND pg_table_is_visible(tgrelid)"
    ),
}

_BODIES: Final = "SELECT proname, prosrc FROM pg_proc WHERE pronamespace = current_schema()::regnamespace"

_PATHS: Final = """
SELECT proname, proconfig @> ARRAY[format('search_path=pg_catalog, %I, pg_temp', current_schema())]
    AND (cardinality(proconfig) = 1 OR proconfig @> ARRAY['TimeZone=UTC', 'extra_float_digits=1', 'bytea_output=hex']
      AND cardinality(proconfig) = 4)
  FROM pg_proc WHERE pronamespace = current_schema()::regnamespace
"""
"""Whether a function finds tables in the catalogue's schema alone."""


def guards_stand(session: Session) -> Finding:
    """Find guards that are missing, switched off, or say other than they were made to."""
    tally = Tally("every guard of the stock stands")
    engine = session.get_bind().dialect.name
    standing = set(session.scalars(sa.text(_STANDING[engine])))
    said = _read(session, _SAID[engine])
    wanted = made(engine)
    for guard in GUARDS[engine]:
        if guard not in standing:
            tally.see(False, f"{guard} is missing or switched off")
        else:
            tally.see(guard not in wanted or _alike(said.get(guard, ""), wanted[guard]), f"{guard} was changed")
    if engine == "postgresql":
        bodies, paths = _read(session, _BODIES), _read(session, _PATHS)
        for name, body in functions().items():
            tally.see(_words(bodies.get(name, "")) == _words(body), f"the function {name} was changed")
            tally.see(bool(paths.get(name)), f"the function {name} looks for tables elsewhere")
        tally.see(session.scalar(sa.text("SHOW session_replication_role")) == "origin", "triggers are switched off")
    return tally.finding()


def _read(session: Session, query: str) -> dict[str, str]:
    return {row[0]: row[1] for row in session.execute(sa.text(query))}


@cache
def made(engine: str) -> Mapping[str, str]:
    """Give each trigger as the steps make it; a later step has the last word."""
    end = r"^END;" if engine == "sqlite" else r";"
    found: Callable[[str], list[tuple[str, str]]] = re.compile(
        rf"^(CREATE TRIGGER (\w+)\b.*?{end})", flags=re.MULTILINE | re.DOTALL
    ).findall
    return {name: text.removesuffix(";") for part in guards.paragraphs(engine) for text, name in found(part)}


@cache
def functions() -> Mapping[str, str]:
    """Give the body of each function of PostgreSQL as the steps make it."""
    form = re.compile(r"^CREATE FUNCTION (\w+)\(.*?\$\$(.*?)\$\$;", flags=re.MULTILINE | re.DOTALL)
    return {name: body for part in guards.paragraphs("postgresql") for name, body in form.findall(part)}


def _alike(one: str, other: str) -> bool:
    """Whether two triggers say the same: a server writes them in its own spelling."""
    return re.sub(r"[\s()]", "", one).casefold() == re.sub(r"[\s()]", "", other).casefold()


def _words(body: str) -> str:
    return " ".join(body.split())
