"""How import, match, list, plan and stock grow with the catalogue, beside the engine's own time, on both engines.

    python -m tests.benchmarks.bench_growth [--sizes 1000 10000] [--engines sqlite postgresql]

Each job is a process of its own that calls what its command calls: CPU of the process and of its copies, user and
system; in brackets the CPU of the driver alone where it reads the same rows, or where `executemany` writes them into
one wide table; and the memory of one process at most. What a server takes in its own processes is in neither. `import`
is that of the rows, as with `--no-profiles`; `ready import` fills another catalogue and computes acoustic profiles too,
and `ready match` and `ready plan` are the first ones after it. A plan is of so many loudspeakers in all.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.resources import as_file, files
from itertools import islice
from pathlib import Path
from typing import Any

TABLES = ("loudspeaker", "loudspeaker_role", "driver", "crossover", "price")
SHOWN = {
    "list": "SELECT name_key, width, height, depth, enclosure FROM loudspeaker ORDER BY name_key",
    "stock": "SELECT * FROM holding; SELECT * FROM movement; SELECT name_key FROM loudspeaker",
}
UNITS = 200
"""So many kinds of units are received before the stock is looked at."""


def importing(url: str, folder: Path) -> None:
    """Import a file, as the command does, and leave out its profiles."""
    _command("speaker", "import", str(folder / "shop.csv"), "--no-profiles", "--db", url)


def importing_ready(url: str, folder: Path) -> None:
    """Import the same file with its profiles, as the command does unasked."""
    _command("speaker", "import", str(folder / "shop.csv"), "--db", url)


def _command(*words: str) -> None:
    from triptych.recommender.cli import main as command

    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    sys.argv = ["triptych", *words]
    command()


def wide(url: str, folder: Path) -> None:
    """Write the same cells into one wide table with pandas and the driver."""
    import pandas as pd

    table = pd.read_csv(folder / "shop.csv", dtype=str)
    rows = table.astype(object).where(table.notna(), None).to_numpy().tolist()
    with driver(url) as cursor:
        mark = "?" if url.startswith("sqlite") else "%s"
        cursor.execute(f"CREATE TEMPORARY TABLE wide ({', '.join(f'{name} text' for name in table.columns)})")
        cursor.executemany(f"INSERT INTO wide VALUES ({', '.join([mark] * len(table.columns))})", rows)


def matching(url: str, folder: Path) -> None:
    """Rank the centres of four places and five seats, and keep the profiles that had to be computed."""
    from tests.benchmarks.bench_match import MAINS, four_places
    from triptych.catalog.answers import Answers
    from triptych.catalog.database.engine import open_engine, reading, writing
    from triptych.catalog.database.profiles import save_profiles
    from triptych.catalog.files.rooms import read_room
    from triptych.recommender.advise.match import Question, match

    engine = open_engine(url)
    with as_file(files("triptych.seed_data")) as seed:
        question = Question(MAINS, four_places(read_room(seed / "mill_house.toml")))
    with reading(engine) as session:
        answer, fresh = match(session, question)
        _ = "".join(Answers().json(answer.ranked[:20]))
    if fresh:
        with writing(engine) as session:
            save_profiles(session, fresh)


def rows_of_match(url: str, folder: Path) -> None:
    """Read what a match is made of."""
    read(url, *(f"SELECT * FROM {table}" for table in TABLES))


def listing(url: str, folder: Path) -> None:
    """Show the first page of loudspeakers."""
    from triptych.catalog.database.direct import looked_at
    from triptych.catalog.database.listings import LoudspeakerFilter, loudspeakers_shown, number_of_loudspeakers

    wanted = LoudspeakerFilter(page_size=50)
    looked_at(url, lambda ask: (loudspeakers_shown(ask, wanted), number_of_loudspeakers(ask, wanted)))


def holding(url: str, folder: Path) -> None:
    """Show what there is."""
    from triptych.catalog.database.direct import looked_at
    from triptych.catalog.database.listings import holdings_shown

    assert len(looked_at(url, holdings_shown)) == UNITS


def receiving(url: str, folder: Path) -> None:
    """Receive the units that the stock is looked at with."""
    from triptych.catalog.database.engine import open_engine, reading
    from triptych.catalog.database.listings import LoudspeakerFilter
    from triptych.catalog.database.reads import loudspeakers
    from triptych.catalog.stock import desk
    from triptych.catalog.stock.desk import Request

    engine = open_engine(url)
    with reading(engine) as session:
        names = [record.name for record in loudspeakers(session, LoudspeakerFilter(page_size=UNITS))]
    for name in names:
        desk.receive(engine, Request(name, "shop", 2))


def planning(url: str, folder: Path) -> None:
    """Choose a whole system, as the command does."""
    from tests.benchmarks.bench_plan import LINES, PLAN

    (folder / "plan.toml").write_text(PLAN + LINES, encoding="utf-8")
    with as_file(files("triptych.seed_data")) as seed:
        asked = ["budget", "plan", str(folder / "plan.toml"), "--room", str(seed / "mill_house.toml"), "--db", url]
        _command(*asked, "--format", "json", "--time-limit", "60")


@contextmanager
def driver(url: str) -> Iterator[Any]:
    """Give a cursor of the driver alone; what it writes isn't kept."""
    import sqlite3

    if url.startswith("sqlite"):
        connection: Any = sqlite3.connect(url.removeprefix("sqlite:///"))
    else:
        import psycopg

        connection = psycopg.connect(url.replace("+psycopg", ""))
    try:
        yield connection.cursor()
    finally:
        connection.close()


