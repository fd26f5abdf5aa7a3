from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import alembic_config, open_engine, reading, writing
from triptych.catalog.database.models import Base
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.migrations import HEAD

pytestmark = pytest.mark.migration

LINDEN = LoudspeakerRecord(
    maker="Oatfell", model="Centre", roles=frozenset({Role.CENTRE}), woofer_count=2, crossover=(350.0, 2800.0)
)


@pytest.fixture
def migrate(empty_url: str) -> Iterator[tuple[sa.Engine, Config]]:
    engine = open_engine(empty_url)
    config = alembic_config()
    config.attributes["url"] = empty_url
    yield engine, config
    engine.dispose()


def _constraints(engine: sa.Engine) -> dict[str, set[str]]:
    inspector = sa.inspect(engine)
    found: dict[str, set[str]] = {}
    for table in Base.metadata.tables:
        named = [
            *inspector.get_check_constraints(table),
            *inspector.get_unique_constraints(table),
            *inspector.get_foreign_keys(table),
            *inspector.get_indexes(table),
        ]
        # an exclusion constraint is PostgreSQL's alone; on SQLite triggers do its work
        found[table] = {str(item["name"]) for item in named if not str(item["name"]).startswith("ex_")}
    if engine.dialect.name == "postgresql":
        found["movement"] |= _checked_by_trigger(engine)
    return found


def _checked_by_trigger(engine: sa.Engine) -> set[str]:
    """On PostgreSQL a trigger checks a movement, since it is parsed once; test_stock_guards sees what it refuses."""
    with engine.connect() as connection:
        body = connection.exec_driver_sql("SELECT prosrc FROM pg_proc WHERE proname = 'movement_line'").scalar_one()
    return set(re.findall(r"RAISE EXCEPTION '(ck_movement_\w+)", body))


def _wanted() -> dict[str, set[str]]:
    return {
        name: {str(item.name) for item in table.constraints if not isinstance(item, sa.PrimaryKeyConstraint)}
        | {str(item.name) for item in table.indexes}
        for name, table in Base.metadata.tables.items()
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


def test_head_is_the_newest_file_and_the_files_are_one_line() -> None:
    scripts = ScriptDirectory.from_config(alembic_config())
    assert scripts.get_heads() == [HEAD]
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


def test_rows_of_the_first_revision_are_there_at_the_newest(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "0001")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
    command.upgrade(config, "head")
    with reading(engine) as session:
        assert reads.loudspeaker(session, LINDEN.name) == LINDEN


def test_the_steps_can_be_printed_as_sql(migrate: tuple[sa.Engine, Config], capsys: pytest.CaptureFixture[str]) -> None:
    _, config = migrate
    command.upgrade(config, "head", sql=True)
    printed = capsys.readouterr().out
    assert all(f"CREATE TABLE {table} " in printed for table in Base.metadata.tables)
