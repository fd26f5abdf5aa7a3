"""What is kept from one question for the next: the same answers to the last digit, and nothing that has changed."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from triptych.catalog.database import reads, stock_levels, writes
from triptych.catalog.database.edits import edit_loudspeaker
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.reads import LoudspeakerFilter, loudspeakers
from triptych.catalog.errors import NotFound
from triptych.catalog.files.room_edits import edited_room
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.recommender.advise import evaluate
from triptych.recommender.advise import match as matching
from triptych.recommender.advise.match import Question
from triptych.recommender.advise.memory import CATALOGUES, QUESTIONS, Memory
from triptych.recommender.advise.placed import Placed, Scene
from triptych.recommender.api import Catalogue, open_catalogue
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

pytestmark = pytest.mark.whole

FIRST = "Bramble Thatch Trivet Stacked Centre"
FEW = 3
"""So few are asked for that of the seed's catalogue, too, not all are heard."""


@pytest.fixture
def opened(seeded_template: Path, tmp_path: Path) -> Iterator[Catalogue]:
    with open_catalogue(str(shutil.copy(seeded_template, tmp_path / "c.db"))) as found:
        yield found


@pytest.fixture
def memory(opened: Catalogue) -> Iterator[Memory]:
    found = Memory(opened.engine)
    yield found
    found.close()


def told(opened: Catalogue, question: Question, memory: Memory | None = None) -> str:
    """All that is said of a question, every number of it."""
    found = opened.answer(lambda session: matching.match(session, question, memory))
    counts = len(found.ranked), len(found.pending), len(found.excluded)
    groups = [*found.ranked[:FEW], *found.pending[:FEW], *found.excluded[:FEW]]
    return repr((counts, groups, found.advice, found.cautions, found.questions, found.survival, found.otherwise))


def both(opened: Catalogue, question: Question, memory: Memory) -> str:
    """The answer, which is that without a memory."""
    found = told(opened, question, memory)
    assert found == told(opened, question)
    return found


def asked(opened: Catalogue, room: str = "Mill House", **options: object) -> Question:
    return replace(opened.question(room, **options), first=FEW)  # type: ignore[arg-type]


def heard(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many were heard in a place at each time that anybody was."""
    counts: list[int] = []
    real = evaluate.listened

    def counted(scene: Scene, placed: list[Placed], known: evaluate.Voiced) -> list[evaluate.Free]:
        counts.append(sum(len(one.kept) for one in placed))
        return real(scene, placed, known)

    monkeypatch.setattr(evaluate, "listened", counted)
    return counts


def test_sliders_answer_as_a_question_by_itself(
    opened: Catalogue, memory: Memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance, answers = random.Random(5), set()
    opened.match("Mill House")
    counts = heard(monkeypatch)
    first = told(opened, asked(opened), memory)
    whole = sum(counts)
    assert whole
    counts.clear()
    assert told(opened, asked(opened), memory) == first
    assert not counts
    for _ in range(8):
        weights = {name: chance.random() for name in DEFAULT_WEIGHTS}
        counts.clear()
        answers.add(found := told(opened, asked(opened, weights=weights), memory))
        assert sum(counts) < whole
        assert found == told(opened, asked(opened, weights=weights))
    assert len(answers) == 8


def test_other_questions_of_one_catalogue(opened: Catalogue, memory: Memory) -> None:
    answers = {both(opened, asked(opened), memory)}
    for options in ({"cap": 500.0}, {"in_stock": True}, {"surround_price": 150.0}, {"cap": 500.0, "currency": "USD"}):
        answers.add(both(opened, asked(opened, **options), memory))
    louder = edited_room(opened.room("Mill House"), {"listening.target_peak": "103"})
    answers.add(both(opened, replace(asked(opened), room=louder), memory))
    assert len(answers) >= 5


CHANGES: dict[str, Callable[[Catalogue], object]] = {}


def change(made: Callable[[Catalogue], object]) -> Callable[[Catalogue], object]:
    CHANGES[made.__name__] = made
    return made


@change
def figure(opened: Catalogue) -> None:
    with writing(opened.engine) as session:
        edit_loudspeaker(session, FIRST, {"sensitivity": "80 dB"}, None)


@change
def price(opened: Catalogue) -> None:
    with writing(opened.engine) as session:
        edit_loudspeaker(session, FIRST, {"price": "9000", "currency": "EUR"}, None)


@change
def retired(opened: Catalogue) -> None:
    with writing(opened.engine) as session:
        edit_loudspeaker(session, FIRST, {"status": "discontinued"}, None)


@change
def room(opened: Catalogue) -> None:
    with writing(opened.engine) as session:
        writes.save_room(session, edited_room(opened.room("Mill House"), {"listening.target_peak": "104"}))


@change
def elsewhere(opened: Catalogue) -> None:
    """By a second connection, as a command in another terminal does it."""
    with open_catalogue(str(opened.engine.url.database)) as other, writing(other.engine) as session:
        edit_loudspeaker(session, FIRST, {"height": "500 mm"}, None)


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_is_seen_at_once(opened: Catalogue, memory: Memory, name: str) -> None:
    before = both(opened, asked(opened), memory)
    CHANGES[name](opened)
    assert both(opened, asked(opened), memory) != before


def test_a_loudspeaker_is_as_it_is_now(opened: Catalogue, memory: Memory) -> None:
    def known() -> LoudspeakerRecord:
        with reading(opened.engine) as session:
            found = memory.loudspeaker(FIRST)
            assert found == reads.loudspeaker(session, FIRST)
        return found

    before = known()
    assert known() is before
    figure(opened)
    assert known() != before
    with pytest.raises(NotFound):
        memory.loudspeaker("Nobody's")


def stocked(opened: Catalogue) -> None:
    desk.receive(opened.engine, Request(model=FIRST, location="Shop", quantity=1), [])


def test_stock_is_that_of_now(opened: Catalogue, memory: Memory) -> None:
    stocked(opened)
    question = asked(opened, in_stock=True)
    before = both(opened, question, memory)
    desk.reserve(opened.engine, Request(model=FIRST, location="Shop", quantity=1, job="Blake"), None)
    promised = both(opened, question, memory)
    assert promised != before
    desk.release(opened.engine, Request(model=FIRST, location="Shop", quantity=1, job="Blake"))
    assert both(opened, question, memory) == before


def test_a_reservation_that_ends_is_no_write(
    opened: Catalogue, memory: Memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    stocked(opened)
    desk.reserve(opened.engine, Request(model=FIRST, location="Shop", quantity=1, job="Blake"), None)
    question = asked(opened, in_stock=True)
    before = both(opened, question, memory)
    later = datetime.now(UTC) + timedelta(days=30)
    monkeypatch.setattr(stock_levels, "moment", lambda day=None: later)
    assert both(opened, question, memory) != before


def test_what_is_kept_is_bounded(opened: Catalogue, memory: Memory) -> None:
    with reading(opened.engine) as session:
        mains = [one.name for one in loudspeakers(session, LoudspeakerFilter(role=Role.MAIN))][: CATALOGUES + 2]
    for name in mains:
        both(opened, replace(asked(opened), mains=name), memory)
    assert len(memory._known) <= CATALOGUES
    for cap in range(QUESTIONS + 3):
        both(opened, asked(opened, cap=500.0 + cap), memory)
    assert all(len(kept._ears) <= QUESTIONS for kept in memory._known.values())
