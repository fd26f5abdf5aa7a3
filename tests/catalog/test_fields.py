from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from sqlalchemy.orm import Session

from tests.catalog.exchange_records import all_or_nothing, loudspeakers, rooms
from tests.conftest import example_count
from triptych.catalog.database import reads, writes
from triptych.catalog.fields import COLUMNS, SECTIONS, Field, fields_of
from triptych.catalog.files.loudspeakers import csv_of, read_loudspeakers
from triptych.catalog.files.rooms import room_from_toml, toml_of
from triptych.catalog.records import LoudspeakerRecord, RoomRecord

REPOSITORY: Final = Path(__file__).parents[2]
ROUND = settings(max_examples=example_count(2 / 3), suppress_health_check=list(HealthCheck))
EVERY = [*COLUMNS.values(), *(key for section in SECTIONS.values() for key in section.keys.values())]


@pytest.mark.slow
@given(record=loudspeakers())
@ROUND
def test_a_loudspeaker_goes_from_file_to_rows_and_back_identical(
    engine: sa.Engine, tmp_path: Path, record: LoudspeakerRecord
) -> None:
    file = tmp_path / "one.csv"
    file.write_text(csv_of([record]), encoding="utf-8")
    (read,) = all_or_nothing(read_loudspeakers(file))
    with Session(engine.execution_options(write=True)) as session:
        writes.save_loudspeakers(session, [read])
        stored = reads.loudspeaker(session, read.name)
        session.rollback()
    assert (read, stored) == (record, record)
    assert dict(stored.figures) == dict(read.figures)
    assert csv_of([stored]) == file.read_text(encoding="utf-8")


@pytest.mark.slow
@given(room=rooms())
@ROUND
def test_a_room_goes_from_file_to_rows_and_back_identical(engine: sa.Engine, room: RoomRecord) -> None:
    read = room_from_toml(toml_of(room), "room.toml")
    with Session(engine.execution_options(write=True)) as session:
        writes.save_room(session, read)
        stored = reads.room(session, read.name)
        session.rollback()
    assert (read, stored) == (room, room)
    assert toml_of(stored) == toml_of(room)


def test_every_attribute_of_a_record_is_described() -> None:
    records = [LoudspeakerRecord, *(section.record for section in SECTIONS.values())]
    whole = [{field.name for field in fields(record)} - {"figures"} for record in records]
    assert [set(fields_of(record)) for record in records] == whole


@pytest.mark.parametrize("field", EVERY, ids=lambda field: str(field.name))
def test_a_description_says_what_it_is_and_ends_without_a_stop(field: Field) -> None:
    assert len(field.help) > 5
    assert not field.about.meaning.endswith((".", " "))
    if field.quantity is not None:
        assert field.quantity.low < field.quantity.high
        assert all(field.quantity.low <= choice <= field.quantity.high for choice in field.about.choices)


def test_no_name_stands_for_two_storages() -> None:
    places = [column.about.stored for column in COLUMNS.values() if column.about.stored]
    assert len(places) == len(set(places))


def _with_one_line_more(folder: Path) -> None:
    """A copy of the catalogue whose records have a line more, beside links to the rest."""
    package = folder / "triptych"
    shutil.copytree(REPOSITORY / "catalog", package / "catalog")  # with what is compiled
    shutil.copy(REPOSITORY / ".package" / "triptych" / "__init__.py", package)
    for other in ("recommender", "migrations", "seed_data"):
        (package / other).symlink_to(REPOSITORY / other)
    records = package / "catalog" / "records.py"
    about = 'About("height of the grip", LENGTH, 0.01, 0.3, note="; 30 if empty")'
    line = f"    grip: Annotated[float | None, {about}] = None\n"
    before, after = records.read_text(encoding="utf-8").split("    feet: Annotated")
    records.write_text(f"{before}{line}    feet: Annotated{after}", encoding="utf-8")


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("scratch")
    _with_one_line_more(folder)
    done = subprocess.run(
        [sys.executable, "-m", "tests.catalog.scratch_column", "grip", str(folder)],
        env=os.environ | {"PYTHONPATH": os.pathsep.join((str(folder), str(REPOSITORY)))},
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.mark.processes
@pytest.mark.parametrize(
    ("where", "what"),
    [
        ("read", 0.075),
        ("written and read again", True),
        ("stored", True),
        ("where from", "7,5 cm"),
        ("for the recommender", [0.075]),
        ("json", [75.0, "mm"]),
        ("checks", ["ck_loudspeaker_grip_positive"]),
    ],
)
def test_one_line_makes_a_column_everywhere(scratch: dict[str, Any], where: str, what: object) -> None:
    assert scratch[where] == what


@pytest.mark.processes
def test_one_line_makes_an_option_and_its_documentation(scratch: dict[str, Any]) -> None:
    names = scratch["columns"]
    assert names[names.index("feet") - 1] == "grip"
    assert "--grip" in scratch["options"]
    assert "Height of the grip; 30 if empty [mm]" in scratch["options"]
    assert "| `grip` | Height of the grip; 30 if empty | 10 to 300 mm |" in scratch["readme"].splitlines()
