"""Time a row of importing loudspeakers, beside pandas' reading of the same file and `executemany` into one wide table.

`python -m tests.benchmarks.bench_import 20000`; CPU time, each the least of three by turns. The row's time is without
its acoustic profile, which has a line of its own: the command computes it after the import, in copies of the process.
"""

from __future__ import annotations

import csv
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pandas as pd
import sqlalchemy as sa

from triptych import seed_data
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.database.models import Loudspeaker
from triptych.catalog.files.importing import Import, import_file
from triptych.recommender.advise.ahead import profiles

ROUNDS = 3
SCATTERED = ("width", "height", "depth", "weight", "axis_height", "price")
"""Figures that differ from loudspeaker to loudspeaker, in mm, 0.1 kg and EUR; the others are the seed data's."""


def make(path: Path, rows: int) -> None:
    """Write a file of so many loudspeakers, their sizes, weights and prices scattered by a tenth."""
    with (Path(next(iter(seed_data.__path__))) / "loudspeakers.csv").open(encoding="utf-8") as stream:
        seed = list(csv.DictReader(stream))
    chance = random.Random(rows)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(seed[0]))
        writer.writeheader()
        for number in range(rows):
            row = dict(seed[number % len(seed)])
            scale = chance.uniform(1, 1.1)
            for name in SCATTERED:
                row[name] = f"{float(row[name]) * scale:.{name == 'weight':d}f}" if row[name] else ""
            writer.writerow(row | {"model": f"{row['model']} {number}"})


def imported(path: Path, folder: Path) -> None:
    copy = shutil.copy(folder / "empty.db", folder / f"{time.monotonic_ns()}.db")
    engine = open_catalogue(str(copy), quiet=True)
    import_file(engine, Import(path, {}, None, clear=False, keep_good=False, dry_run=False))
    engine.dispose()


def profiled(path: Path, folder: Path) -> None:
    """Compute the profiles of what was imported last."""
    engine = open_catalogue(str(max(folder.glob("[0-9]*.db"), key=lambda file: file.stat().st_mtime_ns)), quiet=True)
    with reading(engine) as session:
        keys = list(session.scalars(sa.select(Loudspeaker.name_key)))
    profiles(engine, keys)
    engine.dispose()


def wide(path: Path, folder: Path) -> None:
    table = pd.read_csv(path)
    rows = table.astype(object).where(table.notna(), None).to_numpy().tolist()
    with closing(sqlite3.connect(folder / f"wide {time.monotonic_ns()}.db")) as connection, connection:
        connection.execute(f"CREATE TABLE wide ({', '.join(table.columns)})")
        connection.executemany(f"INSERT INTO wide VALUES ({', '.join('?' * len(table.columns))})", rows)


def cpu(what: Callable[[Path, Path], None], path: Path, folder: Path) -> float:
    start = used()
    what(path, folder)
    return used() - start


def used() -> float:
    """CPU of this process and of the copies it has waited for [s]."""
    both = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in both)


def main(rows: int = 20_000) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "loudspeakers.csv"
        open_catalogue(str(folder / "empty.db"), quiet=True).dispose()
        make(path, 100)
        for what in (imported, wide):
            what(path, folder)  # so that nobody pays for the modules
        make(path, rows)
        found = [(cpu(imported, path, folder), cpu(wide, path, folder)) for _ in range(ROUNDS)]
        ours, theirs = (min(times) / rows * 1e6 for times in zip(*found, strict=True))
        print(f"{rows} rows: {ours:.0f} us a row; pandas and executemany {theirs:.0f} us; {ours / theirs:.1f} times")
        computed = cpu(profiled, path, folder) / rows * 1e6
        print(f"{ours + computed:.0f} us a row with its acoustic profile, which takes {computed:.0f} us")
        tracemalloc.start()
        imported(path, folder)
        print(f"memory at its most {tracemalloc.get_traced_memory()[1] / 2**20:.0f} MiB")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
