"""Hostile files for minutes: good ones with bad bytes, by the thousand, and what the worst of them took.

`python -m tests.benchmarks.bench_hostile 5000 7` tries five thousand from the seed 7 on.
"""

from __future__ import annotations

import contextlib
import io
import resource
import sys
import tempfile
from collections import Counter
from pathlib import Path
from time import perf_counter

from tests.catalog.hostile_files import RECORDS, dump, mutants, outcome
from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.writes import save_loudspeakers


def run(count: int, seed: int, folder: Path) -> None:
    """Import each file, and stop at one that changes the catalogue though it is refused, or changes it twice."""
    path = folder / "shop.db"
    engine = open_catalogue(str(path))
    with writing(engine) as session:
        save_loudspeakers(session, RECORDS)
    ends: Counter[str] = Counter()
    worst = 0.0
    for number, content in enumerate(mutants(count // 2, folder, seed)):
        file = folder / "file"
        file.write_bytes(content)
        before, began = dump(path), perf_counter()
        with contextlib.redirect_stderr(io.StringIO()):
            said = outcome(engine, file)
        worst = max(worst, perf_counter() - began)
        ends[said.partition(":")[0]] += 1
        with contextlib.redirect_stderr(io.StringIO()):
            again = outcome(engine, file) if said.startswith("taken") else "added=0, changed=0"
        kept = dump(path) == before or said.startswith("taken")
        if not kept or "added=0, changed=0" not in again:
            (folder.parent / "hostile").write_bytes(content)
            sys.exit(f"number {number}: {said}; again: {again}; the file is {folder.parent / 'hostile'}")
    engine.dispose()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{dict(ends)}, the longest {worst:.2f} s, at most {memory:.0f} MiB")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        count, seed = [*map(int, sys.argv[1:]), *(2000, 0)[len(sys.argv) - 1 :]]
        run(count, seed, Path(scratch))
