"""Hostile files at the door of an import: refused or taken as a whole, at once, within bounded memory."""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
from pathlib import Path
from time import process_time

import pytest

from tests.catalog.filling import untouched
from tests.catalog.hostile_files import HOSTILE, RECORDS, dump, hostile, mutants, outcome
from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.writes import save_loudspeakers

LONGEST = 6.0
"""What any of these files may take of one core. [s]."""

MOST_MEMORY = 700 * 2**20
"""Address space of a whole program that reads one of these files; some 300 MiB are its libraries'. [bytes]."""

HEAVY = (
    "a bomb of entities",
    "a bomb of one cell",
    "a cell of megabytes",
    "blank lines",
    "many rows",
    "sheets without end",
)
"""What takes a while to be made or told."""

READ = """
import resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_AS, ({most}, {most}))
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.errors import BadInput
for name in sys.argv[1:]:
    try:
        reading = read_loudspeakers(Path(name))
        print(name, "problems", len(reading.problems), "records", len(reading.records))
    except BadInput as refusal:
        print(name, "refused", refusal)
"""


@pytest.fixture(scope="module")
def shop(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = Path(shutil.copy(sqlite_template, tmp_path_factory.mktemp("shop") / "catalogue.db"))
    engine = open_catalogue(str(path))
    with writing(engine) as session:
        save_loudspeakers(session, RECORDS)
    engine.dispose()
    return path


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow if name in HEAVY else ()) for name in HOSTILE]
)
def test_a_hostile_file_is_refused_at_once_and_changes_nothing(name: str, shop: Path, tmp_path: Path) -> None:
    catalogue = Path(shutil.copy(shop, tmp_path / "catalogue.db"))
    engine = open_catalogue(str(catalogue))
    file = tmp_path / "shop"
    file.write_bytes(hostile(name))
    with untouched(catalogue):
        began = process_time()
        said = outcome(engine, file)
        assert process_time() - began < LONGEST
        engine.dispose()
    assert said.startswith("refused: shop")
    assert len(said) < 400


@pytest.mark.processes
def test_hostile_files_take_little_memory(tmp_path: Path) -> None:
    names = [name for name in HOSTILE if "stray" in name or "bomb" in name or "mega" in name]
    for name in names:
        (tmp_path / name).write_bytes(hostile(name))
    command = [sys.executable, "-c", READ.format(most=MOST_MEMORY), *names]
    result = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60, cwd=tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert "memory" not in result.stdout.casefold()
    assert [any(line.startswith(name) for line in result.stdout.splitlines()) for name in names] == [True] * len(names)
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss > 0


@pytest.mark.examples
def test_a_good_file_with_bad_bytes_is_taken_whole_or_not_at_all(sqlite_path: Path, tmp_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    with writing(engine) as session:
        save_loudspeakers(session, RECORDS)
    taken = refused = 0
    for number, content in enumerate(mutants(60, tmp_path)):
        before = dump(sqlite_path)
        file = tmp_path / f"{number}"
        file.write_bytes(content)
        if outcome(engine, file).startswith("refused"):
            refused += 1
            assert dump(sqlite_path) == before
        else:
            taken += 1
            assert outcome(engine, file).startswith("taken: Saved(added=0, changed=0")
    assert taken
    assert refused
    engine.dispose()
