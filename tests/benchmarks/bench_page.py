"""Pages for 1, 8 and 16 clients at once over a catalogue of so many, beside the same functions called, in one run.

Run it as `python -m tests.benchmarks.bench_page [COUNT] [ASKED] [KIND ...]`. Median and 95th percentile of each, in ms.
The clients are in a process of their own, as a browser is, each on a connection that it keeps, and ask again as soon
as they are answered; no two ask the same. What is worked out takes both cores of a small machine: with many clients
at once each waits for the others. What of the processor the server took for an answer stands at
the end of a line.
"""

from __future__ import annotations

import http.client
import multiprocessing
import random
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from importlib.resources import as_file, files
from itertools import count, cycle
from pathlib import Path
from urllib.parse import urlencode

from tests.benchmarks.bench_match import MAINS, varied
from tests.recommender.page.served import House, serving
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.reads import LoudspeakerFilter, loudspeaker, loudspeakers
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

BROWSER = {
    "Accept": "*/*",
    "Accept-Encoding": "gzip, deflate, br, zstd",
    "Accept-Language": "en-GB,en;q=0.9",
    "Sec-Fetch-Dest": "empty",
    "Sec-Fetch-Mode": "cors",
    "Sec-Fetch-Site": "same-origin",
    "User-Agent": "Mozilla/5.0 (X11; Linux x86_64)",
}
"""What a browser tells beside its cookie."""


def quantiles(times: list[float]) -> str:
    ordered = sorted(times)
    return f"{1e3 * statistics.median(ordered):7.1f} {1e3 * ordered[int(0.95 * (len(ordered) - 1))]:7.1f}"


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


def asked_by_browsers(port: int, cookie: str, asked: list[str], clients: int) -> list[float]:
    """How long each of some addresses took that so many browsers ask for, apart from the server's process [s]."""
    told = {"Host": f"127.0.0.1:{port}", "Cookie": cookie, "HX-Request": "true", **BROWSER}

    def browser(mine: list[str]) -> list[float]:
        link, times, here = http.client.HTTPConnection("127.0.0.1", port, timeout=240), [], "/"
        for one in mine:
            began = time.perf_counter()
            link.request("GET", one, headers={**told, "HX-Current-URL": f"http://127.0.0.1:{port}{here}"})
            answer = link.getresponse()
            body = answer.read()
            times.append(time.perf_counter() - began)
            assert answer.status == 200, f"{answer.status} at {one[:40]}"
            assert b"<svg" in body or "/room" not in one
            here = one
        link.close()
        return times

    with ThreadPoolExecutor(clients) as pool:
        return [one for times in pool.map(browser, [asked[n::clients] for n in range(clients)]) for one in times]


def kinds(opened: Catalogue) -> dict[str, tuple[Callable[[], object], Callable[[], str]]]:
    """What is asked: the function itself, and an address of its page, each another."""
    room = opened.room(ROOM)
    with reading(opened.engine) as session:
        mains = loudspeaker(session, MAINS)
    texts = texts_of(room)
    lengths = [path for path, text in texts.items() if re.fullmatch(r"-?[1-9]\d+ mm", text)]
    figures = cycle([*lengths, "amplifier.power", "money.centre"])
    caps, letters, apart = count(500), count(), count(2000)
    chance = random.Random(1)

    def found() -> object:
        with reading(opened.engine) as session:
            return loudspeakers(session, LoudspeakerFilter(role=Role.MAIN, text="tri", page_size=30))

    def rank() -> object:
        answer = opened.match(ROOM, MAINS, cap=float(next(caps)), first=20)
        return answer.ranked[:20], answer.pending[:8], answer.excluded[:8], len(answer.excluded)

    def draw() -> object:
        survey = surveyed(replace(room, mains=replace(room.mains, spacing=next(apart) / 1000)), mains)
        return survey.front and front(survey.front), plan(survey.plan)

    def typed() -> str:
        # one figure after the other is put right, as somebody does who goes through the form
        path = next(figures)
        texts[path] = re.sub(r"\d+", lambda found: str(int(found[0]) + 1), texts[path])
        return f"/room?{urlencode(texts)}"

    def weighed() -> dict[str, float]:
        return {name: round(chance.random(), 2) for name in DEFAULT_WEIGHTS}

    def weigh() -> object:
        answer = opened.match(ROOM, MAINS, weights=weighed(), first=20)
        return answer.ranked[:20], answer.pending[:8], answer.excluded[:8], len(answer.excluded)

    def centres(said: dict[str, str]) -> str:
        return f"/centres?{urlencode({'room': ROOM, 'mains': MAINS, **said})}"

    return {
        "mains by letters": (found, lambda: f"/mains?{urlencode({'q': ('tri', 'tow', 'ora')[next(letters) % 3]})}"),
        "another cap": (rank, lambda: centres({"cap": str(next(caps))})),
        "other weights": (weigh, lambda: centres({f"weight.{one}": str(value) for one, value in weighed().items()})),
        "room, each field": (draw, typed),
        "room, spacing": (draw, lambda: f"/room?{urlencode({**texts, 'mains.spacing': f'{next(apart)} mm'})}"),
    }


def measured(house: House, work: tuple[Callable[[], object], Callable[[], str]], clients: int, asked: int) -> str:
    """A line of the table: what is called, what is asked of the page, and what of the processor an answer took."""
    call, page = work
    direct = timed(call, clients, asked)
    addresses, cookie = [page() for _ in range(asked)], house.visitor.cookie
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as beside:
        beside.submit(asked_by_browsers, house.port, cookie, [page()], 1).result()  # it has begun
        took = time.process_time()
        served = beside.submit(asked_by_browsers, house.port, cookie, addresses, clients).result()
        took = time.process_time() - took
    ratio = statistics.median(served) / statistics.median(direct)
    return f"{quantiles(direct)}  {quantiles(served)}  {ratio:5.2f} times  {1e3 * took / asked:6.1f} CPU"


def main() -> None:
    words = sys.argv[1:]
    size, asked = (int(word) for word in (*words[:2], *("10000", "24")[len(words[:2]) :]))
    with tempfile.TemporaryDirectory() as folder:
        opened = filled(Path(folder) / "c.db", size)
        with serving(opened) as house:
            print(f"{size} loudspeakers, {asked} asked of each; ms: median and 95th percentile")
            print(f"{'':18} clients   called            page")
            for name, work in kinds(opened).items():
                for clients in CLIENTS if name in (words[2:] or (name,)) else ():
                    print(f"{name:18} {clients:7} {measured(house, work, clients, asked)}")
        opened.close()


if __name__ == "__main__":
    main()
