"""Pages for 1, 8 and 16 clients at once over a catalogue of so many, beside the same functions called, in one run.

Run it as `python -m tests.benchmarks.bench_page [COUNT] [ASKED]`. Median and 95th percentile of each, in ms. What is
worked out takes both cores of a small machine: with many clients at once each waits for the others.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import as_file, files
from itertools import count
from pathlib import Path

from tests.benchmarks.bench_match import MAINS, varied
from tests.recommender.page.served import Visitor, serving
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.reads import LoudspeakerFilter, loudspeakers
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.records import Role
from triptych.recommender.advise.surveying import surveyed
from triptych.recommender.api import Catalogue, open_catalogue
from triptych.recommender.drawing.floor_plan import plan
from triptych.recommender.drawing.front_elevation import front
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS
from triptych.recommender.page.room_form import texts_of

CLIENTS = (1, 8, 16)
ROOM = "Mill House"


def quantiles(times: list[float]) -> str:
    ordered = sorted(times)
    return f"{1e3 * statistics.median(ordered):7.0f} {1e3 * ordered[int(0.95 * (len(ordered) - 1))]:7.0f}"


def timed(work: Callable[[], object], clients: int, asked: int) -> list[float]:
    """How long each of so many calls took, so many at once [s]."""

    def once(_: int) -> float:
        began = time.perf_counter()
        work()
        return time.perf_counter() - began

    with ThreadPoolExecutor(clients) as pool:
        return list(pool.map(once, range(asked)))


def filled(path: Path, size: int) -> Catalogue:
    opened = open_catalogue(str(path), quiet=True)
    opened.import_demo()
    with as_file(files("triptych.seed_data")) as folder, writing(opened.engine) as session:
        records = list(read_loudspeakers(folder / "loudspeakers.csv").records)
        save_loudspeakers(session, list(varied(records, size))[len(records) :])
    opened.match(ROOM, MAINS)  # profiles are computed once
    return opened


def kinds(opened: Catalogue, visitor: Visitor) -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    """What is asked: the function itself, and its page."""
    room = opened.room(ROOM)
    texts = {**texts_of(room), "HX": ""}
    caps = count(500)

    def found() -> object:
        with reading(opened.engine) as session:
            return loudspeakers(session, LoudspeakerFilter(role=Role.MAIN, text="tri", page_size=30))

    def rank() -> object:
        answer = opened.match(ROOM, MAINS, cap=float(next(caps)), first=20)
        return answer.ranked[:20], answer.pending[:8], answer.excluded[:8], len(answer.excluded)

    def draw() -> object:
        survey = surveyed(room, None)
        return survey.front and front(survey.front), plan(survey.plan)

    def slide() -> object:
        asked = {"room": ROOM, "mains": MAINS, "cap": str(next(caps))}
        return visitor.get("/centres", asked, HX_Request="true").text

    chance = random.Random(1)

    def weighed() -> dict[str, float]:
        return {name: round(chance.random(), 2) for name in DEFAULT_WEIGHTS}

    def weigh() -> object:
        answer = opened.match(ROOM, MAINS, weights=weighed(), first=20)
        return answer.ranked[:20], answer.pending[:8], answer.excluded[:8], len(answer.excluded)

    def slide_weights() -> object:
        said = {f"weight.{name}": str(value) for name, value in weighed().items()}
        return visitor.get("/centres", {"room": ROOM, "mains": MAINS, **said}, HX_Request="true").text

    return {
        "mains by letters": (found, lambda: visitor.get("/mains", {"q": "tri"}, HX_Request="true")),
        "another cap": (rank, slide),
        "other weights": (weigh, slide_weights),
        "room drawn": (draw, lambda: visitor.get("/room", texts, HX_Request="true")),
    }


def main() -> None:
    size, asked = (int(word) for word in (*sys.argv[1:], *("10000", "24")[len(sys.argv) - 1 :]))
    with tempfile.TemporaryDirectory() as folder:
        opened = filled(Path(folder) / "c.db", size)
        with serving(opened) as house:
            print(f"{size} loudspeakers, {asked} asked of each; ms: median and 95th percentile")
            print(f"{'':18} clients   called            page")
            for name, (call, page) in kinds(opened, house.visitor).items():
                for clients in CLIENTS:
                    direct, served = (timed(work, clients, asked) for work in (call, page))
                    ratio = statistics.median(served) / statistics.median(direct)
                    print(f"{name:18} {clients:7} {quantiles(direct)}  {quantiles(served)}  {ratio:5.2f} times")
        opened.close()


if __name__ == "__main__":
    main()