def read(url: str, *statements: str) -> None:
    """Fetch all rows of some statements."""
    with driver(url) as cursor:
        for statement in statements:
            cursor.execute(statement)
            cursor.fetchall()


Work = Callable[[str, Path], None]
Jobs = Mapping[str, tuple[Work, Work | None]]

JOBS: Jobs = {
    "import": (importing, wide),
    "receive": (receiving, None),
    "first match": (matching, rows_of_match),
    "match": (matching, rows_of_match),
    "list": (listing, lambda url, _: read(url, *SHOWN["list"].split("; "))),
    "stock": (holding, lambda url, _: read(url, *SHOWN["stock"].split("; "))),
    "plan": (planning, rows_of_match),
}

READY: Jobs = {
    "ready import": (importing_ready, wide),
    "ready match": (matching, rows_of_match),
    "ready plan": (planning, rows_of_match),
}
"""What is done with a catalogue whose profiles came with the import."""


def once(job: str, beside: bool, url: str, folder: Path) -> None:
    """Do a job in this process and say what it took."""
    work = {**JOBS, **READY}[job][beside]
    assert work is not None
    start = _cpu()
    try:
        work(url, folder)
    except SystemExit as end:
        if end.code:
            raise
    most = max(resource.getrusage(whose).ru_maxrss for whose in WHOSE)
    print(json.dumps([_cpu() - start, most // 1024]), file=sys.stderr)


WHOSE = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)


def _cpu() -> float:
    """That of this process and of the copies it has waited for [s]."""
    return sum(used.ru_utime + used.ru_stime for used in map(resource.getrusage, WHOSE))


def measured(job: str, beside: bool, url: str, folder: Path) -> tuple[float, int]:
    """CPU [s] and memory [MB] of a job in a process of its own; modules are loaded within."""
    words = [sys.executable, "-m", "tests.benchmarks.bench_growth", "--job", job, "--url", url, "--folder", str(folder)]
    words += ["--beside"] if beside else []
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    took, memory = json.loads(done.stderr.splitlines()[-1])
    return float(took), int(memory)


def grown(engine: str, size: int, url: str, folder: Path, jobs: Jobs) -> None:
    """Print a line a job."""
    for job, (_, beside) in jobs.items():
        took, memory = measured(job, False, url, folder)
        bare = f"{measured(job, True, url, folder)[0]:8.2f}" if beside else " " * 8
        print(f"| {engine} | {size:7} | {job:12} | {took:8.2f} | {bare} | {memory:5} |", flush=True)


@contextmanager
def catalogues(engine: str, folder: Path) -> Iterator[str]:
    """Give the URL of an empty database."""
    if engine == "sqlite":
        with tempfile.TemporaryDirectory(dir=folder) as own:
            yield f"sqlite:///{own}/growth.db"
        return
    from tests.databases import any_server, beside, on_server

    name = f"growth_{os.getpid()}_{time.monotonic_ns()}"
    with contextmanager(any_server)() as server:
        on_server(server, f"CREATE DATABASE {name}")
        try:
            yield beside(server, name)
        finally:
            on_server(server, f"DROP DATABASE {name} WITH (FORCE)")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Growth, measured.")
    parser.add_argument("--sizes", type=int, nargs="*", default=[1000, 10_000, 100_000])
    parser.add_argument("--engines", nargs="*", default=["sqlite", "postgresql"])
    parser.add_argument("--job")
    parser.add_argument("--beside", action="store_true")
    parser.add_argument("--url", default="")
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    if asked.job:
        once(asked.job, asked.beside, asked.url, asked.folder)
        return
    from tests.benchmarks.bench_match import varied
    from triptych.catalog.files.loudspeakers import read_loudspeakers, write_loudspeakers

    print(
        "| engine | loudspeakers | job | CPU [s] | driver alone [s] | memory [MB] |",
        "| --- | --- | --- | --- | --- | --- |",
        sep="\n",
    )
    for size in asked.sizes:
        with tempfile.TemporaryDirectory() as name, as_file(files("triptych.seed_data")) as seed:
            folder = Path(name)
            records = list(read_loudspeakers(seed / "loudspeakers.csv").records)
            write_loudspeakers(folder / "shop.csv", list(islice(varied(records, size), size)))
            for engine in asked.engines:
                for jobs in (JOBS, READY):
                    with catalogues(engine, folder) as url:
                        grown(engine, size, url, folder, jobs)


if __name__ == "__main__":
    main()
