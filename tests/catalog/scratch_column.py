"""What `test_fields` runs on a copy of the catalogue whose loudspeaker has one line more; it prints what it finds."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.orm import Session
from typer.testing import CliRunner

from tests.catalog.columns_told import columns_told
from tests.catalog.exchange_records import all_or_nothing
from tests.test_readme_fields import columns
from triptych.catalog import fields
from triptych.catalog.cli import speaker
from triptych.catalog.cli.values import LOUDSPEAKER_UNITS, loudspeaker_values
from triptych.catalog.database import reads, writes
from triptych.catalog.database.models import every_table
from triptych.catalog.files.loudspeakers import csv_of, read_loudspeakers


def found(name: str, folder: Path) -> dict[str, object]:
    file = folder / "shop.csv"
    file.write_text(f'maker,model,roles,{name}\nOatfell,Wren,centre,"7,5 cm"\n', encoding="utf-8")
    (record,) = all_or_nothing(read_loudspeakers(file))
    file.write_text(csv_of([record]), encoding="utf-8")
    table = every_table().tables["loudspeaker"]
    engine = sa.create_engine("sqlite://")
    every_table().create_all(engine)
    with Session(engine) as session:
        writes.save_loudspeakers(session, [record])
        stored = reads.loudspeaker(session, record.name)
        offered = columns_told(session)[name]
    return {
        "read": getattr(record, name),
        "written and read again": all_or_nothing(read_loudspeakers(file)) == (record,),
        "stored": stored == record,
        "where from": stored.figures[name].raw,
        "for the recommender": offered,
        "json": [loudspeaker_values(stored)[name], LOUDSPEAKER_UNITS[name]],
        "options": CliRunner().invoke(speaker.app, ["add", "--help"], env={"COLUMNS": "200"}).output,
        "checks": [str(check.name) for check in table.constraints if name in str(check.name)],
        "columns": list(fields.COLUMNS),
        "readme": columns(),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(found(sys.argv[1], Path(sys.argv[2]))))
