"""Many ask at once: as many are answered as there are processors, in the order in which they came."""

from __future__ import annotations

import http.client
import threading
import time

import anyio
import pytest

from tests.recommender.page.served import Visitor, serving
from triptych.catalog.errors import Refused
from triptych.recommender.advise.processors import processors
from triptych.recommender.api import Catalogue
from triptych.recommender.page import site
from triptych.recommender.page.asked import Visit
from triptych.recommender.page.rendering import moved
from triptych.recommender.page.turns import Busy, Turns


async def yes() -> bool:
    return True


async def no() -> bool:
    return False


def test_first_come_first_served_and_no_more_at_once() -> None:
    order, now, most = [], [0], [0]

    def work(number: int) -> None:
        now[0] += 1
        most[0] = max(most[0], now[0])
        order.append(number)
        time.sleep(0.01)
        now[0] -= 1

    async def crowd() -> None:
        turns = Turns(2)
        async with anyio.create_task_group() as group:
            for number in range(12):
                group.start_soon(turns.take, lambda number=number: work(number), yes)
                await anyio.sleep(0)

    anyio.run(crowd)
    # the two at work may swap
    assert all(abs(at - number) <= 1 for at, number in enumerate(order))
    assert most == [2]


def test_a_line_too_long_and_a_wait_too_long_are_told() -> None:
    done, held = [], threading.Event()

    async def crowd() -> None:
        turns = Turns(1, most_waiting=1, patience=0.1)
        async with anyio.create_task_group() as group:
            group.start_soon(turns.take, lambda: held.wait(20), yes)
            await anyio.sleep(0.02)

            async def waits() -> None:
                with pytest.raises(Busy, match="your turn didn't come"):
                    await turns.take(lambda: done.append(1), yes)
                held.set()

            group.start_soon(waits)
            await anyio.sleep(0.02)
            with pytest.raises(Busy, match="1 others wait for an answer already"):
                await turns.take(lambda: done.append(2), yes)
        assert await turns.take(lambda: "free again", yes) == "free again"

    anyio.run(crowd)
    assert not done


def test_what_nobody_wants_any_more_is_not_done_and_what_fails_frees_its_turn() -> None:
    async def alone() -> None:
        turns = Turns(1)
        assert await turns.take(lambda: 1 / 0, no) is None

        def refused() -> None:
            raise Refused("no")

        for _ in range(3):
            with pytest.raises(Refused):
                await turns.take(refused, yes)
        assert await turns.take(lambda: 7, yes) == 7

    anyio.run(alone)


@pytest.mark.whole
def test_a_room_is_drawn_while_all_processors_rank(read_catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    ranked, held = [], threading.Event()

    def ranks(asked: Visit) -> object:
        ranked.append(asked.word("cap"))
        held.wait(30)
        return moved("/")

    routes = tuple((path, how, ranks if path == "/centres" else work) for path, how, work in site.ROUTES)
    monkeypatch.setattr(site, "ROUTES", routes)
    with serving(read_catalogue) as house:
        visitor, asking = house.visitor, []
        for number in range(processors() + 1):
            asking.append(threading.Thread(target=visitor.get, args=("/centres", {"cap": str(number)})))
            asking[-1].start()
            _soon(lambda number=number: len(ranked) == min(number + 1, processors()))
        left = _asked_and_left(visitor)
        assert visitor.get("/room", {"room": "Mill House"}).status == 200
        held.set()
        for one in asking:
            one.join()
        assert visitor.get("/centres", {"cap": "last"}).status == 303
    assert "last" in ranked
    assert left not in ranked


def _asked_and_left(visitor: Visitor) -> str:
    """Ask for a ranking and go before it is there, as a slider does that is moved on."""
    link = http.client.HTTPConnection("127.0.0.1", visitor.port)
    link.request("GET", "/centres?cap=left", headers={"Host": visitor.own, "Cookie": visitor.cookie})
    time.sleep(0.2)
    link.close()
    time.sleep(0.2)
    return "left"


def _soon(true: object) -> None:
    end = time.monotonic() + 20
    while not true() and time.monotonic() < end:  # type: ignore[operator]
        time.sleep(0.01)
