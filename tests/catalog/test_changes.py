"""What a file changes is worked out while others write; a write that was overtaken is worked out anew."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.catalog.exchange_records import CATALOGUES
from tests.conftest import example_count
from triptych.catalog.database import changes, reads, writes
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files import importing
from triptych.catalog.files.importing import Import, import_file
from triptych.catalog.files.loudspeakers import csv_of
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.catalog.stated_records import NAME_PARTS

LINDEN = LoudspeakerRecord("Oatfell", "Wren", series="Linden", roles=frozenset({Role.CENTRE}), width=0.5)


def wanted(file: Path, *, clear: bool = False, dry_run: bool = False) -> Import:
    return Import(file, {}, None, clear=clear, keep_good=False, dry_run=dry_run)


def only(columns: Sequence[str], text: str) -> str:
    """A file of loudspeakers with some of its columns."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, columns, extrasaction="ignore")
    writer.writeheader()
    writer.writerows(csv.DictReader(io.StringIO(text, newline="")))
    return stream.getvalue()


@pytest.mark.examples
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=example_count(1 / 3)
)
@given(records=CATALOGUES, columns=st.sets(st.sampled_from(sorted(set(COLUMNS) - set(NAME_PARTS)))))
def test_any_columns_of_an_export_change_nothing(
    sqlite_template: Path,
    tmp_path_factory: pytest.TempPathFactory,
    records: list[LoudspeakerRecord],
    columns: set[str],
) -> None:
    folder = tmp_path_factory.mktemp("some")
    engine = open_catalogue(str(shutil.copy(sqlite_template, folder / "shop.db")))
    (folder / "all.csv").write_text(csv_of(records), encoding="utf-8", newline="")
    (folder / "some.csv").write_text(
        only([*NAME_PARTS, *sorted(columns)], csv_of(records)), encoding="utf-8", newline=""
    )
    assert import_file(engine, wanted(folder / "all.csv")).added == len(records)
    with reading(engine) as session:
        before = reads.loudspeakers(session)
    if records:
        assert import_file(engine, wanted(folder / "some.csv")).unchanged == len(records)
    with reading(engine) as session:
        assert reads.loudspeakers(session) == before
    engine.dispose()


def test_a_stored_name_is_never_divided_otherwise(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        with pytest.raises(BadInput, match="maker 'Oatfell', series 'Linden', model 'Wren' in the catalogue"):
            writes.save_loudspeakers(session, [replace(LINDEN, series=None, model="Linden Wren")])


@pytest.mark.parametrize("meanwhile", [LINDEN, replace(LINDEN, width=0.6)])
def test_what_was_overtaken_is_not_written(engine: sa.Engine, meanwhile: LoudspeakerRecord) -> None:
    known = meanwhile is not LINDEN
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN] if known else [])
    with reading(engine) as session:
        by_key = changes.checked([replace(LINDEN, width=0.7)])
        made = changes.changes_of(by_key, reads.stored_by_key(session, by_key))
    with writing(engine) as session:
        changes.refuse_overtaken(session, made)
        writes.save_loudspeakers(session, [meanwhile])
        with pytest.raises(Overtaken, match="try again"):
            changes.refuse_overtaken(session, made)


@pytest.mark.whole
def test_an_import_that_is_overtaken_is_worked_out_anew(
    sqlite_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = open_catalogue(str(sqlite_path))
    file = tmp_path / "shop.csv"
    file.write_text("maker,series,model,roles,weight\nOatfell,Linden,Wren,centre,12\n", encoding="utf-8")
    overtaking = [0.6, 0.7]
    whole = importing._written

    def overtaken(*arguments: Any) -> object:
        if overtaking:
            with writing(engine) as session:
                writes.save_loudspeakers(session, [replace(LINDEN, width=overtaking.pop())])
        return whole(*arguments)

    monkeypatch.setattr(importing, "_written", overtaken)
    assert import_file(engine, wanted(file)).changed == 1
    with reading(engine) as session:
        found = reads.loudspeaker(session, LINDEN.name)
    assert (found.width, found.weight) == (0.6, 12.0)
    overtaking += [0.1 * number for number in range(2, 12)]
    file.write_text(file.read_text(encoding="utf-8").replace("12", "13"), encoding="utf-8")
    with pytest.raises(Overtaken):
        import_file(engine, wanted(file))
    engine.dispose()


def test_a_dry_run_waits_for_no_writer(sqlite_path: Path, tmp_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    file = tmp_path / "shop.csv"
    file.write_text("maker,model,roles\nOatfell,Wren,centre\n", encoding="utf-8")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        began = time.monotonic()
        assert import_file(engine, wanted(file, dry_run=True)).added == 1
        assert time.monotonic() - began < 5
    engine.dispose()


MANY = 5_000
LONGEST_WAIT = 5.0
"""What another writer may wait while 5,000 loudspeakers come in, on two cores that others use too. [s]."""


@pytest.mark.processes
def test_thousands_of_rows_hold_up_no_other_writer(sqlite_path: Path, tmp_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    file = tmp_path / "shop.csv"
    header = "maker,series,model,roles,width,height,depth,weight,sensitivity,impedance_nominal,price,currency\n"
    rows = (f"Oatfell,Linden,Wren {number},centre,178,545,320,12.5,88,6,520,EUR\n" for number in range(MANY))
    file.write_text(header + "".join(rows), encoding="utf-8")
    program = "import sys; from triptych.recommender.cli import main; main()"
    command = [sys.executable, "-c", program, "speaker", "import", str(file), "--db", str(sqlite_path)]
    waits: list[float] = []
    done = threading.Event()

    def write() -> None:
        while not done.is_set():
            began = time.monotonic()
            with writing(engine) as session:
                writes.save_loudspeakers(session, [replace(LINDEN, width=0.5 + 0.001 * (len(waits) % 2))])
            waits.append(time.monotonic() - began)
            time.sleep(0.05)

    other = threading.Thread(target=write)
    other.start()
    try:
        result = subprocess.run(command, capture_output=True, text=True, check=False, timeout=600)
    finally:
        done.set()
        other.join()
    assert (result.returncode, result.stderr) == (0, f"added {MANY}, changed 0, unchanged 0\n")
    assert len(waits) > 5
    assert max(waits) < LONGEST_WAIT
    engine.dispose()
