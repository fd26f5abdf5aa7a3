from __future__ import annotations

import logging
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from tests.catalog.stock_shop import LATER, open_shop, there
from tests.migrations.schema import described
from triptych.catalog import stock
from triptych.catalog.database import engine as database
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import (
    alembic_config,
    open_catalogue,
    reading,
    revision_of,
    upgrade,
    writing,
)
from triptych.catalog.database.models import MovementKind, every_table
from triptych.catalog.errors import DatabaseProblem
from triptych.catalog.records import (
    LoudspeakerRecord,
    Role,
)
from triptych.catalog.stock.proof import check
from triptych.migrations import BASE, HEAD, guards

pytestmark = pytest.mark.migration

LINDEN = LoudspeakerRecord(
    maker="Oatfell", model="Centre", roles=frozenset({Role.CENTRE}), woofer_count=2, crossover=(350.0, 2800.0)
)


def _constraints(engine: sa.Engine) -> dict[str, set[str]]:
    inspector = sa.inspect(engine)
    found: dict[str, set[str]] = {}
    for table in every_table().tables:
        named = [
            *inspector.get_check_constraints(table),
            *inspector.get_unique_constraints(table),
            *inspector.get_foreign_keys(table),
            *inspector.get_indexes(table),
        ]
        # an exclusion constraint is PostgreSQL's alone; on SQLite triggers do its work
        found[table] = {str(item["name"]) for item in named if item["name"] and not item["name"].startswith("ex_")}
        found[table] |= _of_a_column(engine, table)
    if engine.dialect.name == "postgresql":
        found["movement"] |= _checked_by_trigger(engine)
    return found


def _of_a_column(engine: sa.Engine, table: str) -> set[str]:
    """Keys that stand in a column's own line, as ALTER TABLE writes them on SQLite: no inspector reads their names."""
    if engine.dialect.name != "sqlite":
        return set()
    with engine.connect() as connection:
        said = connection.exec_driver_sql("SELECT sql FROM sqlite_schema WHERE name = ?", (table,)).scalar_one()
    return set(re.findall(r"CONSTRAINT (fk_\w+) REFERENCES", said))


def _checked_by_trigger(engine: sa.Engine) -> set[str]:
    """On PostgreSQL a trigger checks a movement, since it is parsed once; test_stock_guards sees what it refuses."""
    with engine.connect() as connection:
        body = connection.exec_driver_sql("SELECT prosrc FROM pg_proc WHERE proname = 'movement_line'").scalar_one()
    return set(re.findall(r"THEN '(ck_movement_\w+)'", body))


def _wanted() -> dict[str, set[str]]:
    return {
        name: {str(item.name) for item in table.constraints if not isinstance(item, sa.PrimaryKeyConstraint)}
        | {str(item.name) for item in table.indexes}
        for name, table in every_table().tables.items()
    }


def test_up_down_and_up_again_leaves_nothing_to_generate(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    command.check(config)
    command.downgrade(config, "base")
    assert sa.inspect(engine).get_table_names() == ["alembic_version"]
    command.upgrade(config, "head")
    command.check(config)


def test_every_constraint_of_the_models_is_in_the_database(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    assert _constraints(engine) == _wanted()


def test_the_base_makes_what_the_steps_before_it_made(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, BASE)
    made = (Path(__file__).parent / f"{engine.dialect.name}.txt").read_text(encoding="utf-8").splitlines()
    assert described(engine) == made


CHANGES = [
    "DROP TRIGGER holding_never_delete {on_holding}",
    "DROP INDEX ix_movement_from_id",
    "ALTER TABLE room ADD COLUMN colour {text}",
    "ALTER TABLE room RENAME COLUMN mains_spacing TO spacing",
]


def test_a_guard_an_index_or_a_column_that_differs_is_seen(engine: sa.Engine) -> None:
    before = described(engine)
    on_holding = "" if engine.dialect.name == "sqlite" else "ON holding"
    for change in CHANGES:
        with engine.connect().execution_options(write=True) as connection:
            connection.exec_driver_sql(change.format(on_holding=on_holding, text="TEXT"))
            connection.commit()
        after = described(engine)
        assert after != before, change
        before = after


def test_head_is_the_newest_file_and_the_files_are_one_line() -> None:
    scripts = ScriptDirectory.from_config(alembic_config())
    assert (scripts.get_bases(), scripts.get_heads()) == ([BASE], [HEAD])
    for script in scripts.walk_revisions():
        assert Path(script.path).name.startswith(f"{script.revision}_")


@pytest.fixture
def later(migrate: tuple[sa.Engine, Config], tmp_path: Path) -> tuple[sa.Engine, Config]:
    """Give a configuration that has one more revision, in a folder of the test's own, and a catalogue with rows."""
    engine, config = migrate
    shipped = Path(ScriptDirectory.from_config(config).versions)
    config.set_main_option("version_locations", f"{shipped}:{tmp_path}".replace("%", "%%"))
    command.upgrade(config, "head")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
    return engine, config


def _write_revision(folder: Path, body: str) -> None:
    (folder / "9000_test.py").write_text(
        f"import sqlalchemy as sa\nfrom alembic import op\nrevision = '9000'\ndown_revision = '{HEAD}'\n"
        f"def upgrade():\n{body}\ndef downgrade():\n    pass\n"
    )


def test_a_batch_change_of_a_parent_keeps_its_children(later: tuple[sa.Engine, Config], tmp_path: Path) -> None:
    engine, config = later
    _write_revision(
        tmp_path,
        "    recreate = 'always' if op.get_bind().dialect.name == 'sqlite' else 'auto'\n"
        "    for table in ('maker', 'loudspeaker'):\n"
        "        with op.batch_alter_table(table, recreate=recreate) as batch:\n"
        "            batch.add_column(sa.Column('country', sa.String()))",
    )
    command.upgrade(config, "9000")
    with reading(engine) as session:
        assert reads.loudspeaker(session, LINDEN.name) == LINDEN
    assert _constraints(engine) == _wanted()
    with writing(engine) as session, pytest.raises(sa.exc.IntegrityError):
        session.execute(sa.text("INSERT INTO loudspeaker_role VALUES (99, 'main')"))
    assert _strict(engine)


def test_a_batch_change_of_the_ledger_keeps_its_lines_and_makes_its_guards_anew(
    later: tuple[sa.Engine, Config], tmp_path: Path
) -> None:
    engine, config = later
    with writing(engine) as session:
        shop = open_shop(session, centres=5)
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="Mill House", until=LATER))
    _write_revision(
        tmp_path,
        "    from triptych.migrations import guards\n"
        "    with op.batch_alter_table('movement') as batch:\n"
        "        batch.add_column(sa.Column('colour', sa.String()))\n"
        "        batch.create_check_constraint(op.f('ck_movement_coloured'), \"colour <> ''\")\n"
        "    if op.get_bind().dialect.name == 'sqlite':\n"
        "        guards.make('movement')",
    )
    before = described(engine)
    command.upgrade(config, "9000")
    assert [line for line in described(engine) if line.startswith("trigger")] == [
        line for line in before if line.startswith("trigger")
    ]
    with writing(engine) as session:
        assert there(session, shop) == 5
        stock.record_movement(session, shop.line(MovementKind.SELL, 3))
        assert all(finding.holds for finding in check(session))
    with writing(engine) as session, pytest.raises(sa.exc.IntegrityError, match="only added to"):
        session.execute(sa.text("UPDATE movement SET quantity = 1"))


