"""What would settle a ranking, and centres side by side."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import BAY, ROOM, STACKED, TOP, WIDE, ask, fill, record, standing
from triptych.catalog.database.engine import reading
from triptych.catalog.errors import BadInput
from triptych.catalog.files.rooms import room_from_toml
from triptych.recommender.advise.compare import Comparison, compare
from triptych.recommender.advise.match import Question

pytestmark = pytest.mark.whole


def side_by_side(engine: Engine, *models: str, places: str = TOP) -> Comparison:
    question = Question("Alder Croft Flint Tower", room_from_toml(ROOM + places, "test"))
    with reading(engine) as session:
        answer, _ = compare(session, question, [f"Alder Croft Flint {model}" for model in models])
    return answer


def test_chances_of_the_leading_add_up(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED))
    answer = ask(engine, TOP)
    chances = [entry.chances for entry in answer.ranked]
    assert all(chance is not None for chance in chances)
    assert sum(chance.first for chance in chances if chance) == pytest.approx(1.0)
    assert all(
        chance.low <= entry.score <= chance.high for entry, chance in zip(answer.ranked, chances, strict=True) if chance
    )


def test_a_pending_better_one_is_the_question_to_ask(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED, impedance_nominal="", impedance_minimum=""))
    best = ask(engine, TOP).questions[0]
    assert best.pending
    assert best.speaker == "Alder Croft Flint Stacked"
    assert "impedance" in best.question
    assert best.points > 5
    assert best.find


def test_close_rivals_of_unknown_sensitivity_make_it_the_question(engine: Engine) -> None:
    # the louder the target, the more the headroom of each decides
    rival = {**STACKED, "maker": "Hazel Yard", "series": "Flint", "family": "Alder Croft Flint"}
    loud = ROOM.replace("target_peak = 95", "target_peak = 93")
    fill(engine, record(STACKED), record(rival, sensitivity="88.5", sensitivity_basis="in_room"))
    questions = [one for one in ask(engine, TOP, room=loud).questions if not one.pending]
    assert "sensitivity" in {one.unknown for one in questions}
    assert all(0 <= one.changes <= 1 for one in questions)


def test_filling_in_an_unknown_narrows_the_interval(engine: Engine) -> None:
    loud = ROOM.replace("target_peak = 95", "target_peak = 93")
    fill(engine, record(STACKED, sensitivity_basis="in_room"))
    wide = standing(ask(engine, TOP, room=loud), "Stacked")
    fill(engine, record(STACKED, sensitivity="85", sensitivity_basis="anechoic"))
    narrow = standing(ask(engine, TOP, room=loud), "Stacked")
    assert wide.chances is not None
    assert narrow.chances is not None
    assert narrow.chances.high - narrow.chances.low < wide.chances.high - wide.chances.low
    assert narrow.confidence > wide.confidence


def test_the_first_place_falls_when_the_weight_of_coverage_goes(engine: Engine) -> None:
    # seats so near that none loses its speech, which no weight outweighs
    near = ROOM.replace("1.3 m", "0.4 m")
    fill(engine, record(WIDE, price="500"), record(STACKED, price="700"))
    survival = ask(engine, TOP, room=near).survival
    assert survival is not None
    assert survival.rival == "Alder Croft Flint Wide"
    assert 0 < survival.moved < 1
    assert survival.given_to == "balance"


def test_side_by_side_the_deciding_difference_is_marked(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED))
    answer = side_by_side(engine, "Wide", "Stacked")
    assert [entry.speaker.split()[-1] for entry in answer.standings] == ["Stacked", "Wide"]
    # a wide two-way beats with itself at the seats to the side, which coverage and timbre both hear
    assert {row.criterion for row in answer.differences[:2]} == {"coverage", "timbre"}
    assert answer.differences[0].decides
    first, second = answer.standings
    assert sum(row.points[1] for row in answer.differences) == pytest.approx(second.score - first.score, abs=1e-6)


def test_side_by_side_one_that_is_ruled_out_comes_last(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED, height="300"))
    answer = side_by_side(engine, "Stacked", "Wide", places=BAY)
    assert [entry.verdict for entry in answer.standings] == ["conditional", "fail"]


def test_one_centre_twice_is_no_comparison(engine: Engine) -> None:
    fill(engine, record(WIDE))
    with pytest.raises(BadInput, match="different"):
        side_by_side(engine, "Wide", "Wide")
