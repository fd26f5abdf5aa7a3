"""`budget plan` whole, over a catalogue of so many loudspeakers a role: seconds, CPU and memory of the command.

    python -m tests.benchmarks.bench_plan [--sizes 1000 10000] [--equipment 0]

With `--equipment N` there are N pieces too, and electronics, stands, mounts and cables are chosen instead of on lines.

The catalogue comes as a user's does: a file that `speaker import` takes, once with `--no-profiles`, so that the first
plan computes and stores them, and once without, so that the import does. All of CPU is that of user and system; modules
are compiled beforehand, as they are where the tool is installed. `bench_planner` has the search alone beside scipy's
HiGHS.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from importlib.resources import as_file, files
from itertools import cycle
from pathlib import Path
from random import Random

from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.equipment_rows import save_equipment
from triptych.catalog.equipment_record import EquipmentRecord
from triptych.catalog.files.equipment_files import read_equipment
from triptych.catalog.files.loudspeakers import read_loudspeakers, write_loudspeakers
from triptych.catalog.records import LoudspeakerRecord, Role

_COMPILES = 10
"""The first catalogue is so small, and its run not told: it compiles all modules that a plan needs."""

CENT = Decimal("0.01")
PLAN = """
currency = "EUR"
limit = 7000
tax_included = true
tax_rate = 20
[want]
mains = 2
centre = 1
surrounds = 2
sub = 1
"""
RUNS = '[runs]\nmains = "4 m"\ncentre = "2 m"\nsurrounds = "9 m"\nsub = "5 m"\n'
LINES = """
[[line]]
role = "electronics"
price = 900
tax_included = true
[[line]]
role = "accessories"
price = 250
tax_included = true
"""


def varied(records: list[LoudspeakerRecord], count: int) -> Iterator[LoudspeakerRecord]:
    """So many a role: the seed's over and over, at other prices and with slightly other figures."""
    random = Random(7)
    for role in (Role.MAIN, Role.CENTRE, Role.SURROUND, Role.SUB):
        some = [record for record in records if role in record.roles]
        for number in range(count):
            record = some[number % len(some)]
            factor = Decimal(str(round(random.uniform(0.4, 2.5), 3)))
            yield replace(
                record,
                model=f"{record.model} {role.value} {number}",
                roles=type(record.roles)((role,)),
                maker=record.maker if number % 3 else f"{record.maker} {number % 50}",
                sensitivity=record.sensitivity and round(record.sensitivity + random.uniform(-2, 2), 1),
                price=record.price and (record.price * factor).quantize(Decimal("0.01")),
            )


def more_equipment(records: Sequence[EquipmentRecord], count: int) -> list[EquipmentRecord]:
    """So many pieces: the seed's over and over, at other prices."""
    random = Random(8)
    factors = (Decimal(str(round(random.uniform(0.4, 2.5), 3))) for _ in range(count))
    return [
        replace(
            one, model=f"{one.model} {number}", price=one.price and max(one.price * factor, Decimal(1)).quantize(CENT)
        )
        for number, (one, factor) in enumerate(zip(cycle(records), factors, strict=False))
    ]


def main() -> None:
    """Print a line a run."""
    parser = argparse.ArgumentParser(description="A whole plan, timed.")
    parser.add_argument("--sizes", type=int, nargs="*", default=[1000, 10_000])
    parser.add_argument("--equipment", type=int, default=0)
    parser.add_argument("--time-limit", type=float, default=60.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as compiled:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = compiled
        for size in (_COMPILES, *asked.sizes):
            _of_size(size, asked.equipment, asked.time_limit)


def _of_size(size: int, equipment: int, time_limit: float) -> None:
    with tempfile.TemporaryDirectory() as name, as_file(files("triptych.seed_data")) as seed:
        folder = Path(name)
        file, plan = folder / "shop.csv", folder / "plan.toml"
        plan.write_text(PLAN + (RUNS if equipment else LINES), encoding="utf-8")
        records = list(read_loudspeakers(seed / "loudspeakers.csv").records)
        write_loudspeakers(file, varied(records, size))
        for told, options in (("without profiles", ["--no-profiles"]), ("with profiles", [])):
            path = str(folder / f"{told}.db")
            engine = open_catalogue(path, quiet=True)
            with writing(engine) as session:
                save_equipment(session, more_equipment(read_equipment(seed / "equipment.csv").records, equipment))
            engine.dispose()
            ask = ["budget", "plan", str(plan), "--room", str(seed / "mill_house.toml"), "--db", path]
            ask += ["--format", "json", "--time-limit", str(time_limit)]
            runs = [(f"import {told}", ["speaker", "import", str(file), *options, "--db", path])]
            runs += [(f"first plan after an import {told}", ask), ("the same again", ask)]
            for words, command in runs:
                took = _run(command)
                if size != _COMPILES:
                    print(f"{size:6} a role  {took}  {words}", flush=True)


def _run(words: Sequence[str]) -> str:
    before, start = _cpu(), time.perf_counter()
    command = [sys.executable, "-c", "from triptych.recommender.cli import main; main()", *words]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    # the most of any run so far
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
    return f"{time.perf_counter() - start:6.1f} s, {_cpu() - before:5.1f} s of CPU, {most} MB"


def _cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
