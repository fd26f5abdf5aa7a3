"""What a database holds, by name, in one spelling: to compare two that were made in different ways.

`python -m tests.migrations.schema URL` prints it; so `sqlite.txt` and `postgresql.txt` were written, of databases that
the twelve steps before the base had made.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator

import sqlalchemy as sa

from triptych.catalog.database.engine import as_url, open_engine


def described(engine: sa.Engine) -> list[str]:
    """Give one line a table, index, trigger and function: what it is, its name, what it says."""
    find = _of_sqlite if engine.dialect.name == "sqlite" else _of_server
    with engine.connect() as connection:
        return sorted(f"{kind} {name}: {said}" for kind, name, said in find(connection) if name != "alembic_version")


def _of_sqlite(connection: sa.Connection) -> Iterator[tuple[str, str, str]]:
    found = connection.exec_driver_sql("SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    tell = {"table": _table, "index": _even, "trigger": _trigger}
    for kind, name, said in found:
        yield kind, name, tell[kind](said)


def _table(said: str) -> str:
    """Spell the columns in their order, then the constraints by name."""
    inside, after = re.fullmatch(r"CREATE TABLE \S+ \((.*)\)(.*)", _even(said)).groups()  # type: ignore[union-attr]  # else the test ends here
    items = re.split(r", (?![^()]*\))", re.sub(r"\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\)", _hidden, inside))
    shown = [item.replace("\0", ",").strip() for item in items]
    constraints = sorted(item for item in shown if item.startswith("CONSTRAINT"))
    return "; ".join([*(item for item in shown if item not in constraints), *constraints, after.strip()])


def _hidden(found: re.Match[str]) -> str:
    return found[0].replace(",", "\0")


def _trigger(said: str) -> str:
    """Spell when it runs, then each statement; what is so anyway is left out."""
    head, body = _even(said).removesuffix(" END").split(" BEGIN ", maxsplit=1)
    when, _, only = head.replace(" FOR EACH ROW", "").partition(" WHEN ")
    lines = [_statement(line.strip(), only) for line in body.split(";") if line.strip()]
    return "; ".join([f"{when} WHEN {_bare(only)}", *lines])


def _statement(line: str, only: str) -> str:
    refusal = re.fullmatch(r"SELECT RAISE\(ABORT, '([^']*)'\)(?: WHERE (.*))?", line)
    return f"refuses '{refusal[1]}' if {_condition(refusal[2], only)}" if refusal else line


def _of_server(connection: sa.Connection) -> Iterator[tuple[str, str, str]]:
    for kind, query in _QUERIES.items():
        for name, said in connection.exec_driver_sql(query):
            yield kind, name, _even(said)
    for name, head, body in connection.exec_driver_sql(_FUNCTIONS):
        if name not in _LEFT_OUT:
            yield "function", name, f"{head} {_function(body) if ' trigger ' in head else _even(body)}"


_LEFT_OUT = ("post_movement", "record_lines")
"""Functions of the steps that no program calls any more; where they are, they may stay."""

_FUNCTIONS = """
SELECT proname, concat_ws(' ', pg_get_function_arguments(oid), 'RETURNS', pg_get_function_result(oid), prosecdef,
  proconfig::text), prosrc FROM pg_proc WHERE pronamespace = 'public'::regnamespace
"""

_QUERIES = {
    "columns": """
SELECT c.relname, string_agg(concat_ws(' ', a.attname, format_type(a.atttypid, a.atttypmod), l.collname,
  CASE WHEN a.attnotnull THEN 'NOT NULL' END, pg_get_expr(d.adbin, d.adrelid)), '; ' ORDER BY a.attnum)
FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0
LEFT JOIN pg_attrdef d ON d.adrelid = c.oid AND d.adnum = a.attnum
LEFT JOIN pg_collation l ON l.oid = a.attcollation AND l.collname <> 'default'
WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace GROUP BY 1
""",
    "constraints": """
SELECT c.relname, string_agg(n.conname || ' ' || pg_get_constraintdef(n.oid), '; ' ORDER BY n.conname)
FROM pg_class c JOIN pg_constraint n ON n.conrelid = c.oid AND n.contype IN ('c', 'f', 'p', 'u', 'x')
WHERE c.relnamespace = 'public'::regnamespace GROUP BY 1
""",
    "index": "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'",
    "trigger": "SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal",
}


def _function(body: str) -> str:
    """Spell what the function of a trigger does, then what it refuses, in order; a case stands for a row of IFs."""
    cases = re.compile(r"^\s*WHEN (?P<if>.+?)\s+THEN '(?P<said>[^']+)'$", re.MULTILINE | re.DOTALL)
    plain = re.sub(r"--.*", "", body)
    one = r"IF (?P<if>(?:(?!\bIF\b).)+?) THEN RAISE EXCEPTION '(?P<said>[^'%]+)'|RAISE EXCEPTION '(?P<flat>[^'%]+)'"
    text = _even(cases.sub(lambda found: f"IF {found['if']} THEN RAISE EXCEPTION '{found['said']}'", plain))
    refusals = [
        f"refuses '{found['said'] or found['flat']}' if {_condition(found['if'], _guard(text, found.start()))}"
        for found in re.finditer(one, text)
    ]
    does = re.findall(r"(?:PERFORM|INSERT INTO|UPDATE|SELECT h\.pack|NEW\.\w+ :=)[^;]*;", text)
    return "; ".join([*(line.rstrip(";") for line in does), *refusals])


def _guard(text: str, start: int) -> str:
    """Give the condition of the IF that stands around the one at `start`."""
    around = re.search(r"IF ((?:(?!\bIF\b|\bTHEN\b).)*) THEN (?:IF (?:(?!\bIF\b).)* END IF; )*$", text[:start])
    return around[1] if around else ""


def _condition(said: str | None, only: str) -> str:
    """Spell a condition with what the one around it says, once."""
    inner = _bare(said or "1 = 1")
    if inner == "1 = 1":
        return "it runs"
    if only:
        inner = f"{only} AND {_bare(inner.removeprefix(f'{only} AND '))}"
    return _without_null(inner)


def _without_null(said: str) -> str:
    """Leave out that a column has something where nothing else is asked: a comparison with NULL refuses nothing."""
    known = re.fullmatch(r"(NEW\.\w+) IS NOT NULL AND (.*)", said)
    alone = known and set(re.findall(r"NEW\.\w+", known[2])) == {known[1]} and "NULL" not in known[2]
    return _bare(known[2]) if known and alone else said


def _bare(said: str) -> str:
    """Take off brackets that stand around all of it."""
    while said.startswith("(") and _closes(said) == len(said) - 1:
        said = said[1:-1]
    return said


def _closes(said: str) -> int:
    depth = 0
    for place, sign in enumerate(said):
        depth += (sign == "(") - (sign == ")")
        if depth == 0:
            return place
    return -1


def _even(said: str) -> str:
    """Spell without comments and quotes of names, with one space where there is any."""
    plain = " ".join(re.sub(r"--.*", "", said).replace('"', "").split())
    return plain.replace("( ", "(").replace(" )", ")")


if __name__ == "__main__":
    print("\n".join(described(open_engine(as_url(sys.argv[1])))))  # noqa: T201  it is what this is for
