"""What a command does not need it does not import: held by modules, as times depend on the machine."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.records import LoudspeakerRecord, Role

HEAVY = {
    *("alembic", "anyio", "argon2", "numba", "numpy", "openpyxl", "pandas", "psycopg", "python_multipart", "rapidfuzz"),
    *("pydantic", "scipy", "starlette", "tomli_w", "uvicorn", "weasyprint"),
}
TABLES = "triptych.catalog.database.models."
PROGRAM = """
import json, sys
from triptych.recommender.cli import main
try:
    main()
except SystemExit:
    pass
print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""

PLAN = """
currency = "EUR"
limit = 7000
tax_included = true
tax_rate = 20
[want]
mains = 2
centre = 1
sub = 1
"""

LISTS: dict[str, set[str]] = {
    "speaker list": set(),
    "speaker list --role centre --text wren --max-width 500": set(),
    "room list": set(),
    "room list --format json": set(),
    "stock list": set(),
    "maker list": {"ledger_tables", "loudspeaker_tables"},
}
"""The modules of tables that each of these imports; what asks a file through its driver needs none, nor SQLAlchemy."""


def imported(path: Path, *words: str) -> set[str]:
    environment = os.environ | {"TRIPTYCH_DB": str(path), "PYTHONPATH": str(Path(".package").resolve())}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *words], env=environment, capture_output=True, text=True, check=True
    )
    return set(json.loads(done.stderr.splitlines()[-1]))


@pytest.mark.processes
@pytest.mark.parametrize("words", LISTS)
def test_a_list_imports_no_more_than_it_needs(sqlite_path: Path, words: str) -> None:
    engine = open_catalogue(str(sqlite_path))
    with writing(engine) as session:
        save_loudspeakers(session, [LoudspeakerRecord("Oatfell", "Wren", roles=frozenset({Role.CENTRE}))])
    engine.dispose()
    modules = imported(sqlite_path, *words.split())
    assert modules & HEAVY == set()
    assert ("sqlalchemy" in modules) == bool(LISTS[words])
    assert "iso4217" not in modules
    assert {name.removeprefix(TABLES) for name in modules if name.startswith(TABLES)} - {"base"} == LISTS[words]
    for part in ("datasheet", "files", "database.writes", "database.changes"):
        assert not any(name.startswith(f"triptych.catalog.{part}") for name in modules), part
    # of the recommender nothing but the tree of commands
    recommender = {name for name in modules if name.startswith("triptych.recommender")}
    assert recommender == {f"triptych.recommender{part}" for part in ("", ".cli", ".cli.began")}


@pytest.mark.processes
def test_a_match_imports_no_heavy_library_but_numpy(seeded_template: Path, tmp_path: Path) -> None:
    copy = tmp_path / "catalogue.db"
    copy.write_bytes(seeded_template.read_bytes())
    room = str(Path("seed_data/mill_house.toml").resolve())
    modules = imported(copy, "match", "--mains", "Bramble Thatch Trivet Tower", "--room", room)
    assert modules & (HEAVY - {"tomli_w"}) == {"numpy"}
    assert not any(name.startswith("triptych.catalog.datasheet") for name in modules)
    # the dialect of another engine, and what only other commands and formats need
    assert not any(name.startswith("sqlalchemy.dialects.postgresql") for name in modules)
    assert modules & {"triptych.recommender.cli.ranking_csv", "triptych.recommender.advise.compare"} == set()


PROGRAM_AT_ITS_END = """
import gc, os, sys
from triptych.recommender.cli import main
try:
    main()
except SystemExit:
    pass
print(gc.get_freeze_count(), os.environ["OPENBLAS_NUM_THREADS"], file=sys.stderr)
"""


@pytest.mark.processes
def test_a_command_neither_looks_for_garbage_at_its_end_nor_starts_threads(tmp_path: Path) -> None:
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    environment |= {"TRIPTYCH_DB": str(tmp_path / "c.db"), "PYTHONPATH": str(Path(".package").resolve())}
    words = [sys.executable, "-c", PROGRAM_AT_ITS_END, "--version"]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True)
    frozen, threads = map(int, done.stderr.split())
    assert (frozen > 10_000, threads) == (True, 1)


@pytest.mark.processes
def test_a_plan_imports_no_heavy_library_but_numpy(seeded_template: Path, tmp_path: Path) -> None:
    copy, plan = tmp_path / "catalogue.db", tmp_path / "plan.toml"
    copy.write_bytes(seeded_template.read_bytes())
    plan.write_text(PLAN, encoding="utf-8")
    words = ("budget", "plan", str(plan), "--room", str(Path("seed_data/mill_house.toml").resolve()))
    # the first computes acoustic profiles and keeps them, the second reads them
    imported(copy, *words)
    modules = imported(copy, *words)
    assert modules & HEAVY == {"numpy", "tomli_w"}
    for part in ("catalog.datasheet", "catalog.stock", "catalog.database.writes", "catalog.database.changes"):
        assert not any(name.startswith(f"triptych.{part}") for name in modules), part
