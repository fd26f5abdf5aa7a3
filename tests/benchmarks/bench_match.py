"""`match` over 10,000 loudspeakers, 4 places and 5 seats, beside plain reads of the same rows with sqlite3, in one run.

Run it as `python -m tests.benchmarks.bench_match [COUNT]`.
"""

from __future__ import annotations

import cProfile
import os
import pstats
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from importlib.resources import as_file, files
from pathlib import Path
from random import Random

from triptych.catalog.answer_columns import ByColumns
from triptych.catalog.answers import Answers
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.profiles import save_profiles
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.files.rooms import read_room, toml_of
from triptych.catalog.records import LoudspeakerRecord, Place, PlaceKind, Role, RoomRecord
from triptych.recommender.advise.advice import Advice
from triptych.recommender.advise.match import Question, match

MAINS = "Bramble Thatch Trivet Tower"
ROUNDS = 5
TABLES = ("loudspeaker", "loudspeaker_role", "driver", "crossover", "price")


def varied(records: list[LoudspeakerRecord], count: int) -> Iterator[LoudspeakerRecord]:
    """The seed loudspeakers, then their centres over and over, each time with slightly other figures."""
    random = Random(2026)
    yield from records
    centres = [record for record in records if Role.CENTRE in record.roles]
    for number in range(len(records), count):
        record = centres[number % len(centres)]
        factor = random.uniform(0.9, 1.1)
        price = record.price and (record.price * Decimal(str(round(factor, 3)))).quantize(Decimal("0.01"))
        yield replace(
            record,
            model=f"{record.model} {number}",
            width=record.width and round(record.width * max(factor, 1.0), 4),
            depth=record.depth and round(record.depth * max(factor, 1.0), 4),
            sensitivity=record.sensitivity and round(record.sensitivity + random.uniform(-2, 2), 1),
            price=price,
        )


def four_places(room: RoomRecord) -> RoomRecord:
    """The seed room with a stand as its fourth place and everyone in view as a candidate."""
    stand = Place("stand", PlaceKind.STAND, base=0.3, front=0.6)
    return replace(room, places=(*room.places, stand))


def best_of(work: Callable[[], object]) -> float:
    """The least CPU time of some rounds [s]: what the machine does besides counts less than on a clock."""
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def plain_read(path: str, profiles: bool) -> int:
    """All rows that a match reads, as tuples."""
    connection = sqlite3.connect(path)
    tables = (*TABLES, "acoustic_profile") if profiles else TABLES
    count = sum(len(connection.execute(f"SELECT * FROM {table}").fetchall()) for table in tables)
    connection.close()
    return count


def command(path: str, room: str, *more: str) -> tuple[float, float]:
    """The least time on the clock and of all processors that the command takes to rank everybody as JSON [s]."""
    run = "from triptych.recommender.cli import main; main()"
    asked = [sys.executable, "-c", run, "match", "--db", path, "--mains", MAINS, "--room", room]
    found = []
    for _ in range(ROUNDS):
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        subprocess.run([*asked, "--format", "json", *more], stdout=subprocess.DEVNULL, check=True)
        took, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append((took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    return min(took for took, _ in found), min(cpu for _, cpu in found)


def told_apart(judged: Callable[[], Advice]) -> None:
    """Print what telling everybody takes on one processor: columns of records, and the text made of them."""
    advice, allowed = judged(), os.sched_getaffinity(0)
    groups = (advice.ranked, advice.pending, advice.excluded)
    os.sched_setaffinity(0, {min(allowed)})
    try:
        judging = best_of(judged)
        built = best_of(lambda: [list(one.by_columns(lambda _: "")) for one in groups if isinstance(one, ByColumns)])
        told = best_of(lambda: [None for _ in Answers().json(advice)])
    finally:
        os.sched_setaffinity(0, allowed)
    print(f"on one processor: judged {judging:.2f} s, columns {built:.2f} s, their text {told - built:.2f} s")
    print(f"  from judged to written, {sum(map(len, groups)):,} entries: {told:.2f} s")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder, as_file(files("triptych.seed_data")) as seed:
        path = str(Path(folder) / "bench.db")
        engine = open_catalogue(path)
        records = list(varied(list(read_loudspeakers(seed / "loudspeakers.csv").records), count))
        start = time.perf_counter()
        with writing(engine) as session:
            save_loudspeakers(session, records)
        print(f"stored {count} loudspeakers in {time.perf_counter() - start:.1f} s")
        question = Question(MAINS, four_places(read_room(seed / "mill_house.toml")))

        start = time.perf_counter()
        with reading(engine) as session:
            _, fresh = match(session, replace(question, first=None))
        first = time.perf_counter() - start
        with writing(engine) as session:
            save_profiles(session, fresh)
        print(f"first match, computing {len(fresh)} profiles: {first:.2f} s")

        def ask() -> None:
            with reading(engine) as session:
                answer, fresh = match(session, question)
                assert not fresh
                _ = "".join(Answers().json(answer.ranked[:20]))

        def ask_all() -> None:
            with reading(engine) as session:
                for _ in Answers().json(match(session, replace(question, first=None))[0]):
                    pass

        def judged() -> Advice:
            with reading(engine) as session:
                return match(session, replace(question, first=None))[0]

        told_apart(judged)
        rows = best_of(lambda: plain_read(path, profiles=False))
        everything = best_of(lambda: plain_read(path, profiles=True))
        asked = best_of(ask)
        whole = best_of(ask_all)
        print(f"sqlite3, the same rows:            {rows * 1e3:8.1f} ms")
        print(f"sqlite3, with the stored profiles: {everything * 1e3:8.1f} ms")
        print(f"match, first 20 accounted for:     {asked * 1e3:8.1f} ms  {asked / count * 1e6:6.1f} us a candidate")
        print(f"match, everything as JSON:         {whole * 1e3:8.1f} ms  {whole / count * 1e6:6.1f} us a candidate")
        print(f"ratio match / the same rows:       {asked / rows:8.2f}   with profiles {asked / everything:.2f}")
        room_file = Path(folder) / "room.toml"
        room_file.write_text(toml_of(question.room), encoding="utf-8")
        some, everybody = command(path, str(room_file), "--top", "1"), command(path, str(room_file))
        print(f"the command, all judged, one told: {some[0]:8.2f} s, {some[1]:.2f} s of CPU")
        print(f"the command, everybody as JSON:    {everybody[0]:8.2f} s, {everybody[1]:.2f} s of CPU")
        told = [one - other for one, other in zip(everybody, some, strict=True)]
        print(f"so to tell everybody in JSON:      {told[0]:8.2f} s, {told[1]:.2f} s of CPU")
        print(f"memory at most: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB")
        if "--profile" in sys.argv:
            profiler = cProfile.Profile()
            profiler.runcall(ask)
            pstats.Stats(profiler).sort_stats("cumulative").print_stats(35)


if __name__ == "__main__":
    main()