def test_only_what_is_upgraded_is_copied_first(
    later: tuple[sa.Engine, Config], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    engine, config = later
    assert upgrade(engine) is None
    _write_revision(tmp_path, "    op.add_column('maker', sa.Column('country', sa.String()))")
    monkeypatch.setattr(database, "alembic_config", lambda: config)
    monkeypatch.setattr(database, "HEAD", "9000")
    with caplog.at_level(logging.WARNING):
        copy = upgrade(engine)
    assert revision_of(engine) == "9000"
    assert upgrade(engine) is None
    with reading(engine) as session:
        assert reads.loudspeaker(session, LINDEN.name) == LINDEN
    if engine.dialect.name == "postgresql":
        assert copy is None
        return
    assert copy is not None
    assert copy.name.startswith(f"empty.{HEAD}.20")
    assert str(copy) in caplog.text
    with closing(sqlite3.connect(copy)) as old:
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]
        assert old.execute("SELECT name FROM maker").fetchall() == [("Oatfell",)]


@pytest.mark.parametrize("old", ["0001", "0011"])
def test_a_database_from_before_the_base_is_told_how_to_go_on_and_left_alone(
    migrate: tuple[sa.Engine, Config], old: str
) -> None:
    engine, _ = migrate
    with engine.connect().execution_options(write=True) as connection:
        connection.execute(sa.text("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL)"))
        connection.execute(sa.text(f"INSERT INTO alembic_version VALUES ('{old}')"))
        connection.execute(sa.text("CREATE TABLE maker (id INTEGER NOT NULL)"))
        connection.commit()
    before = described(engine)
    with pytest.raises(DatabaseProblem, match=rf"revision {old}, and this program begins at {BASE}: .*export what"):
        open_catalogue(engine.url.render_as_string(hide_password=False))
    assert (described(engine), revision_of(engine)) == (before, old)


def _strict(engine: sa.Engine) -> bool:
    if engine.dialect.name != "sqlite":
        return True
    with engine.connect() as connection:
        tables = connection.exec_driver_sql("SELECT sql FROM sqlite_schema WHERE name = 'loudspeaker'").scalars().all()
    return all(sql.rstrip().endswith("STRICT") for sql in tables)


@pytest.mark.parametrize("failing", ["raise RuntimeError('half way')", "op.execute('DELETE FROM maker')"])
def test_a_migration_that_fails_leaves_nothing_behind(
    later: tuple[sa.Engine, Config], tmp_path: Path, failing: str
) -> None:
    engine, config = later
    create = "op.create_table('half', sa.Column('id', sa.Integer(), primary_key=True))"
    _write_revision(tmp_path, f"    {create}\n    {failing}")
    with pytest.raises((RuntimeError, sa.exc.IntegrityError), match=r"half way|without their parent|fk_"):
        command.upgrade(config, "9000")
    assert "half" not in sa.inspect(engine).get_table_names()
    with reading(engine) as session:
        assert reads.loudspeaker(session, LINDEN.name) == LINDEN


def test_the_steps_can_be_printed_as_sql(migrate: tuple[sa.Engine, Config], capsys: pytest.CaptureFixture[str]) -> None:
    _, config = migrate
    command.upgrade(config, "head", sql=True)
    printed = capsys.readouterr().out
    assert all(f"CREATE TABLE {table} " in printed for table in every_table().tables)
    assert all(f"CREATE TRIGGER {name} " in printed for name in guards.names("sqlite") if "sqlite" in printed)
