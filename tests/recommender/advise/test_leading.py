"""The first few come out as if everybody had been heard, and the others when somebody looks."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache
from importlib.resources import as_file, files
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from tests.benchmarks.bench_match import varied
from tests.conftest import example_count
from triptych.catalog.answers import Answers
from triptych.catalog.database import reads
from triptych.catalog.database.candidates import candidate_columns
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.profiles import save_profiles
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.recommender.advise import everybody, leading
from triptych.recommender.advise.aside import lost_aside
from triptych.recommender.advise.beside import options, options_of, ranking
from triptych.recommender.advise.catalogue import loudspeakers_of
from triptych.recommender.advise.evaluate import heard, placings
from triptych.recommender.advise.everybody import evaluate
from triptych.recommender.advise.match import Question, ask, match
from triptych.recommender.advise.placed import Centres, Placed, Scene
from triptych.recommender.advise.voices import Fresh, VoiceBook
from triptych.recommender.judge.criteria.definitions import CRITERIA
from triptych.recommender.judge.criteria.unsaid import modelled_middle
from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.arrays import IndexArray, Kin, Loading
from triptych.recommender.scene.hearing import Voices

pytestmark = pytest.mark.whole

MAINS = "Bramble Thatch Trivet Tower"
ROOMS = ("Mill House", "Sail Loft")


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """The seed with some hundred more centres of slightly other figures."""
    engine = open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seed") / "catalogue.db")))
    with as_file(files("triptych.seed_data")) as seed:
        records = list(read_loudspeakers(seed / "loudspeakers.csv").records)
    with writing(engine) as session:
        save_loudspeakers(session, list(varied(records, 300))[len(records) :])
        question = Question(MAINS, reads.room(session, ROOMS[0]), first=None)
        save_profiles(session, match(session, question)[1])
    return engine


def question_of(seeded: Engine, room: str, **changes: Any) -> Question:
    with reading(seeded) as session:
        return replace(Question(MAINS, reads.room(session, room)), **changes)


Heard = Callable[[str, float | None], tuple[Scene, list[tuple[Placed, Centres]]]]


@pytest.fixture(scope="module")
def everybody_heard(seeded: Engine) -> Iterator[Heard]:
    """Give the scene of a room and a cap, and everybody as they are heard there, which no weight changes."""
    with reading(seeded) as session:

        @cache
        def of(room: str, cap: float | None) -> tuple[Scene, list[tuple[Placed, Centres]]]:
            scene = ask(session, question_of(seeded, room, budget=cap, first=None)).scene
            return scene, evaluate(scene)

        yield of


some_weights = st.lists(st.floats(0.0, 1.0), min_size=len(CRITERIA), max_size=len(CRITERIA)).filter(any)


@pytest.mark.examples
@given(
    room=st.sampled_from(ROOMS),
    weights=st.none() | some_weights,
    cap=st.sampled_from([None, 150.0, 600.0]),
    wanted=st.sampled_from([1, 3, 8]),
    waiting=st.sampled_from([1, 3, 8]),
    worth=st.sampled_from([0, 1]),
)
@settings(deadline=None, max_examples=example_count(0.5))
def test_the_first_few_are_those_of_everybody(
    everybody_heard: Heard,
    room: str,
    weights: list[float] | None,
    cap: float | None,
    wanted: int,
    waiting: int,
    worth: int,
) -> None:
    scene, evaluated = everybody_heard(room, cap)
    if weights is not None:
        scene = replace(scene, weights={one.name: part for one, part in zip(CRITERIA, weights, strict=True)})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(leading, "WORTH_BOUNDING", worth)
        found = leading.leading_options(scene, wanted, waiting)
    some, everybody = ranking(found.options, scene), ranking(options_of(scene, evaluated), scene)
    for group, last in (("ranked", found.ranked), ("pending", found.waiting), ("excluded", None)):
        ours, theirs = getattr(some, group), getattr(everybody, group)
        np.testing.assert_array_equal(ours[:last], theirs[:last])
        np.testing.assert_array_equal(np.sort(ours), np.sort(theirs))
    first = np.concatenate([everybody.ranked[:wanted], everybody.pending[:waiting]])
    np.testing.assert_array_equal(some.best[first], everybody.best[first])
    np.testing.assert_array_equal(some.scores[:, first], everybody.scores[:, first])


@pytest.mark.parametrize("room", ROOMS)
def test_each_place_is_heard_as_if_it_were_the_only_one(seeded: Engine, room: str) -> None:
    with reading(seeded) as session:
        scene = ask(session, question_of(seeded, room, first=None)).scene
        # places differ in all that a place can say of a tilt
        limits = [np.nan, 0.0, 2.0, 5.0]
        places = [replace(one, tilt_limit=limits[number % 4]) for number, one in enumerate(scene.places)]
        scene = replace(scene, places=tuple(places))
        placed = placings(scene)
        together = options_of(scene, heard(scene, placed))
        compared = 0
        for one, ours in zip(placed, together, strict=True):
            (alone,) = options_of(scene, heard(scene, [one]))
            np.testing.assert_equal(told(ours), told(alone))
            compared += len(alone.kept)
    assert compared > 200


def test_where_nobody_passes_nobody_is_heard(seeded: Engine) -> None:
    with reading(seeded) as session, pytest.MonkeyPatch.context() as patch:
        patch.setattr(leading, "WORTH_BOUNDING", 0)
        scene = ask(session, question_of(seeded, "Mill House", first=None, budget=1.0)).scene
        # all of them one that costs too much, as some have no price and wait for it
        dear = ranking(options(scene), scene).excluded[:1].repeat(len(scene.boxes))
        scene = replace(scene, boxes=scene.boxes.take(dear), kin=scene.kin.take(dear), sealed=scene.sealed[dear])
        found = leading.leading_options(scene, 1, 1).options
    result = ranking(found, scene)
    assert len(result.ranked) == len(result.pending) == 0 < len(result.excluded)


def test_voices_that_were_kept_are_those_that_were_read(seeded: Engine) -> None:
    with reading(seeded) as session:
        catalogue = loudspeakers_of(candidate_columns(session))
        kept, rows = VoiceBook(session, catalogue), np.arange(0, 120, 3)
        kept.of(rows[:10][::-1])
        kept.of(rows[5:30])
        np.testing.assert_equal(told(kept.of(rows)), told(VoiceBook(session, catalogue).of(rows)))


def told(found: Any) -> Any:
    """All that is within a structure, by name."""
    if isinstance(found, list | tuple):
        return [told(one) for one in found]
    if is_dataclass(found):
        return {entry.name: told(getattr(found, entry.name)) for entry in fields(found)}
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_no_bound_is_below_what_a_candidate_scores(seeded: Engine, room: str) -> None:
    with reading(seeded) as session:
        scene = ask(session, question_of(seeded, room, first=None)).scene
        bounded = [leading._bounded(scene, one, leading.least_unlike(scene)) for one in placings(scene)]
        compared = 0
        for bound, option in zip(bounded, options(scene), strict=True):
            np.testing.assert_array_equal(bound.candidates, option.index[option.kept])
            assert (option.scores.score <= bound.most + leading.TOLD_EQUAL / 10).all()
            compared += len(bound.most)
    assert compared > 200


@pytest.mark.parametrize("room", ROOMS)
def test_what_was_not_heard_is_told_when_somebody_looks_even_after_the_catalogue_is_closed(
    seeded: Engine, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(leading, "WORTH_BOUNDING", 0)
    everybody, fresh = asked(seeded, question_of(seeded, room, first=None))
    with writing(seeded) as session:
        save_profiles(session, fresh)
    some, _ = asked(seeded, question_of(seeded, room))
    assert some == everybody


@pytest.mark.examples
@given(
    room=st.sampled_from(ROOMS),
    weights=st.none() | some_weights,
    cap=st.sampled_from([None, 1.0, 150.0, 600.0]),
    in_stock=st.booleans(),
    first=st.sampled_from([None, 2]),
)
@settings(deadline=None, max_examples=example_count(0.2))
def test_what_is_told_by_columns_is_what_the_records_tell(
    seeded: Engine, room: str, weights: list[float] | None, cap: float | None, in_stock: bool, first: int | None
) -> None:
    by_name = weights and {one.name: part for one, part in zip(CRITERIA, weights, strict=True)}
    question = question_of(seeded, room, budget=cap, weights=by_name, in_stock=in_stock, first=first)
    with reading(seeded) as session:
        answer, _ = match(session, question)
        # one at a time, as somebody looks at them
        looked_at = replace(answer, ranked=[*answer.ranked], pending=[*answer.pending], excluded=[*answer.excluded])
    assert "".join(Answers().json(answer)) == "".join(Answers().json(looked_at))
    assert len(looked_at.ranked) + len(looked_at.pending) + len(looked_at.excluded) > 200


def asked(seeded: Engine, question: Question) -> tuple[str, Fresh]:
    with reading(seeded) as session:
        answer, fresh = match(session, question)
    return "".join(Answers().json(answer)), fresh


@pytest.mark.parametrize("room", ROOMS)
def test_some_voices_at_a_time_give_what_all_at_once_do(
    seeded: Engine, room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    question = question_of(seeded, room, first=None)
    at_once, _ = asked(seeded, question)
    monkeypatch.setattr(everybody, "VOICED_TOGETHER", 40)
    most, voices_of = [0], VoiceBook.of

    def noted(book: VoiceBook, rows: IndexArray) -> Voices:
        most.append(len(rows))
        return voices_of(book, rows)

    monkeypatch.setattr(VoiceBook, "of", noted)
    assert asked(seeded, question)[0] == at_once
    assert 1 < max(most) <= 40


@pytest.mark.parametrize("room", ROOMS)
def test_no_seat_alone_loses_more_than_the_worst_one(seeded: Engine, room: str) -> None:
    with reading(seeded) as session:
        scene = ask(session, question_of(seeded, room, first=None)).scene
        placed = placings(scene)
        compared = 0
        for aside, (one, centres) in zip(lost_aside(scene, placed), heard(scene, placed), strict=True):
            told = np.isfinite(aside.lost)
            assert (aside.lost[told] <= centres.own[0].value[told] * (1 + 1e-6)).all()
            assert centres.dead[aside.dead].all()
            compared += int(told.sum())
            assert len(told) == len(one.kept)
    assert compared > 200


@pytest.mark.parametrize("loading", [Loading.UNKNOWN, Loading.DOME])
def test_what_is_raised_for_the_unsaid_rises_with_what_is_lost(loading: Loading) -> None:
    loss = np.geomspace(0.1, 40.0, 400)
    same = np.zeros(len(loss), dtype=np.int64)
    kin = Kin(same, same, same, np.full(len(loss), loading, dtype=np.int8))
    for unsaid in product([False, True], repeat=len(fields(Assumed))):
        flags = Assumed(*(np.full(len(loss), one) for one in unsaid))
        assert (np.diff(loss * modelled_middle(flags, kin, loss)) > 0).all(), unsaid


def test_few_are_heard_of_many(seeded: Engine) -> None:
    with reading(seeded) as session:
        scene = ask(session, question_of(seeded, "Mill House", first=None)).scene
        listened: set[int] = set()

        def voices_of(rows: IndexArray) -> Voices:
            listened.update(rows.tolist())
            return scene.voices_of(rows)

        leading.leading_options(replace(scene, voices_of=voices_of), 1, 1)
        everybody = np.unique(np.concatenate([one.index[one.kept] for one in options(scene)]))
    assert len(listened) < 0.7 * len(everybody)
